"""Spreads to first order against closed forms, drawn builds and rejection sampling."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from headergen.geometry.frames import WORLD
from headergen.hand.chain import (
    ANGLE,
    CLOCKING,
    LENGTH,
    RADIUS,
    SHRINKAGE,
    TILT_X,
    TILT_Y,
    Link,
    PieceChain,
    chain_of,
    motions,
    moved,
    spreads_of,
)
from headergen.hand.draws import draw, from_flange
from headergen.hand.open_end import piece_spreads
from headergen.hand.stations import covariance_of, held_conditions, held_covariance, open_moves
from headergen.model import CutPiece, HandSettings, PieceEnd

HAND = HandSettings()
Array = NDArray[np.float64]


def chain(*links: Link) -> PieceChain:
    ends = (PieceEnd("square"), PieceEnd("square"))
    pieces = [
        CutPiece("primary 1", k, 0.0, 1.0, each.legs, each.angle, each.radius, None, ends, True, None)
        for k, each in enumerate(links, 1)
    ]
    return chain_of("primary 1", WORLD, pieces, [each.clocking for each in links if each.angle > 0])


def straight(length: float) -> Link:
    return Link(0.0, (length, 0.0), 0.0, 0.0)


ELL = chain(straight(200.0), Link(0.0, (0.0, 300.0), math.pi / 2, 60.0))  # up z, then along x
CROOKED = chain(
    straight(120.0),
    Link(0.4, (30.0, 20.0), math.radians(70), 63.5),
    straight(150.0),
    Link(-1.3, (0.0, 90.0), math.radians(110), 57.0),
    straight(80.0),
    Link(2.2, (0.0, 60.0), math.radians(35), 63.5),
)


@pytest.mark.parametrize(
    ("link", "error", "lever", "way"),
    [
        (1, CLOCKING, 360.0, (0, 1, 0)),  # the end is a radius and a leg off the axis
        (1, TILT_X, 60.0, (0, -1, 0)),  # above the joint by the radius: z × x is y, so it falls to −y
        (1, TILT_Y, math.hypot(60.0, 360.0), (60, 0, -360)),
        (0, TILT_X, 260.0, (0, -1, 0)),
        (1, ANGLE, math.hypot(300.0, 60.0), (60, 0, -300)),  # about the middle of the bend
        (1, RADIUS, 60.0 * math.sqrt(2), (1, 0, 1)),  # of a right angle: a radius across, and one along
        (1, LENGTH, 1.0, (1, 0, 0)),
        (0, LENGTH, 1.0, (0, 0, 1)),
        (1, SHRINKAGE, 1.0, (0, 0, 1)),
    ],
)
def test_one_error_moves_the_end_by_lever_times_angle(
    link: int, error: int, lever: float, way: tuple[float, float, float]
) -> None:
    found = moved(motions(ELL), ELL.origins[-1])[link, error, 3:]
    assert ELL.origins[-1] == pytest.approx([360.0, 0.0, 260.0])
    assert found == pytest.approx(lever * np.array(way) / np.linalg.norm(way))


@pytest.mark.parametrize("error", range(7))
def test_slopes_are_those_of_builds_with_a_small_error(error: int) -> None:
    """Of every link, by builds with a little more and a little less of one error."""
    small = 1e-5
    for k in range(CROOKED.size):
        errors = np.zeros((2, CROOKED.size, 7))
        errors[:, k, error] = small, -small
        end = from_flange(CROOKED, errors)[1][-1]
        slope = (end[1][0] - end[1][1]) / (2 * small)
        assert slope == pytest.approx(moved(motions(CROOKED), CROOKED.origins[-1])[k, error, 3:], abs=1e-5)
        turn = (end[0][0] - end[0][1]) @ CROOKED.frames[-1].T / (2 * small)
        spin = np.array([turn[2, 1], turn[0, 2], turn[1, 0]])
        assert spin == pytest.approx(motions(CROOKED)[k, error, :3], abs=1e-5)


def test_the_spread_of_the_open_end_is_that_of_drawn_builds() -> None:
    spreads = spreads_of(CROOKED, HAND)
    ends = from_flange(CROOKED, draw(spreads, 20_000, 5))[1]
    for each in piece_spreads(CROOKED, motions(CROOKED), spreads):
        pose = ends[each.piece - 1]
        place, covariance = np.cov(pose[1].T), np.array(each.covariance)
        assert np.sqrt(np.diag(place).sum()) == pytest.approx(np.sqrt(np.trace(covariance[3:, 3:])), rel=0.05)
        assert np.sqrt(np.linalg.eigvalsh(place)[-1]) == pytest.approx(each.place, rel=0.05)
        # a turn so small is, of the end's travel, what it moves across
        off = pose[0][:, :, 2] - CROOKED.frames[each.piece] @ [0.0, 0.0, 1.0]
        z = CROOKED.frames[each.piece][:, 2]
        wanted = np.trace(covariance[:3, :3]) - z @ covariance[:3, :3] @ z
        assert np.trace(np.cov(off.T)) == pytest.approx(wanted, rel=0.05)


def test_kinds_that_a_link_has_not_do_not_spread() -> None:
    spreads = spreads_of(CROOKED, HAND)
    assert spreads[0, SHRINKAGE] == 0.0, "nothing shrinks along the tube at the flange"
    for k, link in enumerate(CROOKED.links):
        assert (spreads[k, [CLOCKING, ANGLE, RADIUS]] > 0).all() == (link.angle > 0)
    held = spreads_of(CROOKED, HAND, saddles=True)
    assert (held[1, [CLOCKING, TILT_X, TILT_Y]] == HAND.saddle).all()
    assert (held[:, [ANGLE, RADIUS, LENGTH]] == spreads[:, [ANGLE, RADIUS, LENGTH]]).all()


@pytest.mark.slow
def test_the_held_spread_is_that_of_builds_that_happen_to_end_on_the_bore() -> None:
    """Rejection sampling: of many builds those are kept whose end is on the bore and square to it."""
    spreads, made = spreads_of(CROOKED, HAND), motions(CROOKED)
    conditions, (k, into) = held_conditions(CROOKED, made), (2, 70.0)
    wide = 0.3 * np.sqrt(np.diag(covariance_of(conditions, spreads)))
    moves, kept = open_moves(CROOKED, made, k, into), list[Array]()
    bore, axes = CROOKED.origins[-1], CROOKED.frames[-1]
    for seed in range(10):
        errors = draw(spreads, 40_000, seed)
        starts, ends = from_flange(CROOKED, errors)
        off, way = (ends[-1][1] - bore) @ axes, ends[-1][0][:, :, 2] @ axes
        # across x and y; a turn about x takes the way to −y, one about y to x
        near = np.abs(np.stack([off[:, 0], off[:, 1], -way[:, 1], way[:, 0]], axis=1)) < wide
        shift = np.zeros((len(errors), 3))
        shift[:, 2] = into
        kept.append((starts[k][1] + np.einsum("dij,dj->di", starts[k][0], shift))[near.all(axis=1)])
    places = np.concatenate(kept)
    assert len(places) > 500
    free = math.sqrt(np.trace(covariance_of(moves, spreads)))
    held = math.sqrt(np.trace(held_covariance(moves, conditions, spreads)))
    assert math.sqrt(np.trace(np.cov(places.T))) == pytest.approx(held, rel=0.1)
    assert held < 0.9 * free, "it is worth holding"
