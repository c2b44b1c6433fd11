"""Consistency of flanges: each port in one flange, each primary at a port, and no two plates in one place."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Any

from headergen.geometry.distance.convex import Convex
from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.distance.two_convex import gap_to_convex
from headergen.geometry.plate.flange import plate_of
from headergen.model import Flange, SpecPath, Tube, flange_name
from headergen.spec.complaint import Trouble
from headergen.spec.draft import flange_of, with_tubes
from headergen.spec.ends import FlangeEntry
from headergen.spec.plain import entry_of, listed, mapping_in, numbers_in
from headergen.spec.run_tubes import own_tubes, ways_in
from headergen.spec.units import Unit, length_text

TOUCHING = 1e-6  # mm that plates edge to edge may overlap by rounding


def flange_troubles(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Every inconsistency of the flanges in the plain values of a spec."""
    if "flange" in data and "flanges" in data:  # reported elsewhere
        return
    yield from _names(data)
    yield from _ports_and_primaries(data)
    yield from _heads(data)
    yield from _plates_apart(data, unit)


def flanges_in(data: dict[str, Any], unit: Unit | None) -> list[FlangeEntry]:
    """The flanges that can be read on their own."""
    return [entry for _, _, raw in _raw(data) if (entry := entry_of(FlangeEntry, raw, unit)) is not None]


def _raw(data: dict[str, Any]) -> Iterator[tuple[str, SpecPath, Any]]:
    """Name, place and plain values of each flange; the short form has an empty name."""
    if "flange" in data:
        yield "", ("flange",), data["flange"]
    for name, raw in mapping_in(data, "flanges").items():
        yield name.strip(), ("flanges", name), raw


def _names(data: dict[str, Any]) -> Iterator[Trouble]:
    first: dict[str, str] = {}
    for name, path, _ in _raw(data):
        known = first.setdefault(name.casefold(), name)
        if known is not name:
            message = f"flanges {known} and {name} differ in no letter but large and small ones"
            yield Trouble(path, message, "findings and files name them: give each a name of its own", on_key=True)


def _ports_and_primaries(data: dict[str, Any]) -> Iterator[Trouble]:
    """Each port must be in one flange, and have its primary."""
    primaries, taken = numbers_in(mapping_in(data, "primaries")), dict[str, str]()
    for name, path, raw in _raw(data):
        for number in numbers_in(mapping_in(raw, "ports")):
            at: SpecPath = (*path, "ports", number)
            if number in taken:
                message = f"port {number} is in two flanges: here and in {flange_name(taken[number])}"
                hint = "number the ports through the whole header, as the primaries are"
                yield Trouble(at, message, hint, on_key=True)
            elif primaries and number not in primaries:
                yield Trouble(at, f"port {number} has no primary: none has the number {number}", on_key=True)
            taken.setdefault(number, name)
    entries = [mapping_in(raw, "ports") for _, _, raw in _raw(data)]
    readable = all(entries) and sum(map(len, entries)) == len(taken)  # else a port's number is in doubt
    for number in primaries if taken and readable else ():
        if number not in taken:
            have = "the flange has" if "flange" in data else "the flanges have"
            message = f"primary {number} has no port: {have} {listed(('port', 'ports'), list(taken))}"
            yield Trouble(("primaries", number), message, on_key=True)


def _heads(data: dict[str, Any]) -> Iterator[Trouble]:
    """What a chassis item names as seated on it must exist."""
    names = [name for name, _, _ in _raw(data) if name]
    items = data.get("chassis")
    for index, item in enumerate(items if isinstance(items, list) else []):
        said = item.get("flanges") if isinstance(item, dict) else None
        for place, name in enumerate(said if isinstance(said, list) else []):
            if isinstance(name, str) and name.strip() not in names:
                known = f"the flanges are {', '.join(names)}" if names else "the only one here has no name: take it out"
                path: SpecPath = ("chassis", index, "flanges", place)
                yield Trouble(path, f"no flange is called {name.strip()}", known)


def _plates_apart(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """No two plates may share metal."""
    ways = ways_in(data, unit)
    entries = [(name, path, entry_of(FlangeEntry, raw, unit)) for name, path, raw in _raw(data)]
    if ways is None or unit is None or len(entries) < 2:
        return
    own = own_tubes(ways)
    flanges = [(path, with_tubes(flange_of(name, entry), own)) for name, path, entry in entries if entry]
    made = [(path, _solid(flange, ways.tube)) for path, flange in flanges]
    for (one, first), (other, second) in combinations(made, 2):
        depth = -gap_to_convex(first, second).value
        if depth > TOUCHING:
            message = (
                f"the plates of flanges {one[-1]} and {other[-1]} run into each other, "
                f"{length_text(round(depth, 2), unit)} deep"
            )
            hint = "check both planes and the places in them; ports on one face that share a plate are one flange"
            yield Trouble((*other, "plane"), message, hint, on_key=True)


def _solid(flange: Flange, tube: Tube) -> Convex:
    """A plate with its holes filled."""
    plate = plate_of(flange, tube)
    return extruded_solid(plate.outline, flange.frame, plate.thickness)
