"""Consistency of tubes that grow on their way: each path by itself, and with its collector."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from headergen.model import Draft, SpecPath, Step, Straight, Tube
from headergen.spec.alike import noun_of
from headergen.spec.complaint import Trouble
from headergen.spec.draft import growths_in, plain_steps
from headergen.spec.growth import growth_faults
from headergen.spec.models import PrimaryEntry, RunEntry, SecondaryEntry
from headergen.spec.plain import entry_of, mapping_in
from headergen.spec.run_tubes import Ways, first_tube, last_tube, ways_in
from headergen.spec.units import Unit, length_text

SIZES = 2  # of the bores of one collector
LONG = 1000.0  # mm of straight between steps whose path is not known yet


def stepped_troubles(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Every inconsistency of steps to larger tubes in the plain values of a spec."""
    ways = ways_in(data, unit)
    if ways is None:
        return
    for key in ("primaries", "secondaries"):
        for name, raw in mapping_in(data, key).items():
            source = int(name) if key == "primaries" and name.isdecimal() else name.strip()
            entry, tube = ways.runs.get(source), first_tube(ways, source)
            if entry is None or tube is None:
                continue
            place: SpecPath = (key, name, *(("path",) if isinstance(raw, dict) else ()))
            yield from _of_path(place, plain_steps(entry.path or ()), (tube, unit or "mm"))
            yield from _to_be_found((key, name), entry, (tube, unit or "mm"))
    yield from _of_branches(data, ways.tube, unit)
    yield from _at_collectors(data, ways, unit or "mm")


def _of_branches(data: dict[str, Any], tube: Tube, unit: Unit | None) -> Iterator[Trouble]:
    """The paths of runs that leave another run's side; `tube`: that of the header."""
    for name, raw in mapping_in(data, "runs").items():
        entry = entry_of(RunEntry, raw, unit)
        if entry is not None and entry.leaves is not None:
            first = tube if entry.tube is None else noun_of(Tube, entry.tube, material=tube.material)
            yield from _of_path(("runs", name, "path"), plain_steps(entry.path or ()), (first, unit or "mm"))


def _of_path(place: SpecPath, steps: tuple[Step, ...], of: tuple[Tube, Unit]) -> Iterator[Trouble]:
    for fault in growth_faults(steps, *of):
        yield Trouble((*place, fault.step - 1, "step", *((fault.key,) if fault.key else ())), fault.message, fault.hint)


def _to_be_found(place: SpecPath, entry: PrimaryEntry | SecondaryEntry, of: tuple[Tube, Unit]) -> Iterator[Trouble]:
    """Steps that a path to be found must have: as if each stood between straights, and one place after the other."""
    growths = growths_in(entry) if entry.steps is not None else ()
    between = tuple(step for each in growths for step in (Straight(LONG), each))
    for fault in growth_faults((*between, Straight(LONG)) if growths else (), *of):
        at = (fault.step - 2) // 2
        yield Trouble((*place, "steps", at, *((fault.key,) if fault.key else ())), fault.message, fault.hint)
    for number, (one, other) in enumerate(pairwise(entry.steps or ()), 1):
        if one.at is not None and other.at is not None and other.at.max < one.at.min:
            message = "this step must be farther from the start of the run than the one before it"
            yield Trouble((*place, "steps", number, "at"), message, "list the steps in the order from start to end")


def _at_collectors(data: dict[str, Any], ways: Ways, unit: Unit) -> Iterator[Trouble]:
    """The tubes of a collector arrive with two sizes at most."""
    for name, raw in mapping_in(data, "collectors").items():
        bores = raw.get("bores") if isinstance(raw, dict) else None
        sources = [each for each in bores or () if isinstance(each, int | str) and not isinstance(each, bool)]
        ends = ((source, last_tube(ways, source)) for source in (_own(each) for each in sources))
        known = [(source, tube) for source, tube in ends if tube is not None]
        sizes = {tube: source for source, tube in reversed(known)}  # of each size, the first run that has it
        if len(sizes) > SIZES:
            listed = ", ".join(f"{_called(sizes[tube])} with {_size(tube, unit)}" for tube in reversed(sizes))
            message = f"the tubes that go into {name} arrive with {len(sizes)} sizes: {listed}"
            hint = f"the bores of a collector are of {SIZES} sizes at most: let its tubes grow to these"
            yield Trouble(("collectors", name, "bores"), message, hint)


def _own(source: int | str) -> int | str:
    """What a bore's entry says: a port's number, also as text, or the name of a collector."""
    text = str(source).strip()
    return int(text) if text.isdecimal() else text


def _called(source: int | str) -> str:
    return f"primary {source}" if isinstance(source, int) else f"the outlet of {source}"


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
