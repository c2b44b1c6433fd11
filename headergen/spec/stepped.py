"""Consistency of stepped primaries: each path by itself, and with its collector."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from headergen.model import Draft, Growth, SpecPath, Step, Straight, Tube
from headergen.spec.alike import noun_of
from headergen.spec.complaint import Trouble
from headergen.spec.draft import growths_in, plain_steps
from headergen.spec.growth import growth_faults
from headergen.spec.models import PrimaryEntry, TubeEntry
from headergen.spec.plain import entry_of, mapping_in
from headergen.spec.units import Unit, length_text

SIZES = 2  # of the bores of one collector
LONG = 1000.0  # mm of straight between steps whose path is not known yet


def stepped_troubles(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Every inconsistency of steps to larger tubes in the plain values of a spec."""
    yield from _in_secondaries(data)
    entry = entry_of(TubeEntry, data.get("tube"), unit)
    if entry is None:
        return
    of = noun_of(Tube, entry), unit or "mm"
    for number, raw, primary in _primaries(data, unit):
        place: SpecPath = ("primaries", number, *(("path",) if isinstance(raw, dict) else ()))
        yield from _of_path(place, plain_steps(primary.path or ()), of)
        yield from _to_be_found(("primaries", number), primary, of)
    yield from _at_collectors(data, last_tubes_in(data, unit), unit or "mm")


def last_tubes_in(data: dict[str, Any], unit: Unit | None) -> dict[str, Tube]:
    """The tube at the end of each primary that can be read, by its number."""
    entry = entry_of(TubeEntry, data.get("tube"), unit)
    if entry is None:
        return {}
    tube = noun_of(Tube, entry)
    return {
        number: tube_after(growths_in(each) or plain_steps(each.path or ()), tube)
        for number, _, each in _primaries(data, unit)
    }


def _primaries(data: dict[str, Any], unit: Unit | None) -> Iterator[tuple[str, Any, PrimaryEntry]]:
    for number, raw in mapping_in(data, "primaries").items():
        primary = entry_of(PrimaryEntry, raw, unit)
        if primary is not None:
            yield number, raw, primary


def _of_path(place: SpecPath, steps: tuple[Step, ...], of: tuple[Tube, Unit]) -> Iterator[Trouble]:
    for fault in growth_faults(steps, *of):
        yield Trouble((*place, fault.step - 1, "step", *((fault.key,) if fault.key else ())), fault.message, fault.hint)


def _to_be_found(place: SpecPath, primary: PrimaryEntry, of: tuple[Tube, Unit]) -> Iterator[Trouble]:
    """Steps that a path to be found must have: as if each stood between straights, and one place after the other."""
    asked = growths_in(primary) if primary.steps is not None else ()
    between = tuple(step for each in asked for step in (Straight(LONG), each))
    for fault in growth_faults((*between, Straight(LONG)) if asked else (), *of):
        at = (fault.step - 2) // 2
        yield Trouble((*place, "steps", at, *((fault.key,) if fault.key else ())), fault.message, fault.hint)
    for number, (one, other) in enumerate(pairwise(primary.steps or ()), 1):
        if one.at is not None and other.at is not None and other.at.max < one.at.min:
            message = "this step must be nearer to the port than the one before it"
            yield Trouble((*place, "steps", number, "at"), message, "list the steps in the order from port to bore")


def tube_after(steps: tuple[Step, ...], tube: Tube) -> Tube:
    """The tube at the end of a path that begins with `tube`."""
    grown: list[Growth] = [s.growth for s in steps if isinstance(s, Straight) and s.growth is not None]
    return Tube(grown[-1].outside_diameter, grown[-1].wall, tube.material) if grown else tube


def _in_secondaries(data: dict[str, Any]) -> Iterator[Trouble]:
    for name, raw in mapping_in(data, "secondaries").items():
        at, path = (("path",), raw.get("path")) if isinstance(raw, dict) else ((), raw)
        for index, step in enumerate(path if isinstance(path, list) else []):
            if isinstance(step, dict) and "step" in step:
                message = "a secondary has one size from end to end: only primaries are stepped"
                hint = "end the collector before it wider"
                yield Trouble(("secondaries", name, *at, index, "step"), message, hint)


def _at_collectors(data: dict[str, Any], ends: dict[str, Tube], unit: Unit) -> Iterator[Trouble]:
    """The primaries of a collector arrive with two sizes at most."""
    for name, raw in mapping_in(data, "collectors").items():
        bores = raw.get("bores") if isinstance(raw, dict) else None
        known = [(str(each), ends[str(each)]) for each in bores or () if str(each) in ends]
        sizes = {tube: primary for primary, tube in reversed(known)}  # of each size, the first primary that has it
        if len(sizes) > SIZES:
            listed = ", ".join(f"primary {sizes[tube]} with {_size(tube, unit)}" for tube in reversed(sizes))
            message = f"the primaries that go into {name} arrive with tubes of {len(sizes)} sizes: {listed}"
            hint = f"the bores of a collector are of {SIZES} sizes at most: step its primaries to these"
            yield Trouble(("collectors", name, "bores"), message, hint)


def _size(tube: Tube, unit: Unit) -> str:
    return f"{length_text(tube.outside_diameter, unit)} × {length_text(tube.wall, unit)}"


def changed_primary_fault(draft: Draft) -> tuple[int, str] | None:
    """Of another bank's draft: the first primary whose steps do not suit its tube or its collector, and why."""
    collectors = {each.name: each for each in draft.collectors}
    for run in draft.primaries:
        if run.to_find and not run.grows and collectors[run.end.collector].arriving is not None:
            return run.number, "it is to be found without a step, and its collector takes a larger tube"
        if run.to_find:
            continue
        fault = next(growth_faults(run.steps, run.tube, draft.units), None)
        if fault is not None:
            return run.number, f"step {fault.step}: {fault.message}"
        arriving, end = run.end.tube or collectors[run.end.collector].arriving or draft.tube, run.tubes[-1]
        if (end.outside_diameter, end.wall) != (arriving.outside_diameter, arriving.wall):
            said = _size(end, draft.units), _size(arriving, draft.units)
            return run.number, f"it arrives with a tube of {said[0]}, and its bore takes {said[1]}"
    return None
