"""The tube with which each run of a spec begins, and the one with which it ends.

A primary begins with its own `tube`, or with that of the header; what comes from a collector begins with its outlet.
Each ends with the last size that it grows to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from headergen.model import Tube
from headergen.spec.alike import noun_of
from headergen.spec.ends import CollectorEntry
from headergen.spec.models import PrimaryEntry, SecondaryEntry, SpecFile, TubeEntry
from headergen.spec.plain import entry_of, mapping_in
from headergen.spec.units import Unit


@dataclass(frozen=True)
class Ways:
    """What tubes depend on: the header's own, the collectors by name, and what is said of each run by its start."""

    tube: Tube
    collectors: Mapping[str, CollectorEntry]
    runs: Mapping[int | str, PrimaryEntry | SecondaryEntry]


def ways_of(spec: SpecFile) -> Ways:
    """Those of a spec."""
    runs: dict[int | str, PrimaryEntry | SecondaryEntry] = dict(spec.primaries.items())
    runs.update(spec.secondaries.items())
    return Ways(noun_of(Tube, spec.tube), spec.collectors, runs)


def ways_in(data: dict[str, Any], unit: Unit | None) -> Ways | None:
    """Those of the plain values of a spec, as far as they can be read; None without a tube."""
    tube = entry_of(TubeEntry, data.get("tube"), unit)
    if tube is None:
        return None
    collectors = {
        name.strip(): entry
        for name, raw in mapping_in(data, "collectors").items()
        if (entry := entry_of(CollectorEntry, raw, unit)) is not None
    }
    runs: dict[int | str, PrimaryEntry | SecondaryEntry] = {}
    for number, raw in mapping_in(data, "primaries").items():
        primary = entry_of(PrimaryEntry, raw, unit)
        if primary is not None and number.isdecimal():
            runs[int(number)] = primary
    for name, raw in mapping_in(data, "secondaries").items():
        secondary = entry_of(SecondaryEntry, raw, unit)
        if secondary is not None:
            runs[name.strip()] = secondary
    return Ways(noun_of(Tube, tube), collectors, runs)


def first_tube(ways: Ways, source: int | str, before: frozenset[str] = frozenset()) -> Tube | None:
    """The tube with which the run from a port or an outlet begins; None if that cannot be known.

    `before`: the collectors that the question came through, so that a circle of them ends it.
    """
    if isinstance(source, int):
        entry = ways.runs.get(source)
        own = entry.tube if isinstance(entry, PrimaryEntry) else None
        return None if entry is None else ways.tube if own is None else noun_of(Tube, own, material=ways.tube.material)
    collector = ways.collectors.get(source)
    wide = None if collector is None else collector.outlet_to or collector.outlet
    if collector is None or wide is None or source in before:
        return None
    if collector.wall is not None:
        return Tube(wide, collector.wall, ways.tube.material)
    arriving = [last_tube(ways, each, before | {source}) for each in collector.bores]
    known = [tube for tube in arriving if tube is not None]
    return Tube(wide, widest(known).wall, ways.tube.material) if len(known) == len(arriving) > 0 else None


def last_tube(ways: Ways, source: int | str, before: frozenset[str] = frozenset()) -> Tube | None:
    """The tube that the run from a port or an outlet brings to its bore; None as for `first_tube`."""
    first, entry = first_tube(ways, source, before), ways.runs.get(source)
    if first is None or entry is None:
        return first
    sizes = entry.steps or [step.step for step in entry.path or () if step.step is not None]
    return noun_of(Tube, sizes[-1], material=first.material) if sizes else first


def own_tubes(ways: Ways) -> dict[int, Tube]:
    """The tubes that stand on ports and are not that of the header, by the number of the port."""
    firsts = ((number, first_tube(ways, number)) for number in ways.runs if isinstance(number, int))
    return {number: tube for number, tube in firsts if tube is not None and tube != ways.tube}


def tubes_in(ways: Ways, name: str) -> tuple[Tube, ...]:
    """The tube that goes into each bore of a collector; that of the header where it cannot be known."""
    return tuple(last_tube(ways, source) or ways.tube for source in ways.collectors[name].bores)


def widest(tubes: Sequence[Tube]) -> Tube:
    """The widest of several tubes; of equal ones, the one with the thickest wall."""
    return max(tubes, key=lambda tube: (tube.outside_diameter, tube.wall))


__all__ = ["Ways", "first_tube", "last_tube", "own_tubes", "tubes_in", "ways_in", "ways_of", "widest"]
