"""Why there is no answer, in numbers: what no search could change is found before searching.

Only conditions at a port, at a bore or at a collector, and the straight-line bound, are proof; a search without result
is reported as just that. What would help, such as an item left out, is tried in `relaxations.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from headergen.checks.measure import Meshes, survey
from headergen.checks.rules.bends import bends_out_of_range
from headergen.checks.rules.parts_clear import parts_clear
from headergen.geometry.curves.centreline import PointsError
from headergen.geometry.frames import add, frame_from_normal, norm, scaled, subtract
from headergen.model import Centreline, Draft, Gap, Header, Line, Run, Straight, Survey
from headergen.model.finding import Finding, Level
from headergen.solve.route.answer import accept, not_known, with_paths
from headergen.solve.route.layout import Layout, seen, steps_of_tube
from headergen.solve.route.problem import (
    RouteProblem,
    assignments_of,
    least_first,
    least_last,
    least_length,
    length_range,
    line_bound,
    runs_to_find,
)
from headergen.solve.route.search import SearchState
from headergen.words.numbers import INCH
from headergen.words.say import say_at_least, say_length, say_runs, say_tries, shown_length

SHORTEST_END = 2.0  # mm of tube measured at a port or bore where no straight is required
TOUCHING = 1e-6
NEAREST = 8  # tries that are looked at closely
FEW_TRIES = 20  # with fewer, that nothing was found says next to nothing
SAME_AS_PRINTED = 1e-3  # mm: less than any figure shows
MOST_ITEMS = 5  # in the way: each that is opened costs a search


def what_forbids_it(draft: Draft, meshes: Meshes, known: tuple[Finding, ...] = ()) -> tuple[Finding, ...]:
    """Errors that rule out every path: bores without an order, ends inside a clearance, a length below the bound."""
    runs = runs_to_find(draft)
    if next(assignments_of(draft, runs), None) is None:
        message = (
            "The pulses cannot go round each collector in firing order while primaries with a path keep their bores; "
            "write bores: free, or mark those primaries find too."
        )
        return (Finding("route-order", "error", "route", None, None, "", message),)
    blocked = not_known([run.name for run in runs], _ends_in_the_way(draft, meshes, runs), known)
    return (*blocked, *_too_short(draft, runs))


def _too_short(draft: Draft, runs: tuple[Run, ...]) -> Iterator[Finding]:
    units, (_, longest), bound = draft.units, length_range(draft), least_length(draft)
    if bound <= longest + TOUCHING:
        return
    worst = max(runs, key=lambda p: line_bound(draft, p, p.end))
    begins = "port" if worst.is_primary else "outlet"
    yield Finding(
        rule="route-length",
        level="error",
        where=worst.name,
        value=shown_length(bound, units),
        limit=shown_length(longest, units),
        unit=units,
        message=(
            f"No equal length of {say_length(longest, units)} or less reaches this collector: the straight-line bound "
            f"(straight out of the {begins}, straight across, straight into the bore) is "
            f"{say_length(bound, units)}, that of {worst.name}; raise the length by "
            f"{say_at_least(bound - longest, units)} or more, or bring the collector nearer."
        ),
    )


def _ends_in_the_way(draft: Draft, meshes: Meshes, runs: tuple[Run, ...]) -> Iterator[Finding]:
    """The first and the last straight that every path has, and the collectors' bodies, by the exact measures."""
    at_ports = _stubs(draft, runs, at_bore=False)
    first = survey(at_ports, meshes, twice=False)
    yield from parts_clear(first)
    yield from _said(first, draft, "port")
    held = replace(draft, chassis=tuple(replace(item, free_from_flange=0.0) for item in draft.chassis))
    yield from _said(survey(_stubs(held, runs, at_bore=True), meshes, twice=False), draft, "bore")


def _stubs(draft: Draft, runs: tuple[Run, ...], at_bore: bool) -> Header:
    primaries, lines = [], []
    for primary in runs:
        least = least_last(draft, primary.end) if at_bore else least_first(draft, primary)
        size = max(least, SHORTEST_END)
        tube = primary.tubes[-1 if at_bore else 0]
        primaries.append(replace(primary, tube=tube, grows=(), steps=(Straight(size),)))
        frame = primary.end.frame if at_bore else primary.start.frame
        start = add(frame.origin, scaled(frame.z, -size if at_bore else 0.0))
        lines.append(Centreline(primary.name, (Line(1, start, frame.z, frame.x, size),)))
    return Header(draft, tuple(primaries), tuple(lines))


def _said(measured: Survey, draft: Draft, end: str) -> Iterator[Finding]:
    units = draft.units
    for gap in measured.gaps:
        if not gap.is_too_small or (end == "bore" and gap.is_between_runs and draft.limits.together > 0):
            continue
        value, required, short = (
            say_length(size, units) for size in (abs(gap.value), gap.required, gap.required - gap.value)
        )
        other = f"that of {gap.b}" if gap.is_between_runs else gap.b
        where = f"{value} from {other}" if gap.value >= 0 else f"{value} deep in {other}"
        yield _of_gap(
            gap,
            "route-end",
            "error",
            f"The straight that {gap.a} must have at its {end} is {where}; {required} required. No path can change "
            f"that: move {_to_be_moved(gap, end)} by {short} or more, or require less there.",
            units,
        )


def _to_be_moved(gap: Gap, end: str) -> str:
    if gap.is_between_runs:
        return f"the {end}s apart"
    return f"the collector or the {gap.b}" if end == "bore" else f"the {gap.b}"


def _of_gap(gap: Gap, rule: str, level: Level, message: str, units: str) -> Finding:
    value, required = shown_length(gap.value, units), shown_length(gap.required, units)
    return Finding(rule, level, gap.a, value, required, units, message, gap.points[1], gap.b)


def none_found(problem: RouteProblem, found: SearchState) -> tuple[Finding, ...]:
    """The report of a search without result: its tries, the range of lengths, and the hardest place."""
    rounds = found.rounds
    draft, units = problem.draft, problem.draft.units
    bound = least_length(draft)
    longest = problem.want.longest
    finite = longest if math.isfinite(longest) else bound
    if rounds == 0:
        message = "No time was left to look for paths; give it more --seconds."
        return (Finding("route-none", "error", "route", 0.0, None, "tries", message),)
    few = f"So few tries prove nothing: only {rounds} made. Give it more --seconds first, or a less busy machine. "
    message = (
        f"{few if rounds < FEW_TRIES else ''}"
        f"No paths that meet every requirement were found in {say_tries(rounds)}. This does not prove that there are "
        f"none: more --seconds or another --seed may find some. The straight-line bound is {say_length(bound, units)}; "
        f"the longest length allowed is {say_length(finite, units)}."
    )
    said = Finding("route-none", "error", "route", float(rounds), None, "tries", message)
    return (said, *_hardest(problem, found))


def between(problem: RouteProblem) -> Iterator[Finding]:
    """Items across the straight line from port to bore, which every path has to go round."""
    draft, units = problem.draft, problem.draft.units
    chassis = tuple(replace(item, free_from_flange=0.0) for item in draft.chassis if item.role == "obstacle")
    across = survey(_straight_ways(replace(draft, chassis=chassis), problem.runs), problem.meshes, twice=False)
    for item in chassis:
        gaps = [gap for gap in across.gaps if gap.b == item.name and gap.runs_through]
        if gaps:
            deepest = min(gaps, key=lambda gap: gap.value)
            whose = say_runs(across.header, [gap.a for gap in gaps])
            yield _of_gap(
                deepest,
                "route-between",
                "info",
                f"The {item.name} stands between port and bore of {whose}: the straight line runs through it, "
                f"and {say_length(deepest.required, units)} of gap is required. Every path has to go round it.",
                units,
            )


def items_in_the_way(problem: RouteProblem, found: SearchState) -> tuple[str, ...]:
    """Chassis items across the straight ways from port to bore, and those too near to the tubes of the nearest tries.

    Those that are named most often come first.
    """
    chassis = tuple(replace(item, free_from_flange=0.0) for item in problem.draft.chassis)
    across = survey(_straight_ways(replace(problem.draft, chassis=chassis), problem.runs), problem.meshes, twice=False)
    surveys = [across]
    for _, layout in found.nearest[:NEAREST]:
        made = _as_draft(problem, layout)
        surveys += [] if made is None else [accept(made, problem.meshes)[0]]
    items = {item.name for item in problem.draft.chassis}
    named = [gap.b for measured in surveys for gap in measured.gaps if gap.is_too_small and gap.b in items]
    return tuple(sorted(set(named), key=lambda name: (-named.count(name), name)))[:MOST_ITEMS]


def _straight_ways(draft: Draft, runs: tuple[Run, ...]) -> Header:
    """For each primary a straight from the first place where it may bend to the last."""
    primaries, lines = [], []
    for primary in runs:
        start = add(primary.start.frame.origin, primary.start.frame.z, least_first(draft, primary))
        end = add(primary.end.frame.origin, primary.end.frame.z, -least_last(draft, primary.end))
        size = norm(subtract(end, start))
        if size > SHORTEST_END:
            frame = frame_from_normal(start, subtract(end, start))
            primaries.append(replace(primary, grows=(), steps=(Straight(size),)))
            lines.append(Centreline(primary.name, (Line(1, start, frame.z, frame.x, size),)))
    return Header(draft, tuple(primaries), tuple(lines))


def _as_draft(problem: RouteProblem, layout: Layout) -> Draft | None:
    """A layout with its exact paths; None if no tube can follow them."""
    try:
        paths = [steps_of_tube(problem, k, run) for k, run in enumerate(layout.runs)]
    except PointsError:
        return None
    return with_paths(problem, [run.bore for run in layout.runs], paths)


def _bends_without_room(problem: RouteProblem, layout: Layout) -> Iterator[Finding]:
    units = problem.draft.units
    missing = [-float(seen(problem, k, run)[1][: run.bends + 1].min()) for k, run in enumerate(layout.runs)]
    worst = max(range(len(missing)), key=lambda k: missing[k])
    name, radii = problem.runs[worst].name, layout.runs[worst].radii
    yield Finding(
        rule="route-hardest",
        level="info",
        where=name,
        value=shown_length(missing[worst], units),
        limit=0.0,
        unit=units,
        message=(
            f"In the try that came nearest, {name} has no room for its {len(radii)} bends of radius "
            f"{' and '.join(say_length(radius, units) for radius in sorted(set(radii)))}: "
            f"{say_length(missing[worst], units)} of length is missing between two of them."
        ),
    )


def _hardest(problem: RouteProblem, found: SearchState) -> Iterator[Finding]:
    """The try with the fewest demands missed, and each of them by the exact checks, the smallest first."""
    tries, tolerance = [], problem.draft.length.tolerance
    for _, layout in found.nearest[:NEAREST]:
        made = _as_draft(problem, layout)
        if made is not None:
            measured, errors = accept(made, problem.meshes)
            names = [run.name for run in problem.runs]
            missed = {*not_known(names, errors, problem.known), *bends_out_of_range(measured.header, names)}
            tries.append(sorted(missed, key=lambda miss: (_missing(miss, tolerance), miss.where, miss.message)))
    if not tries:
        yield from (_bends_without_room(problem, found.nearest[0][1]) if found.nearest else ())
        return
    nearest = min(tries, key=len)
    for count, miss in enumerate(nearest, 1):
        short = _by_how_much(miss, tolerance)
        said = f"The try that came nearest misses{short} ({count} of {len(nearest)}): {miss.message}"
        yield replace(miss, rule="route-hardest", level="info", message=said)


def _by_how_much(miss: Finding, tolerance: float) -> str:
    """In words; figures of findings are rounded, so that a value and its limit may look the same."""
    missing = _missing(miss, tolerance)
    if math.isinf(missing) or miss.unit not in ("mm", "in", "deg"):
        return ""
    if miss.unit == "deg":
        return f" by {missing:.2f}°" if missing >= 0.01 else " by less than 0.01°"
    return f" by {say_length(max(missing, SAME_AS_PRINTED), miss.unit)}"


def _missing(miss: Finding, tolerance: float) -> float:
    """By how much a demand is missed, in millimetres or degrees; lengths are missed beyond their tolerance (mm)."""
    if miss.value is None or miss.limit is None:
        return math.inf
    missing = abs(miss.value - miss.limit) * (INCH if miss.unit == "in" else 1.0)
    return missing - tolerance if miss.rule == "length" else missing
