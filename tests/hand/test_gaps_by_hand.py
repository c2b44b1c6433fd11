"""What nine of ten builds leave of a gap: first order, simulated builds, and builds simulated anew by other code."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from headergen.geometry.curves.centreline import frame_at
from headergen.hand.chain import spreads_of
from headergen.hand.closing import answers, close_builds, meeting_at
from headergen.hand.draws import draw, from_bore, from_flange
from headergen.hand.gaps import BuiltRun, gaps_by_hand
from headergen.hand.stations import closed_moves, covariance_of, open_moves, piece_of, place_in
from headergen.hand.tube import RunInPieces, tubes_of
from headergen.model import ByHand, Gap, HandSettings, Header, Place, Shop
from tests.demos import checked_once, planned_once

SPEC = Path(__file__).resolve().parents[2] / "specs/bogbean.yaml"
SLIDES = (-1000.0, 1000.0)  # so that first order knows no limit
Array = NDArray[np.float64]


@cache
def built() -> tuple[Header, Shop, tuple[Gap, ...], ByHand]:
    result, shop = checked_once("bogbean").result, planned_once("bogbean")
    assert shop.by_hand is not None
    return result.header, shop, result.survey.gaps, shop.by_hand


@cache
def tubes() -> tuple[RunInPieces, ...]:
    header, shop, _, _ = built()
    return tubes_of(header, shop)


@pytest.mark.slow
def test_a_chain_lies_on_the_centreline() -> None:
    for tube in tubes():
        for at in np.linspace(tube.begins, tube.line.length, 40):
            k, into = piece_of(tube.chain, tube.begins, float(at))
            assert place_in(tube.chain, k, into) == pytest.approx(frame_at(tube.line, float(at))[0], abs=1e-6)


@pytest.mark.slow
def test_turn_and_slide_answer_a_small_error_as_builds_do() -> None:
    """Of each error of each link, closed in the middle: what a build with a little of it needs."""
    hand, small = HandSettings(turn=1.0), 1e-4
    for tube in tubes()[:2]:
        chain, joint = tube.chain, tube.chain.size // 2
        meeting = meeting_at(chain, joint, hand, SLIDES, 100.0)
        errors = np.zeros((7 * chain.size, chain.size, 7))
        errors[np.arange(len(errors)), np.arange(len(errors)) // 7, np.arange(len(errors)) % 7] = small
        ends, starts = from_flange(chain, errors)[1][joint - 1], from_bore(chain, errors)[0][joint]
        closed, found = close_builds(meeting, ends, starts, hand), answers(chain, meeting, tube.made)
        assert closed.turn / small == pytest.approx(found[:, 0], abs=2e-3 * np.abs(found[:, 0]).max())
        assert closed.slide / small == pytest.approx(found[:, 1], abs=2e-3 * np.abs(found[:, 1]).max())


def test_places_of_a_closed_run_spread_as_its_builds_do() -> None:
    hand = HandSettings(turn=1.0)
    for tube in tubes():
        chain, joint = tube.chain, tube.chain.size // 2
        meeting, spreads = meeting_at(chain, joint, hand, SLIDES, 100.0), spreads_of(chain, hand)
        errors = draw(spreads, 4000, 11)
        forward, backward = from_flange(chain, errors), from_bore(chain, errors)
        closed = close_builds(meeting, forward[1][joint - 1], backward[0][joint], hand)
        end, along = meeting.bore
        for k in range(chain.size):
            start = (backward if k >= joint else forward)[0][k][1]
            if k >= joint:
                off = start - end
                along_it = np.outer(off @ along, along)
                c, s = np.cos(closed.turn)[:, None], np.sin(closed.turn)[:, None]
                start = end + along_it + c * (off - along_it) + s * np.cross(along, off) + np.outer(closed.slide, along)
            wanted = covariance_of(closed_moves(chain, tube.made, meeting, k, 0.0), spreads)
            found = np.cov(start.T)
            assert np.sqrt(np.trace(found)) == pytest.approx(np.sqrt(np.trace(wanted)), rel=0.06, abs=0.02)


def test_first_order_and_simulated_builds_agree_inside_a_run() -> None:
    """Not where tubes begin to converge: there the place of a gap moves along them."""
    _, _, gaps, by_hand = built()
    edges = {(gap.a, gap.b) for gap in gaps if gap.on_boundary}
    compared = [
        each for each in by_hand.gaps if each.judged and each.drawn is not None and (each.a, each.b) not in edges
    ]
    assert len(compared) >= 2
    for each in compared:
        assert each.drawn == pytest.approx(each.closed, abs=0.3), (each.a, each.b)


def test_holding_helps_and_closing_from_both_ends_helps() -> None:
    """Of the tightest gap of the demo: open is far worse than planned, the others lie between."""
    *_, by_hand = built()
    least = min((each for each in by_hand.gaps if each.judged), key=lambda each: each.nominal)
    assert least.open < least.closed < least.held < least.nominal
    assert least.open < 0.0 < least.left


def flat(tube: RunInPieces, at: float, gap: float) -> tuple[Gap, Array]:
    """A gap to a wall that stands beside a place of a tube, toward the side that its first bend faces."""
    point, way, _ = frame_at(tube.line, at)
    side = np.cross(way, [0.3, 0.2, 0.9])
    side /= np.linalg.norm(side)
    radius = tube.run.tube.radius
    skin, wall = np.array(point) + radius * side, np.array(point) + (radius + gap) * side
    place = Place(tube.run.name, at, 1)
    return Gap(tube.run.name, "wall", 5.0, gap, (tuple(skin), tuple(wall)), (place, None)), side  # type: ignore[arg-type]


def test_a_wall_beside_an_open_run_is_neared_by_lever_times_angle() -> None:
    """The quantile of a gap to a plane is 1.2816 spreads of the tube's place across it, by builds drawn here."""
    for tube in tubes():
        at = tube.begins + 0.7 * (tube.line.length - tube.begins)
        gap, side = flat(tube, at, 12.0)
        made = {tube.run.name: BuiltRun(tube, None, None)}
        [found] = gaps_by_hand(made, [gap], built()[0].draft)
        k, into = tube.piece_at(at)
        spread = np.sqrt(side @ covariance_of(open_moves(tube.chain, tube.made, k, into), tube.spreads) @ side)
        assert found.open == found.closed == pytest.approx(12.0 - 1.2815516 * spread)
        assert found.drawn == pytest.approx(found.closed, abs=0.3 + 0.1 * spread)


def test_a_gap_of_a_run_without_pieces_is_left_out() -> None:
    gap, _ = flat(tubes()[0], 200.0, 12.0)
    assert list(gaps_by_hand({}, [gap], built()[0].draft)) == []
    far = replace(gap, value=300.0)
    [found] = gaps_by_hand({tubes()[0].run.name: BuiltRun(tubes()[0], None, None)}, [far], built()[0].draft)
    assert found.drawn is None and found.left == found.closed, "too wide for builds to be simulated"
