"""The bench of a header as numbers: what is cut, welded and marked."""

from __future__ import annotations

from headergen.model import CutPiece, Header, RunLengths, Shop
from headergen.shop.course import courses_of
from headergen.shop.heights import bench_heights, finished_tube
from headergen.shop.marks import cut_marks, turn_marks
from headergen.shop.notes import notes_of
from headergen.shop.plan import plan_of


def shop_of(header: Header) -> Shop:
    """Pieces, joints, stock and marks of a header that is closed. Raises PlanError where the solver stops early."""
    draft = header.draft
    courses = courses_of(header, draft.shop.cup)
    stocked = {run.name for run in header.runs if run.tube == draft.tube}
    plan = plan_of(courses, draft.stock, draft.shop, stocked)
    tubes = [
        (run, line, course, plan.of_run(run.name)) for (run, line), course in zip(header.tubes, courses, strict=True)
    ]
    turns = (turn_marks(run, pieces, [bend.rotation for bend in c.bends]) for run, _, c, pieces in tubes)
    return Shop(
        plan,
        tuple(_lengths(pieces, course.begins + course.length) for _, _, course, pieces in tubes),
        tuple(cut_marks(plan, draft.stock, draft.tube)),
        tuple(mark for run_marks in turns for mark in run_marks),
        tuple(height for _, line, _, pieces in tubes for height in bench_heights(line, pieces)),
        tuple(finished_tube(header, run, line) for run, line, _, _ in tubes),
        tuple(notes_of(header, plan)),
    )


def _lengths(pieces: tuple[CutPiece, ...], centreline: float) -> RunLengths:
    cut = sum(piece.length for piece in pieces)
    left_on = sum(end.leave_on for piece in pieces for end in piece.ends)
    return RunLengths(pieces[0].run, centreline, cut, cut + left_on)
