"""Stepped runs at the bench: each size is planned by itself, then the pieces are those of one run.

In a slip joint the net line of both pieces is the mouth of the larger tube, where the weld is. What goes into the
larger tube is left on at the end of the smaller one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from headergen.geometry.curves.stepped import GrowthPlace, growth_places, is_stepped, outside_spans, tube_at
from headergen.model import CutPiece, Header, Plan, Run, ShopSettings, Tube, WeldJoint
from headergen.shop.course import Course
from headergen.words.say import say_length

SAME = 1e-6  # mm


@dataclass(frozen=True)
class SizedCourse:
    """The part of a run that has one size: its course, the run, its tube (None: a cone), and what follows it."""

    course: Course
    run: str
    tube: Tube | None
    overlap: float = 0.0  # of the slip joint at its end


def sized_courses(header: Header, courses: Sequence[Course], settings: ShopSettings) -> list[SizedCourse]:
    """The courses to be planned: one of each run, and of a stepped run one for each of its tubes and cones."""
    runs = {run.name: run for run in header.runs}
    found: list[SizedCourse] = []
    for course in courses:
        run = runs[course.run]
        if is_stepped(run):
            found += _of_run(run, course, settings)
        else:
            found.append(SizedCourse(course, run.name, run.tube))
    return found


def _of_run(run: Run, course: Course, settings: ShopSettings) -> Iterator[SizedCourse]:
    slips = {place.start: place for place in growth_places(run) if place.by == "slip"}
    spans = outside_spans(run, course.begins)
    for number, span in enumerate(spans):
        is_cone, is_last = span.radii[0] != span.radii[1], number == len(spans) - 1
        slip = slips.get(span.end)
        overlap = 0.0 if slip is None else slip.end - slip.start
        low, high = (span.start - course.begins if number else 0.0), span.end + overlap - course.begins
        part = _part(course, low, high, is_last)
        blocked = [*part.blocked]
        if overlap:
            why = "it is inside the slip joint, or too near its mouth"
            blocked.append((high - low - overlap - settings.apart, high - low, why))
        if span.start in slips:
            place = slips[span.start]
            blocked.append((0.0, place.end - place.start, "it is inside the slip joint"))
        left_on = None if is_last else 0.0 if overlap else settings.shrinkage
        part = replace(
            part,
            run=f"{run.name}, size {number + 1}",
            radius=max(span.radii),
            blocked=tuple(blocked),
            left_on=left_on,
            lean=0.0 if number else course.lean,
        )
        yield SizedCourse(part, run.name, None if is_cone else tube_at(run, span.start), overlap)


def _part(course: Course, low: float, high: float, is_last: bool) -> Course:
    """A course between two lengths from its start, both in straights."""
    starts, ends = course.starts(), []
    for start, straight in zip(starts, course.straights, strict=True):
        ends.append(start + straight)
    bends = [k for k in range(len(course.bends)) if low - SAME <= ends[k] and starts[k + 1] <= high + SAME]
    edges = [low, *(edge for k in bends for edge in (ends[k], starts[k + 1])), high]
    straights = tuple(max(b - a, 0.0) for a, b in zip(edges[::2], edges[1::2], strict=True))
    return replace(
        course,
        straights=straights,
        bends=tuple(course.bends[k] for k in bends),
        begins=course.begins + low,
        blocked=tuple((a - low, b - low, why) for a, b, why in course.blocked if a < high and b > low),
        ends_welded=course.ends_welded if is_last else True,
    )


def joined_plan(header: Header, plan: Plan, sized: Sequence[SizedCourse], courses: Sequence[Course]) -> Plan:
    """The plan with the pieces and joints of stepped runs counted through, and the joints between their sizes."""
    if all(each.course.run == each.run for each in sized):
        return plan
    runs, wholes = {run.name: run for run in header.runs}, {course.run: course for course in courses}
    names: dict[tuple[str, int], tuple[str, int]] = {}
    pieces: list[CutPiece] = []
    joints: list[WeldJoint] = []
    for run in dict.fromkeys(each.run for each in sized):
        mine: list[CutPiece] = []
        for part in (each for each in sized if each.run == run):
            here, before = plan.of_run(part.course.run), len(mine)
            names |= {(piece.run, piece.number): (run, before + piece.number) for piece in here}
            joints += [replace(j, run=run, number=before + j.number) for j in plan.joints_of(part.course.run)]
            mine += [replace(piece, run=run, number=before + piece.number) for piece in _cut_back(here, part)]
        joints += _between_sizes(runs[run], wholes[run], mine)
        pieces += mine
    order = [run.name for run in header.runs]
    joints.sort(key=lambda joint: (order.index(joint.run), joint.number))
    items = tuple(replace(item, pieces=tuple(names[each] for each in item.pieces)) for item in plan.items)
    figures = replace(plan.figures, joints=len(joints))
    return Plan(tuple(pieces), tuple(joints), items, figures)


def _cut_back(pieces: Sequence[CutPiece], part: SizedCourse) -> Sequence[CutPiece]:
    """The net line of the last piece moved back to the mouth of the slip joint; what goes in is left on."""
    if not part.overlap or not pieces:
        return pieces
    *rest, last = pieces
    end = last.ends[1]
    end = replace(end, leave_on=end.leave_on + part.overlap, room=end.room + part.overlap)
    first, second = last.legs
    legs = (first, second - part.overlap) if last.is_bend else (first - part.overlap, second)
    return [*rest, replace(last, end=last.end - part.overlap, legs=legs, ends=(last.ends[0], end))]


def _between_sizes(run: Run, course: Course, pieces: Sequence[CutPiece]) -> Iterator[WeldJoint]:
    """The joints at which a run grows, each with its turn into a bend that follows at once."""
    ends = [edge for place in growth_places(run) for edge in _edges(place)]
    for number, (before, after) in enumerate(pairwise(pieces), 1):
        if any(abs(before.end - edge) < SAME for edge in ends) and abs(after.start - before.end) < SAME:
            bend = sum(piece.is_bend for piece in pieces[:number])
            at = before.end - course.begins
            why = next((why for low, high, why in course.blocked if low + SAME < at < high - SAME), "")
            yield WeldJoint(run.name, number, before.end, course.bends[bend].rotation if after.is_bend else None, why)


def _edges(place: GrowthPlace) -> tuple[float, ...]:
    return (place.start,) if place.by == "slip" else (place.start, place.end)


def piece_tube(run: Run, piece: CutPiece) -> Tube | None:
    """The tube that a piece is cut from; None for a cone."""
    middle = (piece.start + piece.end) / 2
    is_cone = any(place.by == "cone" and place.start < middle < place.end for place in growth_places(run))
    return None if is_cone else tube_at(run, middle)


def growth_notes(header: Header, plan: Plan) -> Iterator[str]:
    """For each step of a stepped run: which piece goes into which, or which is a cone."""
    units = header.draft.units
    for run in header.runs:
        pieces = plan.of_run(run.name)
        for place in growth_places(run):
            sizes = [say_length(tube.outside_diameter, units) for tube in (place.before, place.after)]
            along = say_length(place.end - place.start, units)
            if place.by == "slip":
                inner = next((piece.number for piece in pieces if abs(piece.end - place.start) < SAME), None)
                if inner is not None:
                    yield (
                        f"{run.name}, joint {inner}: a slip joint. {along} of piece {inner} ({sizes[0]}) goes into "
                        f"piece {inner + 1} ({sizes[1]}); it is left on piece {inner}, beyond its net line, which is "
                        "the mouth of the larger tube."
                    )
            else:
                cone = next((p.number for p in pieces if abs(p.start - place.start) < SAME), None)
                if cone is not None:
                    yield f"{run.name}, piece {cone}: a cone from {sizes[0]} to {sizes[1]}, {along} long."
