"""A half-built header: how each of its runs is closed from where it is, and the header that comes of it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from headergen.built.least_work import corrected
from headergen.built.path import PathError, line_as_built, path_as_built
from headergen.built.plausible import what_cannot_be
from headergen.built.readings import ReadingError, brought_together
from headergen.built.sizes import radius_at
from headergen.built.state import HalfBuilt, cut_back, half_built, planned_pieces
from headergen.geometry.curves.centreline import frame_on
from headergen.geometry.frames import angle_between, norm, subtract
from headergen.hand.tube import RunInPieces, tubes_of
from headergen.model import (
    Act,
    Centreline,
    CorrectedRun,
    Correction,
    CutPiece,
    CutTemplate,
    EndReading,
    Header,
    LeftOver,
    PieceNow,
    RunAsBuilt,
    Shop,
    SpecPath,
    Step,
)
from headergen.shop.heights import bench_heights
from headergen.shop.marks import turn_marks
from headergen.words.say import say_angle, say_length

PieceFigure = Literal["length", "first leg", "second leg", "angle", "radius"]
SAME, SAME_ANGLE = 0.05, math.radians(0.05)  # mm and rad by which a figure is as on the sheets
AROUND = 96  # heights of a template
BASE = 20.0  # mm from its base line, square to the tube, to the lowest place of the cut


class BuiltError(ValueError):
    """Something of `as_built` that cannot be; `path`: its place in the spec."""

    def __init__(self, path: SpecPath, message: str) -> None:
        super().__init__(message)
        self.path = path


@dataclass(frozen=True, eq=False)
class Corrected:
    """A run with its correction: as it is now, and once that is done.

    `line`: its centreline then, with its kinks; `steps`: the nearest path of a spec, `apart` mm from it at most; None
    if nothing closes it, or no such path does, `why` not.
    """

    correction: Correction
    before: HalfBuilt
    after: HalfBuilt
    line: Centreline | None
    steps: tuple[Step, ...] | None
    apart: float = 0.0
    why: str = ""


def corrections(header: Header, shop: Shop) -> Iterator[Corrected]:
    """How each half-built run of a closed header is closed, in the order of the spec. Raises BuiltError."""
    tubes = {tube.run.name: tube for tube in tubes_of(header, shop)}
    for index, built in enumerate(header.draft.as_built):
        if built.run not in tubes:
            raise BuiltError(("as_built", index), f"{built.run} is not made of pieces, so none of it is half built")
        _must_end_in_its_bore(index, header, tubes[built.run])
        _must_be_there(index, built, tubes[built.run].chain.size)
        for place, message in what_cannot_be(built, tubes[built.run], header.draft.units):
            raise BuiltError(("as_built", index, *place), message)
        try:
            tube = tubes[built.run]
            draft = header.draft
            half = half_built(tube, _in_its_bore(built, tube), draft.shop.shrinkage, draft.units)
            half, left = brought_together(half)
        except ReadingError as wrong:
            raise BuiltError(("as_built", index, "ends", wrong.index), str(wrong)) from None
        yield _corrected(header, half, left)


def _in_its_bore(built: RunAsBuilt, tube: RunInPieces) -> RunAsBuilt:
    """A finished run ends in its bore, if its end is not measured: what its pieces say besides is shared out."""
    n = tube.chain.size
    held = {*built.welded, *built.tacked} - {*built.may_turn}
    if not held.issuperset(range(n + 1)) or any((each.piece, each.face) == (n, "end") for each in built.ends):
        return built
    frame = tube.run.end.frame
    return replace(built, ends=(*built.ends, EndReading(n, "end", point=frame.origin, direction=frame.z)))


def _must_end_in_its_bore(index: int, header: Header, tube: RunInPieces) -> None:
    """The plan itself: a correction brings a tube back to where that ends."""
    point, tangent, _ = frame_on(tube.line.segments[-1], tube.line.segments[-1].length)
    end, limits = tube.run.end.frame, header.draft.limits
    away, lean = norm(subtract(point, end.origin)), angle_between(tangent, end.z)
    if away > limits.end_position or lean > limits.end_angle:
        off = f"{say_length(away, header.draft.units)} and {say_angle(lean)}"
        message = (
            f"{tube.run.name} as planned ends {off} from where it should, and a correction brings it back to its plan; "
            "mend its path first, check says how"
        )
        raise BuiltError(("as_built", index), message)


def _must_be_there(index: int, built: RunAsBuilt, size: int) -> None:
    """Every piece and joint that is named must be on the sheets."""
    pieces = [each.piece for each in built.pieces]
    for key, numbers in (("cut", built.cut), ("pieces", pieces)):
        for place, number in enumerate(numbers):
            if number > size:
                message = f"{built.run} has {size} pieces on its sheets, so there is no piece {number}"
                raise BuiltError(("as_built", index, key, place), message)
    joints = [each.joint for each in built.joints]
    for key, numbers in (("welded", built.welded), ("tacked", built.tacked), ("joints", joints)):
        for place, number in enumerate(numbers):
            if number > size:
                message = f"{built.run} has joints 0 to {size}: {size} is in its bore, and there is no joint {number}"
                raise BuiltError(("as_built", index, key, place), message)


def _corrected(header: Header, half: HalfBuilt, left: tuple[LeftOver, ...]) -> Corrected:
    correction, after = corrected(half, header.draft.stock, left)
    if not correction.closes:
        return Corrected(correction, half, half, None, None)
    line = line_as_built(after, correction.slide)
    try:
        steps, apart = path_as_built(after, line)
    except PathError as wrong:
        return Corrected(correction, half, after, line, None, why=str(wrong))
    return Corrected(correction, half, after, line, steps, apart)


def bench_of(header: Header, each: Corrected) -> CorrectedRun:
    """What the bench needs of a correction; figures of what stays as it is are left out."""
    run = each.correction.run
    planned = next(line for line in header.centrelines if line.run == run)
    if each.line is None:
        return CorrectedRun(each.correction, (planned.length, planned.length))
    cuts = _pieces_now(each.after)
    turns = [piece.turn for piece in each.after.pieces if piece.angle > 0]
    return CorrectedRun(
        each.correction,
        (planned.length, each.line.length),
        tuple(_changed(each.after)),
        tuple(turn_marks(each.after.tube.run, cuts, turns)),
        tuple(bench_heights(each.line, cuts)),
        tuple(_template(each.after, act) for act in each.correction.acts if act.kind == "tilt"),
        each.apart if each.steps is not None else None,
        each.why,
    )


def _pieces_now(half: HalfBuilt) -> tuple[CutPiece, ...]:
    """The pieces with their places along the run as it is now."""
    at, found = half.tube.begins, []
    for piece, cut in zip(cut_back(half), half.tube.pieces, strict=True):
        length = piece.first + piece.last + piece.angle * piece.radius
        legs = (piece.first, piece.last)
        found.append(replace(cut, start=at, end=at + length, legs=legs, angle=piece.angle, radius=piece.radius))
        at += length
    return tuple(found)


def _changed(half: HalfBuilt) -> Iterator[PieceNow]:
    """Figures that differ from the sheets; what a piece is cut back at its end counts on its last straight."""
    for number, (piece, plan) in enumerate(zip(cut_back(half), planned_pieces(half.tube), strict=True), 1):
        if plan.angle == 0:
            figures: tuple[tuple[PieceFigure, float, float], ...] = (("length", plan.first, piece.first),)
        else:
            figures = (
                ("first leg", plan.first, piece.first),
                ("angle", plan.angle, piece.angle),
                ("radius", plan.radius, piece.radius),
                ("second leg", plan.last, piece.last),
            )
        for what, planned, now in figures:
            if abs(now - planned) > (SAME_ANGLE if what == "angle" else SAME):
                yield PieceNow(number, what, planned, now)


def _template(half: HalfBuilt, act: Act) -> CutTemplate:
    """The start of a piece cut off square: r·tan α·(1 − cos) round the tube, from the piece's own witness line.

    Boilermaking layout; to the right, with the cut up, is counter-clockwise seen from the flange.
    """
    radius, turned = radius_at(half.tube, act.piece - 1, "start"), half.pieces[act.piece - 1].turn
    steps = [-2 * math.pi * k / AROUND for k in range(AROUND)]
    rise = radius * math.tan(act.amount)
    heights = tuple(BASE + rise * (1 - math.cos(at - (act.toward - turned))) for at in steps)
    return CutTemplate(f"{half.built.run}, piece {act.piece}", half.built.run, "end", radius, 1, 0.0, heights)


def header_as_built(header: Header, corrected: list[Corrected], smooth: bool) -> Header:
    """The header once all is done that closes; with the paths of a spec, or (not `smooth`) with every kink."""
    done = {each.correction.run: each for each in corrected if each.steps is not None and each.line is not None}
    runs = tuple(
        replace(run, steps=done[run.name].steps or run.steps, fits=()) if run.name in done else run
        for run in header.runs
    )
    lines = tuple(
        (done[line.run].line or line) if line.run in done and not smooth else line for line in header.centrelines
    )
    draft = replace(header.draft, runs=runs, as_built=())
    return replace(header, draft=draft, runs=runs, centrelines=lines)
