"""The bench of a header as numbers: what is cut, welded and marked."""

from __future__ import annotations

from headergen.model import CutPiece, Header, RunLengths, Shop
from headergen.shop.course import courses_of
from headergen.shop.plan import plan_of


def shop_of(header: Header) -> Shop:
    """Pieces, joints and stock of a header that is closed. Raises PlanError where the solver stops before the end."""
    draft = header.draft
    courses = courses_of(header, draft.shop.cup)
    stocked = {run.name for run in header.runs if run.tube == draft.tube}
    plan = plan_of(courses, draft.stock, draft.shop, stocked)
    return Shop(plan, tuple(_lengths(plan.of_run(course.run), course.begins + course.length) for course in courses))


def _lengths(pieces: tuple[CutPiece, ...], centreline: float) -> RunLengths:
    cut = sum(piece.length for piece in pieces)
    left_on = sum(end.leave_on for piece in pieces for end in piece.ends)
    return RunLengths(pieces[0].run, centreline, cut, cut + left_on)
