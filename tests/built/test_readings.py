"""Readings of every kind say where a face is, together by least squares; one that cannot be is named."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from half_built_runs import RADIUS, Cut, Ground, built, in_pieces, rim_reading, walked
from scipy.spatial.transform import Rotation

from headergen.built.least_work import corrected
from headergen.built.readings import ReadingError, brought_together
from headergen.built.state import half_built
from headergen.model import EndReading, FeelerRow, JointAsBuilt, PieceAsBuilt, PlateReading, TableReading, Vec

CUTS = [
    Cut(90.0),
    Cut(20.0, math.radians(70), 63.5, 25.0),
    Cut(80.0),
    Cut(20.0, math.radians(55), 63.5, 20.0, 1.1),
    Cut(100.0),
]


def vec(values: np.ndarray) -> Vec:
    x, y, z = (float(each) for each in values)
    return (x, y, z)


def real(upto: int) -> Ground:
    """The pieces as a hand has made them."""
    rng = np.random.default_rng(3)
    ground = Ground()
    for cut in CUTS[:upto]:
        angle = cut.angle + math.radians(0.6) * (cut.angle > 0)
        ground.walk(replace(cut, first=cut.first + 0.7, angle=angle, lean=0.006, toward=rng.uniform(0, 6)))
    return ground


def found(held: int, *readings: EndReading, tacked: tuple[int, ...] = ()) -> tuple[np.ndarray, np.ndarray]:
    half, _ = brought_together(half_built(in_pieces(CUTS), built("primary 1", range(held), readings, tacked), 0.4))
    axes, at = half.ends()[readings[0].piece]
    return axes, at


def table_reading(held: int, flat: int) -> EndReading:
    """By hand: from the start of the bend that lies flat, its centre to the left, up is square to both."""
    begins = real(flat - 1)
    rng = np.random.default_rng(3)
    toward = [rng.uniform(0, 6) for _ in CUTS][flat - 1]
    begins.lean(0.006, toward)
    begins.turn(CUTS[flat - 1].turn)
    begins.go(CUTS[flat - 1].first + 0.7)
    end = real(held)
    left, up, along = begins.axes.inv().apply(end.point - begins.point)
    lean = math.asin(float(begins.axes.inv().apply(end.axes.apply([0, 0, 1]))[1]))
    return EndReading(held, table=TableReading(flat, up, left, along, lean))


def test_point_and_direction_are_where_the_end_is() -> None:
    end = real(3)
    axes, at = found(3, EndReading(3, point=vec(end.point), direction=vec(end.axes.apply([0, 0, 2.0]))))
    assert at == pytest.approx(end.point, abs=1e-3)
    assert axes[:, 2] == pytest.approx(end.axes.apply([0, 0, 1]), abs=1e-5)


def test_height_offset_and_lean_are_read_against_the_bend_that_lies_flat() -> None:
    """What is before that bend is not read: the end follows it there as planned, or as another reading says."""
    start = real(1)
    first = EndReading(1, point=vec(start.point), direction=vec(start.axes.apply([0, 0, 1])))
    table = table_reading(3, 2)
    half, _ = brought_together(half_built(in_pieces(CUTS), built("primary 1", range(3), (first, table)), 0.4))
    flat_axes, flat_at = half.start_of(1)
    flat_at = flat_at + half.pieces[1].first * flat_axes[:, 2]
    axes, at = half.forward()[3]
    read = table.table
    assert read is not None
    offset, height, along = flat_axes.T @ (at - flat_at)
    assert (height, offset, along) == pytest.approx((read.height, read.offset, read.along), abs=2e-3)
    assert math.asin(float(axes[:, 2] @ flat_axes[:, 1])) == pytest.approx(read.lean, abs=1e-5)


def test_feelers_in_the_plate_say_where_a_held_end_is() -> None:
    """The axis is 0.2 mm toward 12 o'clock at one row and 0.1 mm toward 3 o'clock at the other."""
    tube = in_pieces(CUTS)
    rows = (FeelerRow(5.0, (0.1, 0.3, 0.5, 0.3)), FeelerRow(65.0, (0.3, 0.2, 0.3, 0.4)))
    reading = EndReading(5, plate=PlateReading(2 * RADIUS + 0.6, rows))
    axes, at = found(1, reading, tacked=(4, 5))
    bore, origin = tube.chain.frames[-1], tube.chain.origins[-1]
    place, way = bore.T @ (at - origin), bore.T @ axes[:, 2]
    for row, off in ((rows[0], (0.2, 0.0)), (rows[1], (0.0, 0.1))):
        assert (place + way * (-row.at - place[2]) / way[2])[:2] == pytest.approx(off, abs=1e-4)


def test_several_readings_meet_by_least_squares() -> None:
    """Two readings of one face, 0.4 mm apart: it is in the middle, and each is left 0.2 mm off."""
    end = real(3)
    way, aside = end.axes.apply([0, 0, 1]), end.axes.apply([0.4, 0, 0])
    readings = tuple(
        EndReading(3, point=vec(end.point + by), direction=vec(way), within=0.3) for by in (0 * aside, aside)
    )
    half, (left,) = brought_together(half_built(in_pieces(CUTS), built("primary 1", range(3), readings), 0.4))
    assert half.forward()[3][1] == pytest.approx(end.point + aside / 2, abs=1e-3)
    assert left.each == pytest.approx([0.2 / 0.3 / math.sqrt(5)] * 2, abs=1e-3), "of five figures one is off"


def test_a_reading_that_disagrees_with_two_others_is_named() -> None:
    end = real(3)
    way = vec(end.axes.apply([0, 0, 1]))
    off = end.point + end.axes.apply([9.0, 0, 0])
    readings = [EndReading(3, point=vec(p), direction=way) for p in (end.point, end.point, off, end.point)]
    with pytest.raises(ReadingError, match="disagrees with the other readings") as named:
        brought_together(half_built(in_pieces(CUTS), built("primary 1", range(3), tuple(readings)), 0.4))
    assert named.value.index == 2


def test_a_point_off_the_rim_is_named() -> None:
    good = rim_reading(real(3), 3, "end", np.random.default_rng(1), 0.02)
    far = list(good.rim)
    far[1] = vec(np.array(far[1]) + 9.0 * real(3).axes.apply([0, 0, 1]))
    with pytest.raises(ReadingError, match=r"off the circle|lie on a circle"):
        found(3, replace(good, rim=tuple(far)))


def test_a_hole_that_does_not_fit_its_gaps_is_named() -> None:
    rows = (FeelerRow(5.0, (0.1, 0.3, 0.5, 0.3)), FeelerRow(65.0, (0.3, 0.2, 0.3, 0.4)))
    with pytest.raises(ReadingError, match=r"the hole is 2\.60 mm wider than the tube"):
        found(1, EndReading(5, plate=PlateReading(2 * RADIUS + 2.6, rows)), tacked=(4, 5))


def test_measured_pieces_and_joints_count_where_nothing_else_is_read() -> None:
    own = replace(
        built("primary 1", range(3), ()),
        pieces=(PieceAsBuilt(2, radius=64.0, angle=math.radians(71), legs=(21.0, 24.0)), PieceAsBuilt(3, length=79.0)),
        joints=(JointAsBuilt(1, marks=(60.0, 59.4), pulled=0.01, toward=0.5, clocking=0.02),),
    )
    half, _ = brought_together(half_built(in_pieces(CUTS), own, 0.4))
    as_made = [CUTS[0], Cut(21.0 - 0.2, math.radians(71), 64.0, 24.0, 0.02, 0.01, 0.5), Cut(79.0)]
    axes, at = half.forward()[3]
    end = walked(as_made)
    assert at == pytest.approx(end.point, abs=1e-9)
    assert Rotation.from_matrix(axes).as_matrix() == pytest.approx(end.axes.as_matrix(), abs=1e-9)


@pytest.mark.slow
def test_a_tack_that_may_turn_is_turned_but_not_cut() -> None:
    """Its bend has its angle, and its face is square; what follows is free."""
    end = real(1)
    reading = EndReading(1, point=vec(end.point), direction=vec(end.axes.apply([0, 0, 1])))
    held = replace(built("primary 1", range(1), (reading,), (1,)), may_turn=(1,))
    half, _ = brought_together(half_built(in_pieces(CUTS), held, 0.4))
    correction, _ = corrected(half, None)
    assert correction.closes
    assert {act.kind for act in correction.acts if act.piece == 2 and act.end == "start"} <= {"turn"}
    assert not any(act.kind == "angle" and act.piece == 2 for act in correction.acts)
    stays, _ = corrected(replace(half, held=half.held | {1}, turning=frozenset()), None)
    assert not any(act.kind == "turn" and act.piece == 2 for act in stays.acts), "a tack that may not turn"


def test_a_finished_run_needs_nothing() -> None:
    half, _ = brought_together(half_built(in_pieces(CUTS), built("primary 1", range(6), ()), 0.4))
    correction, _ = corrected(half, None)
    assert correction.closes and correction.acts == ()
