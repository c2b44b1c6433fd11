"""Consistency of stepped primaries: each path by itself, and with its collector."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from headergen.model import Draft, Growth, SpecPath, Step, Straight, Tube
from headergen.spec.alike import noun_of
from headergen.spec.complaint import Trouble
from headergen.spec.draft import plain_steps
from headergen.spec.growth import growth_faults
from headergen.spec.models import PrimaryEntry, TubeEntry
from headergen.spec.plain import entry_of, mapping_in
from headergen.spec.units import Unit, length_text

SIZES = 2  # of the bores of one collector
OPEN = "write its path with the step, values marked fit included, or leave the step out of the guess"


def stepped_troubles(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Every inconsistency of steps to larger tubes in the plain values of a spec."""
    yield from _in_secondaries(data)
    entry = entry_of(TubeEntry, data.get("tube"), unit)
    if entry is None:
        return
    of = noun_of(Tube, entry), unit or "mm"
    for number, raw, primary in _primaries(data, unit):
        place: SpecPath = ("primaries", number, *(("path",) if isinstance(raw, dict) else ()))
        yield from _of_path(place, bool(primary.find), plain_steps(primary.path or ()), of)
    yield from _at_collectors(data, last_tubes_in(data, unit), unit or "mm")


def last_tubes_in(data: dict[str, Any], unit: Unit | None) -> dict[str, Tube]:
    """The tube at the end of each primary that can be read, by its number."""
    entry = entry_of(TubeEntry, data.get("tube"), unit)
    if entry is None:
        return {}
    tube = noun_of(Tube, entry)
    return {number: tube_after(plain_steps(each.path or ()), tube) for number, _, each in _primaries(data, unit)}


def _primaries(data: dict[str, Any], unit: Unit | None) -> Iterator[tuple[str, Any, PrimaryEntry]]:
    for number, raw in mapping_in(data, "primaries").items():
        primary = entry_of(PrimaryEntry, raw, unit)
        if primary is not None:
            yield number, raw, primary


def _of_path(place: SpecPath, find: bool, steps: tuple[Step, ...], of: tuple[Tube, Unit]) -> Iterator[Trouble]:
    if find and (grown := _growths(steps)):
        message = "the search does not place steps to larger tubes, so a primary to be found cannot have one"
        yield Trouble((*place, grown[0] - 1, "step"), message, OPEN)
        return
    for fault in growth_faults(steps, *of):
        yield Trouble((*place, fault.step - 1, "step", *((fault.key,) if fault.key else ())), fault.message, fault.hint)


def _growths(steps: tuple[Step, ...]) -> list[int]:
    """The numbers of the steps, from 1, in which the tube grows."""
    return [number for number, step in enumerate(steps, 1) if isinstance(step, Straight) and step.growth is not None]


def tube_after(steps: tuple[Step, ...], tube: Tube) -> Tube:
    """The tube at the end of a path that begins with `tube`."""
    grown: list[Growth] = [s.growth for s in steps if isinstance(s, Straight) and s.growth is not None]
    return Tube(grown[-1].outside_diameter, grown[-1].wall, tube.material) if grown else tube


def _in_secondaries(data: dict[str, Any]) -> Iterator[Trouble]:
    for name, path in mapping_in(data, "secondaries").items():
        for index, step in enumerate(path if isinstance(path, list) else []):
            if isinstance(step, dict) and "step" in step:
                message = "a secondary has one size from end to end: only primaries are stepped"
                yield Trouble(("secondaries", name, index, "step"), message, "end the collector before it wider")


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
        if run.to_find and (_growths(run.steps) or collectors[run.end.collector].arriving is not None):
            return run.number, "it is to be found, and the search does not place steps to larger tubes"
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
