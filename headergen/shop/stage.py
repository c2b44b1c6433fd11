"""The bench of a header as numbers: what is cut, welded and marked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from headergen.geometry.curves.stepped import tube_at
from headergen.model import (
    BentTube,
    Centreline,
    CutPiece,
    FinishedTube,
    Header,
    MitreOffer,
    Plan,
    Run,
    RunLengths,
    Shop,
)
from headergen.shop.angled_cuts import angled_cuts, template_of
from headergen.shop.bending import bent_tube, cannot_bend
from headergen.shop.course import Course, courses_of
from headergen.shop.heights import bench_heights, finished_tube, leaning_starts
from headergen.shop.hi_lo import with_hi_lo
from headergen.shop.lean_cuts import with_lean_cuts
from headergen.shop.marks import cut_marks, turn_marks
from headergen.shop.mitre import mitre_offers
from headergen.shop.notes import notes_of
from headergen.shop.plan import plan_of
from headergen.shop.shelf import shelf_of
from headergen.shop.side_cuts import fishmouth_templates, hole_templates, notes_on_sides
from headergen.shop.sizes import joined_plan, sized_courses
from headergen.shop.welds import welds_of

_Tube = tuple[Run, Centreline, Course, tuple[CutPiece, ...]]


def shop_of(header: Header) -> Shop:
    """Pieces, joints, stock and marks of a closed header; for one-piece runs, the work of the shop's own bender.

    Raises PlanError if the solver stops before it has the best plan.
    """
    draft = header.draft
    bent, not_bent = _bent(header)
    made = {tube.run for tube in bent}
    courses, plan = _planned(header, made)
    plan = with_hi_lo(plan, draft.stock, lambda run, at: tube_at(header.run(run), at))
    by_name = {run.name: (run, line) for run, line in header.tubes}
    tubes = [(*by_name[course.run], course, plan.of_run(course.run)) for course in courses]
    shop = Shop(
        plan,
        _in_order(header, [*_cut_lengths(tubes), *(_bent_lengths(header, tube) for tube in bent)]),
        tuple(cut_marks(plan, draft.stock, draft.tube)),
        tuple(
            mark
            for run, _, course, pieces in tubes
            for mark in turn_marks(run, pieces, [bend.rotation for bend in course.bends])
        ),
        tuple(height for _, line, _, pieces in tubes for height in bench_heights(line, pieces)),
        tuple(_finished(header, {course.run for course in courses} | made)),
        tuple(leaning_starts(header)),
        (*not_bent, *notes_of(header, plan, made), *notes_on_sides(header)),
        tuple(_offers(header, courses)),
        tuple(bent),
        (*(template_of(cut) for cut in angled_cuts(header)), *fishmouth_templates(header)),
        tuple(hole_templates(header)),
    )
    return replace(with_lean_cuts(header, shop), welds=welds_of(header, shop))


def pieces_of(header: Header) -> Plan:
    """The plan alone: pieces, joints, and what they are cut from. Raises PlanError as `shop_of`."""
    return _planned(header, {tube.run for tube in _bent(header)[0]})[1]


def _planned(header: Header, bent: set[str]) -> tuple[list[Course], Plan]:
    """The runs made of pieces, and their plan; `bent` are made of one."""
    draft = header.draft
    courses = [course for course in courses_of(header, draft.shop, draft.stock) if course.run not in bent]
    sized = sized_courses(header, courses, draft.shop)
    shelves = [shelf_of(draft.stock, each.tube, draft.tube) for each in sized]
    plan = plan_of([each.course for each in sized], draft.stock, draft.shop, shelves)
    return courses, joined_plan(header, plan, sized, courses)


def _in_order(header: Header, lengths: Sequence[RunLengths]) -> tuple[RunLengths, ...]:
    order = [run.name for run in header.runs]
    return tuple(sorted(lengths, key=lambda each: order.index(each.run)))


def _cut_lengths(tubes: Sequence[_Tube]) -> Iterator[RunLengths]:
    for run, _, course, pieces in tubes:
        cut = sum(piece.length for piece in pieces)
        yield RunLengths(run.name, course.begins + course.length, cut, sum(piece.sawn_length for piece in pieces))


def _bent_lengths(header: Header, tube: BentTube) -> RunLengths:
    line = next(line for run, line in header.tubes if run.name == tube.run)
    cut = sum(row.feed + row.radius * row.angle for row in tube.rows) + tube.last
    return RunLengths(tube.run, line.length, cut, tube.blank)


def _finished(header: Header, names: set[str]) -> Iterator[FinishedTube]:
    return (finished_tube(header, run, line) for run, line in header.tubes if run.name in names)


def _offers(header: Header, courses: Sequence[Course]) -> Iterator[MitreOffer]:
    draft = header.draft
    for each in sized_courses(header, courses, draft.shop):
        course = replace(each.course, run=each.run)
        yield from mitre_offers(course, draft.stock, draft.shop, shelf_of(draft.stock, each.tube, draft.tube))


def _bent(header: Header) -> tuple[list[BentTube], list[str]]:
    """The tubes made on the shop's own bender, and a note for each run of its tube that it cannot make."""
    draft, bender = header.draft, header.draft.bender
    tubes: list[BentTube] = []
    notes: list[str] = []
    if bender is None:
        return tubes, notes
    own = {run.name: line for run, line in header.tubes if run.tubes == (draft.tube,)}
    for course in courses_of(header, draft.shop, None):
        if course.run not in own:
            continue
        why = cannot_bend(course, bender, draft.units)
        if why:
            notes.append(f"{course.run} is made of pieces, since the bender cannot make it: {why}.")
        else:
            tubes.append(bent_tube(course, own[course.run], bender, draft.shop))
    return tubes, notes
