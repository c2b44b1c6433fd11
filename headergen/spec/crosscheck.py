"""Consistency of a spec: numbers, names, bores, and points with their ports.

These checks work on the plain values, so that they report even if other parts of the file are wrong. They read what
they need of another part on their own, and report nothing if that fails.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations
from typing import Any

from headergen.geometry.curves.centreline import PointsError
from headergen.geometry.frames import angle_between, norm, subtract
from headergen.model import Frame, SpecPath
from headergen.spec.as_built import as_built_troubles
from headergen.spec.bores import bore_places
from headergen.spec.complaint import Trouble
from headergen.spec.draft import port_frame, steps_of
from headergen.spec.ends import CollectorEntry
from headergen.spec.flanges import flange_troubles, flanges_in
from headergen.spec.models import FITTED, LimitsEntry, PrimaryEntry
from headergen.spec.plain import entry_of, listed, mapping_in, numbers_in
from headergen.spec.routing import move_troubles, shelf_troubles
from headergen.spec.run_tubes import last_tube, ways_in, widest
from headergen.spec.runs import led_back, run_troubles, without_runs
from headergen.spec.secondaries import secondary_troubles
from headergen.spec.sides import side_troubles
from headergen.spec.stepped import stepped_troubles
from headergen.spec.units import MILLIMETRES, Unit, length_text

ROUNDING = 1e-6  # mm


def cross_troubles(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Every inconsistency in the plain values of a spec."""
    yield from run_troubles(data)
    yield from side_troubles(data)
    yield from move_troubles(data)
    yield from shelf_troubles(data)
    yield from led_back(data, _troubles(without_runs(data), unit))


def _troubles(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Those that runs have like other tubes."""
    yield from flange_troubles(data, unit)
    yield from _bores_and_primaries(data)
    yield from secondary_troubles(data)
    yield from stepped_troubles(data, unit)
    yield from _names(data)
    yield from _bores_apart(data, unit)
    yield from _points(data, unit)
    yield from _parallels(data, unit)
    for each in FITTED:
        yield from each.troubles(data)
    yield from _mock_joints(data)
    yield from _route(data)
    yield from as_built_troubles(data)


def mirror_troubles(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Every inconsistency in the plain values of the other bank's spec alone."""
    yield from _names(data)
    yield from _parallels(data, unit)


def _there(primaries: list[str]) -> str:
    return f"there {'is' if len(primaries) == 1 else 'are'} {listed(('primary', 'primaries'), primaries)}"


def _bores_and_primaries(data: dict[str, Any]) -> Iterator[Trouble]:
    """Each primary must have exactly one bore."""
    primaries = numbers_in(mapping_in(data, "primaries"))
    taken: dict[str, str] = {}
    readable = bool(mapping_in(data, "collectors")) and bool(primaries)
    for collector, entry in mapping_in(data, "collectors").items():
        bores = entry.get("bores") if isinstance(entry, dict) else None
        bores = bores if isinstance(bores, list) else [None]
        readable &= all(type(number) in (int, str) for number in bores)
        for index, primary in ((index, str(number)) for index, number in enumerate(bores) if type(number) is int):
            path: SpecPath = ("collectors", collector, "bores", index)
            bore = f"bore {index + 1} of collector {collector}"
            if primary in taken:
                yield Trouble(path, f"primary {primary} is in two bores: here and in {taken[primary]}")
            elif primary not in primaries and primaries:
                yield Trouble(path, f"there is no primary {primary}", _there(primaries))
            taken[primary] = bore
    for primary in primaries if readable else []:
        if primary not in taken:
            message = f"primary {primary} has no bore: no collector lists it under bores"
            yield Trouble(("primaries", primary), message, on_key=True)


def _names(data: dict[str, Any]) -> Iterator[Trouble]:
    items = data.get("chassis")
    first: dict[str, int] = {}
    for index, item in enumerate(items if isinstance(items, list) else []):
        name = item.get("name") if isinstance(item, dict) else None
        if not isinstance(name, str):
            continue
        known = first.setdefault(name.strip().casefold(), index)
        if known != index:
            message = f"item {known + 1} is called {name.strip()} as well"
            yield Trouble(("chassis", index, "name"), message, "findings name the items: give it a name of its own")


def _bores_apart(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Two bores must be at least a tube diameter apart; where they are of two sizes, half of each."""
    ways = ways_in(data, unit)
    for name, raw in mapping_in(data, "collectors").items():
        entry = entry_of(CollectorEntry, raw, unit)
        if entry is None or ways is None or unit is None:
            continue
        tubes = [last_tube(ways, source) or ways.tube for source in entry.bores]
        wide = [tube.outside_diameter for tube in tubes]
        places = bore_places(entry, widest(tubes))
        pairs = ((math.dist(places[a], places[b]), a, b) for a, b in combinations(range(len(places)), 2))
        lacking = ((apart - (wide[a] + wide[b]) / 2 * _across(entry), apart, a, b) for apart, a, b in pairs)
        least, apart, a, b = min(lacking, default=(math.inf, math.inf, 0, 0))
        if least < -ROUNDING:
            said = length_text(wide[a], unit)
            said += "" if wide[a] == wide[b] else f" and {length_text(wide[b], unit)}"
            message = (
                f"bores {a + 1} and {b + 1} are {length_text(apart, unit)} apart, middle to middle, but the tubes "
                f"are {said} wide"
            )
            yield Trouble(("collectors", name, "pitch" if entry.pitch is not None else "pattern"), message)


def _across(entry: CollectorEntry) -> float:
    """How far leaning tubes may converge where they end in the plane, as a share of their width."""
    return math.cos(math.radians(entry.lean or 0.0))


def _points(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """Points must start at the port, along it, and leave room for their bends."""
    flanges = flanges_in(data, unit)
    limits = entry_of(LimitsEntry, data.get("limits", {}), unit)
    for number, raw in mapping_in(data, "primaries").items():
        entry = entry_of(PrimaryEntry, raw, unit)
        held = next((each for each in flanges if number.isdecimal() and int(number) in each.ports), None)
        if entry is None or entry.points is None or held is None or limits is None:
            continue
        try:
            start = port_frame(held, held.ports[int(number)])
            steps_of(entry, start)
        except PointsError as error:
            said = error.message.format(*(_rounded(length, unit or "mm") for length in error.lengths))
            yield Trouble(("primaries", number, "points", error.corner - 1), said)
        else:
            yield from _start_of_points((number, unit or "mm"), entry, start, limits)


def _rounded(millimetres: float, unit: Unit) -> str:
    """A computed length, to 0.01 mm or 0.001 in."""
    return f"{round(millimetres / MILLIMETRES[unit], 3 if unit == 'in' else 2):g} {unit}"


def _start_of_points(
    whose: tuple[str, Unit], entry: PrimaryEntry, start: Frame, limits: LimitsEntry
) -> Iterator[Trouble]:
    """`whose`: the primary's number, and the unit of the file."""
    number, unit = whose
    first, second = (entry.points or [])[:2]
    path: SpecPath = ("primaries", number, "points")
    off = norm(subtract(first, start.origin))
    if off > limits.end_position:
        x, y, z = (each / MILLIMETRES[unit] for each in start.origin)
        away, allowed = (_rounded(each, unit) for each in (off, limits.end_position))
        hint = f"the port is at [{x:.4g}, {y:.4g}, {z:.4g}] {unit}"
        if norm(subtract((entry.points or [])[-1], start.origin)) <= limits.end_position:
            hint = "the last point is at the port: list them the other way round, from port to bore"
        yield Trouble(
            (*path, 0), f"the first point is {away} from the middle of port {number}; {allowed} allowed", hint
        )
    lean = math.degrees(angle_between(subtract(second, first), start.z))
    if lean > limits.end_angle:
        yield Trouble(
            (*path, 1),
            f"the first leg leaves port {number} at {lean:.1f} degrees to the port; {limits.end_angle:g} are allowed",
            "does the normal of the flange point out of the head?" if lean > 150 else "",
        )


def _parallels(data: dict[str, Any], unit: Unit | None) -> Iterator[Trouble]:
    """A step that is parallel to a line must be a straight, and the line must exist."""
    lines = list(mapping_in(data, "lines"))
    for number, raw in mapping_in(data, "primaries").items():
        entry = entry_of(PrimaryEntry, raw, unit)
        for index, parallel in enumerate(entry.parallel_to if entry is not None else ()):
            path: SpecPath = ("primaries", number, "parallel_to", index)
            steps = entry.path if entry is not None else None
            if steps is None:
                yield Trouble(path, "parallel_to counts the steps of a path, and this primary has points")
            elif parallel.step > len(steps) or steps[parallel.step - 1].straight is None:
                yield Trouble((*path, "step"), f"step {parallel.step} of this path is not a straight")
            if parallel.line not in lines:
                known = f"the lines are {', '.join(lines)}" if lines else "name it under lines: {from: […], to: […]}"
                yield Trouble((*path, "line"), f"no line is called {parallel.line}", known)


def _mock_joints(data: dict[str, Any]) -> Iterator[Trouble]:
    """A joint named in the mock section must be of a tube that there is.

    How many joints it has is decided by the plan of the bench; the mock's sheet names a joint that is not there.
    """
    mock = mapping_in(data, "mock")
    for key in ("without_key", "steel_after"):
        listed = mock.get(key)
        for index, joint in enumerate(listed if isinstance(listed, list) else []):
            if isinstance(joint, dict):
                yield from _no_tube(("mock", key, index), joint, data)


def _no_tube(path: SpecPath, entry: dict[str, Any], data: dict[str, Any]) -> Iterator[Trouble]:
    number, name = entry.get("primary"), entry.get("secondary")
    primaries, secondaries = mapping_in(data, "primaries"), mapping_in(data, "secondaries")
    if type(number) is int and primaries and str(number) not in primaries:
        yield Trouble((*path, "primary"), f"there is no primary {number}", _there(numbers_in(primaries)))
    if number is None and isinstance(name, str) and name.strip() not in [str(each).strip() for each in secondaries]:
        known = f"there is {', '.join(map(str, secondaries))}" if secondaries else "this header has none"
        yield Trouble((*path, "secondary"), f"there is no secondary {name}", known)


def _route(data: dict[str, Any]) -> Iterator[Trouble]:
    """A length to be found excludes a target; every primary must fire once."""
    route, primaries = mapping_in(data, "route"), numbers_in(mapping_in(data, "primaries"))
    if "length" in route and "target" in mapping_in(data, "length"):
        yield Trouble(("route", "length"), "length has a target already", "keep one of them")
    order = route.get("firing_order")
    for index, number in enumerate(order if isinstance(order, list) else []):
        if type(number) is int and primaries and str(number) not in primaries:
            message = f"there is no primary {number}"
            yield Trouble(("route", "firing_order", index), message, _there(primaries))
    if isinstance(order, list) and route.get("bores") == "firing order":
        missing = [number for number in primaries if number not in [str(each) for each in order]]
        if missing:
            yield Trouble(("route", "firing_order"), f"primary {missing[0]} is missing in the firing order")
