"""The merge in numbers: areas by counting, cuts by distances from the tubes, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.geometry.frames import WORLD, frame_from_normal, point_in
from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.flow import flow_area
from headergen.geometry.merge.lobes import MergeError, lobe_area
from headergen.geometry.merge.measures import Merge, cut_line, ring_at, tube_cut
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.model import Frame, Tube
from tests.random_parts import TUBE, collector, random_collector


def within(merge: Merge, at: float, points: np.ndarray) -> np.ndarray:
    """Whether places of a section are inside a bore: by the distance from the axis of the tube whose sector it is.

    The axis of a leaning tube, as a line in space: through (ring, 0, mitre) along (−sin α, 0, cos α).
    """
    step = 2 * merge.sector
    turn = np.arctan2(points[:, 1], points[:, 0])
    own = turn - step * np.round(turn / step)
    radius = np.hypot(points[:, 0], points[:, 1])
    x, y = radius * np.cos(own) - merge.ring, radius * np.sin(own)
    z = at - merge.mitre
    along = -x * math.sin(merge.half_angle) + z * math.cos(merge.half_angle)
    return np.asarray(x**2 + y**2 + z**2 - along**2 <= merge.inner**2)


@pytest.mark.parametrize("seed", range(12))
def test_sections_of_the_tubes_by_counting_places(seed: int) -> None:
    """A grid of places 0.2 mm apart: the error is about a tenth of the outline's length times the spacing."""
    merge = merge_of(*random_collector(seed))
    reach = merge.ring + merge.outer + 1
    axis = np.arange(-reach, reach, 0.2)
    grid = np.stack(np.meshgrid(axis, axis), axis=-1).reshape(-1, 2)
    start = merge.mitre + merge.outer * math.tan(merge.half_angle / 2) + 1
    for at in np.linspace(start, merge.cut, 4).tolist():
        counted = within(merge, at, grid).sum() * 0.2**2
        assert flow_area(merge, at) == pytest.approx(counted, rel=2e-3)


def test_a_lobe_is_a_whole_ellipse_until_its_neighbours_reach_it() -> None:
    assert lobe_area(40.0, 20.0, math.radians(10), math.pi / 4) == pytest.approx(
        math.pi * 20 * 20 / math.cos(math.radians(10))
    )
    # on the axis every lobe is one n-th of a single ellipse of another orientation: exactly so of a circle
    assert 4 * lobe_area(1e-12, 20.0, 0.0, math.pi / 4) == pytest.approx(math.pi * 20**2)


def test_the_cone_begins_as_the_lobes_and_ends_as_the_outlet() -> None:
    merge = merge_of(TUBE, collector(TUBE, 4, 10.0, 63.5))
    assert flow_area(merge, merge.cut + 1e-9) == pytest.approx(flow_area(merge, merge.cut), rel=1e-4)
    assert flow_area(merge, merge.cone_end - 1e-9) == pytest.approx(math.pi * 30.25**2, rel=1e-4)


def test_every_cut_lies_on_two_tubes_or_on_the_cut_plane() -> None:
    """A place of the cut line is on its own tube; it is as far from the nearest neighbour's axis, or on the plane."""
    merge = merge_of(TUBE, collector(TUBE, 5, 9.0, 70.0))
    a, r = merge.half_angle, merge.outer
    for around, _, end in cut_line(merge, 72):
        x = merge.ring + r * math.cos(around) * math.cos(a) - end * math.sin(a)
        y = r * math.sin(around)
        z = merge.mitre + r * math.cos(around) * math.sin(a) + end * math.cos(a)
        off = [_off_axis(merge, (x, y, z), k) for k in range(5)]
        assert off[0] == pytest.approx(r, abs=1e-9)
        on_plane = abs(z - merge.cut) < 1e-9
        assert on_plane or min(off[1], off[4]) == pytest.approx(r, abs=1e-9)
        assert min(off[1:]) >= r - 1e-9 and z <= merge.cut + 1e-9, "it is cut where it first meets either"


def _off_axis(merge: Merge, place: tuple[float, float, float], k: int) -> float:
    turn = 2 * math.pi * k / merge.count
    ways = np.array([-math.sin(merge.half_angle) * math.cos(turn), -math.sin(merge.half_angle) * math.sin(turn)])
    axis = np.array([*ways, math.cos(merge.half_angle)])
    start = np.array([merge.ring * math.cos(turn), merge.ring * math.sin(turn), merge.mitre])
    return float(np.linalg.norm(np.cross(np.array(place) - start, axis)))


def test_middles_run_in_by_the_half_angle() -> None:
    merge = merge_of(TUBE, collector(TUBE, 4, 10.0, 63.5))
    assert ring_at(merge, 0.0) == merge.ring
    assert merge.ring - ring_at(merge, 50.0) == pytest.approx(50 * math.tan(math.radians(10)))
    assert ring_at(merge, merge.cut) == pytest.approx(merge.cut_ring)


def test_a_turned_and_a_mirrored_pattern_are_rings_too() -> None:
    made = collector(TUBE, 4, 10.0, 63.5)
    reversed_bores = tuple(
        replace(bore, frame=replace(bore.frame, origin=(bore.frame.origin[0], -bore.frame.origin[1], 0.0)))
        for bore in made.bores
    )
    assert merge_of(TUBE, replace(made, bores=reversed_bores)) == merge_of(TUBE, made)


@pytest.mark.parametrize(
    ("change", "phrase"),
    [
        ({"outlet": 200.0}, "as wide as 200.0 mm"),
        ({"outlet": 6.0}, "more than 6.0 mm"),
        ({"slip": 3.0}, "go in by 3.0 mm"),
    ],
)
def test_what_cannot_be_made_is_said(change: dict[str, float], phrase: str) -> None:
    with pytest.raises(MergeError, match=phrase):
        merge_of(TUBE, replace(collector(TUBE, 4, 10.0, 63.5), **change))  # type: ignore[arg-type]


def test_bores_beside_the_axis_are_refused() -> None:
    """Off their ring they still make a merge, but only round their axis."""
    made = collector(TUBE, 3, 10.0, 60.0)
    beside = [
        replace(bore, frame=Frame(point_in(bore.frame, (70, 0, 0)), WORLD.x, WORLD.y, WORLD.z)) for bore in made.bores
    ]
    with pytest.raises(MergeError, match=r"its axis is beside its bores, not among them, by 56\.7 mm"):
        merge_of(TUBE, replace(made, bores=tuple(beside)))


def test_bores_that_leave_no_wall_between_them_are_refused() -> None:
    """Sleeves may share a wall where they are ground flat against each other, but not less: 2·21.5 + 1.5 mm."""
    assert merge_of(TUBE, collector(TUBE, 4, 10.0, 63.5, pitch=44.5)).ring == pytest.approx(44.5 / math.sqrt(2))
    with pytest.raises(MergeError, match=r"spaced by 43\.0 mm; with a wall between them they want 44\.5 mm"):
        merge_of(TUBE, collector(TUBE, 4, 10.0, 63.5, pitch=43.0))


def test_a_wall_of_its_own_makes_sleeves_thicker() -> None:
    merge = merge_of(Tube(42.4, 1.5, "304L"), replace(collector(TUBE, 4, 10.0, 63.5, pitch=50.0), wall=2.0, gap=0.4))
    assert (merge.outer, merge.inner) == pytest.approx((21.2 + 0.4 + 2.0, 21.2 + 0.4))
    assert merge.outlet_outer - merge.outlet_inner == pytest.approx(2.0)


def test_the_mitre_of_a_leaning_tube_meets_that_of_its_sleeve() -> None:
    """Both planes cut at half the half angle: a place of the one is, seen from the other tube, as far along it."""
    merge = merge_of(TUBE, collector(TUBE, 4, 12.0, 63.5))
    half, r = merge.half_angle, merge.outer
    for around, mitre, _ in cut_line(merge, 12):
        x = r * math.cos(around) * math.cos(half) - mitre * math.sin(half)
        z = r * math.cos(around) * math.sin(half) + mitre * math.cos(half)
        assert math.hypot(x, r * math.sin(around)) == pytest.approx(r), "on the sleeve as well"
        assert z == pytest.approx(x * math.tan(half / 2)), "and on the plane that halves the turn"
    assert tube_cut(merge, r, 0.0) > tube_cut(merge, r, math.pi)


def test_the_middle_tube_of_a_row_does_not_turn() -> None:
    """Three bores 46 mm apart, turned by 20° about an axis that is not along the world's: the middle one is on it."""
    frame = frame_from_normal((310.7, -42.1, 77.7), (0.3, -0.8, 0.4), (0.9, 0.1, 0.2))
    c, s = math.cos(math.radians(20)), math.sin(math.radians(20))
    made = collector(TUBE, 3, 10.0, 60.0, frame=frame)
    places = [point_in(frame, (46.0 * k * c, 46.0 * k * s, 0.0)) for k in (-1, 0, 1)]
    bores = tuple(replace(b, frame=replace(b.frame, origin=at)) for b, at in zip(made.bores, places, strict=True))
    merge = merge_of(TUBE, replace(made, bores=bores, spike=False))
    assert isinstance(merge, UnevenMerge)
    assert [math.degrees(tube.turn) for tube in merge.tubes] == pytest.approx([10.0, 0.0, 10.0], abs=1e-9)
    assert merge.tubes[1].turn < 1e-9
