"""Spare length where runs are closed: left on at the closing joint and at the end in the bore."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from headergen.model import BenchHeight, ByHand, CutPiece, Header, PieceEnd, Shop
from headergen.shop.heights import bench_heights
from headergen.shop.marks import cut_marks
from headergen.shop.plan import in_bars
from headergen.shop.shelf import shelf_of
from headergen.shop.sizes import piece_tube


def with_spare(header: Header, shop: Shop, by_hand: ByHand) -> Shop:
    """The bench with spare length where hand work needs it.

    Heights on the table are those of the two parts of a run that are built toward its closing joint.
    """
    draft, plan = header.draft, shop.plan
    pieces = [_with_spare(piece, by_hand, len(plan.of_run(piece.run))) for piece in plan.pieces]
    bends = [item for item in plan.items if item.kind == "bend"]
    runs = {run.name: run for run in header.runs}
    tubes = {(piece.run, piece.number): piece_tube(runs[piece.run], piece) for piece in pieces}
    shelves = {tube: shelf_of(draft.stock, tube, draft.tube) for tube in set(tubes.values())}
    pieces, bars = in_bars(
        pieces, lambda piece: shelves[tubes[piece.run, piece.number]].straights, draft.shop, len(bends)
    )
    plan = replace(plan, pieces=tuple(pieces), items=(*bends, *bars))
    lengths = tuple(
        replace(each, sawn=sum(piece.sawn_length for piece in plan.of_run(each.run))) if plan.of_run(each.run) else each
        for each in shop.lengths
    )
    heights: list[BenchHeight] = []
    for run, line in header.tubes:
        for part in parts_of(plan.of_run(run.name), by_hand):
            heights += bench_heights(line, part)
    cuts = tuple(cut_marks(plan, draft.stock, draft.tube))
    return replace(shop, plan=plan, lengths=lengths, cuts=cuts, heights=tuple(heights), by_hand=by_hand)


def parts_of(pieces: tuple[CutPiece, ...], by_hand: ByHand) -> Iterator[tuple[CutPiece, ...]]:
    """The pieces of a run before its closing joint and those after it; all of them if it has none."""
    closing = by_hand.closing_of(pieces[0].run) if pieces else None
    joint = len(pieces) if closing is None else closing.joint
    yield from (part for part in (pieces[:joint], pieces[joint:]) if part)


def _with_spare(piece: CutPiece, by_hand: ByHand, count: int) -> CutPiece:
    closing = by_hand.closing_of(piece.run)
    if closing is None:
        return piece
    start, end = piece.ends
    spare = dict(closing.spare_on).get(piece.number, 0.0)
    if piece.number == closing.joint:
        end = _longer(end, spare)
    elif spare:
        start = _longer(start, spare)
    if piece.number == count:
        end = _longer(end, closing.end_spare)
    return replace(piece, ends=(start, end))


def _longer(end: PieceEnd, spare: float) -> PieceEnd:
    """An end with spare length added; a bought end already has all there is."""
    return end if end.cut == "bought" else replace(end, leave_on=min(end.leave_on + spare, end.room))
