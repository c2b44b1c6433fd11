"""The bench follows the hand: spare where it is wanted, heights of the two parts of a tube, the joint chosen."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from headergen.hand.stage import AS_GOOD
from headergen.model import ByHand, Header, Shop
from headergen.outputs.shop.by_hand import comes_of_closing
from tests.demos import checked_once, cut_once, planned_once

SPECS = Path(__file__).resolve().parents[2] / "specs"
DEMOS = ("bogbean", "glasswort_left")


@cache
def benches(name: str) -> tuple[Header, Shop, Shop, ByHand]:
    """The header, its bench before the hand is asked, after, and what the hand says."""
    header, shop = checked_once(name).result.header, planned_once(name)
    assert shop.by_hand is not None
    return header, cut_once(name), shop, shop.by_hand


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("name", DEMOS)
def test_spare_is_left_on_at_the_closing_joint_and_at_the_collector_end(name: str) -> None:
    _, before, after, found = benches(name)
    for run in found.runs:
        closing = run.closing
        assert closing is not None
        pieces = after.plan.of_run(run.run)
        more = {
            (piece.number, side): piece.ends[side].leave_on - old.ends[side].leave_on
            for piece, old in zip(pieces, before.plan.of_run(run.run), strict=True)
            for side in (0, 1)
        }
        on = {(piece, int(piece == closing.joint)): spare for piece, spare in closing.spare_on}
        assert sum(on.values()) == pytest.approx(closing.joint_spare)
        wanted = {**on, (len(pieces), 1): closing.end_spare}
        assert more == pytest.approx(dict.fromkeys(more, 0.0) | wanted)
        sawn = next(each.sawn for each in after.lengths if each.run == run.run)
        old = next(each.sawn for each in before.lengths if each.run == run.run)
        assert sawn - old == pytest.approx(closing.joint_spare + closing.end_spare)


@pytest.mark.quick(1)
@pytest.mark.parametrize("name", DEMOS)
def test_what_was_cut_from_stock_still_fits_there(name: str) -> None:
    header, before, after, _ = benches(name)
    stock = header.draft.stock
    assert stock is not None
    assert sum(piece.item is None for piece in after.plan.pieces) == sum(p.item is None for p in before.plan.pieces)
    for item in after.plan.items:
        if item.kind == "straight":
            held = [p for p in after.plan.pieces if not p.is_bend and p.item == item.number]
            ends = sum(p.length + sum(end.leave_on for end in p.ends) for p in held)
            assert ends + (len(held) - 1) * header.draft.shop.kerf <= stock.straights[item.index].length + 1e-6
    for piece in after.plan.pieces:
        assert all(end.leave_on <= end.room + 1e-9 for end in piece.ends)
    lengths = {(mark.run, mark.piece): mark.leave_on for mark in after.cuts if mark.measured_from == "bar"}
    for piece in after.plan.pieces:
        if (piece.run, piece.number) in lengths:
            assert lengths[piece.run, piece.number] == pytest.approx(sum(end.leave_on for end in piece.ends))


@pytest.mark.parametrize("name", DEMOS)
def test_heights_and_turns_stay_on_their_side_of_the_closing_joint(name: str) -> None:
    _, before, after, found = benches(name)
    assert len(after.heights) < len(before.heights), "none is measured across the joint that is closed last"
    for run in found.runs:
        assert run.closing is not None
        joint = run.closing.joint
        for height in (each for each in after.heights if each.run == run.run):
            assert (height.flat <= joint) == (height.piece <= joint)
        for mark in (each for each in after.turns if each.run == run.run):
            across = mark.turns_from <= joint < mark.piece
            assert comes_of_closing(mark, after) == across


@pytest.mark.parametrize("name", DEMOS)
def test_the_closing_joint_is_one_that_closes_best_and_leaves_the_gaps_most(name: str) -> None:
    *_, found = benches(name)
    for run in found.runs:
        assert run.closing is not None
        best = max(each.closes for each in run.candidates)
        near = [each for each in run.candidates if each.closes >= best - AS_GOOD]
        chosen = next(each for each in near if each.joint == run.closing.joint)
        assert run.closing.closes == chosen.closes
        assert all(round(each.to_spare or 0.0, 1) <= round(chosen.to_spare or 0.0, 1) for each in near)
