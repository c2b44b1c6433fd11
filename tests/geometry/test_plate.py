"""The flange in the plane: what its holes are cut to, where it has metal, and its relief slots."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headergen.geometry.frames import WORLD, tilted
from headergen.geometry.plate.flange import hole_outline, holes_are_apart, plate_of, seated_from, transition_lead, webs
from headergen.geometry.plate.outline import area, bounds, circle, port_outline
from headergen.model import Bolt, Flange, Frame, Port, PortShape, Tube

TUBE = Tube(42.4, 1.5, "304L")
D = PortShape("d", (40.0, 36.0, 5.0))


def port(number: int, x: float, shape: PortShape = PortShape("round", (38.0,)), transition: float = 0.0) -> Port:  # noqa: B008
    return Port(number, Frame((x, 0.0, 0.0), WORLD.x, WORLD.y, WORLD.z), shape, transition)


FLANGE = Flange(WORLD, 10.0, (Bolt((45.0, 30.0), 8.5), Bolt((45.0, -30.0), 8.5)), (port(1, 0.0), port(2, 90.0)))


def test_a_socket_takes_the_tube_and_a_butt_its_bore() -> None:
    assert area(hole_outline(FLANGE, FLANGE.ports[0], TUBE)) == pytest.approx(math.pi * 21.4**2)
    butt = replace(FLANGE, seat="butt")
    assert area(hole_outline(butt, butt.ports[0], TUBE)) == pytest.approx(math.pi * 19.7**2)


def test_a_transition_stands_in_the_plate_by_its_own_shape() -> None:
    """Steiner's formula: the port's area + perimeter·d + π·d², d being wall and room round it."""
    shaped = port(1, 0.0, D, 40.0)
    opening, d = port_outline(D), 1.5 + 0.2
    around = math.pi * 20 + 30 + 2 * 11 + math.pi * 5
    wanted = area(opening) + around * d + math.pi * d**2
    assert area(hole_outline(FLANGE, shaped, TUBE)) == pytest.approx(wanted, rel=1e-9)
    assert area(hole_outline(replace(FLANGE, seat="butt"), shaped, TUBE)) == pytest.approx(area(opening))


def test_tubes_stop_short_of_the_gasket_face() -> None:
    assert seated_from(FLANGE, FLANGE.ports[0], TUBE) == 2.0
    assert seated_from(replace(FLANGE, seat="butt"), FLANGE.ports[0], TUBE) == pytest.approx(9.7), "10, faced by 0.3"
    lean = math.radians(10)
    leaning = replace(FLANGE.ports[0], frame=tilted(FLANGE.ports[0].frame, lean, 0.0))
    start = seated_from(FLANGE, leaning, TUBE)
    lowest = start * math.cos(lean) - 21.2 * math.sin(lean)
    assert lowest == pytest.approx(2.0), "the lowest place of its flat end"


def test_the_plate_goes_a_margin_beyond_every_hole() -> None:
    low, high = bounds(plate_of(FLANGE, TUBE).outline)
    assert (*low, *high) == pytest.approx((-33.4, -46.25, 123.4, 46.25))


def test_a_relief_slot_stands_between_ports_and_leaves_land() -> None:
    plate = plate_of(replace(FLANGE, relief=8.0), TUBE)
    (slot,) = plate.slots
    low, high = bounds(slot.outline)
    assert (low[0], high[0]) == pytest.approx((41.0, 49.0), abs=1e-6)
    # the bolts above and below, 30 off, less their radius, 6 mm of web: to half a millimetre of measuring
    assert high[1] == pytest.approx(30 - 4.25 - 6, abs=0.1) and low[1] == pytest.approx(-high[1], abs=1e-9)
    assert plate_of(replace(FLANGE, relief=40.0), TUBE).slots == (), "no room for so wide a slot"


def test_land_is_the_metal_between_holes() -> None:
    near = replace(FLANGE, bolts=(Bolt((0.0, 28.0), 8.0), Bolt((0.0, -20.0), 8.0), Bolt((45.0, 0.0), 8.0)))
    found = {(what, other): web for what, other, web, _ in webs(plate_of(near, TUBE), 4.0)}
    assert found == {
        ("port 1", "bolt 1"): pytest.approx(28 - 21.4 - 4, abs=0.02),  # places half a millimetre apart
        ("port 1", "bolt 2"): pytest.approx(-(21.4 + 4 - 20), abs=0.02),
    }


def test_one_hole_on_another_is_no_land() -> None:
    twice = replace(FLANGE, bolts=(FLANGE.bolts[0], FLANGE.bolts[0]))
    (found,) = webs(plate_of(twice, TUBE), 4.0)
    assert found[2] == pytest.approx(-4.25, abs=0.02) and not holes_are_apart(plate_of(twice, TUBE))


def test_slots_stand_between_neighbours_whichever_way_the_row_runs() -> None:
    """Three ports up the plate, the middle one a little to the side: two slots, midway between neighbours."""
    spots = ((0.0, 0.0), (6.0, 90.0), (3.0, 180.0))
    ports = tuple(
        Port(k, Frame((*spot, 0.0), WORLD.x, WORLD.y, WORLD.z), PortShape("round", (38.0,)))
        for k, spot in enumerate(spots)
    )
    plate = plate_of(Flange(WORLD, 10.0, (), ports, relief=8.0), TUBE)
    middles = sorted(
        round(sum(axis) / 2) for _, axis in (zip(*bounds(slot.outline), strict=True) for slot in plate.slots)
    )
    assert middles == [45, 135]


def test_no_corner_of_a_leaning_transition_comes_nearer_to_the_face() -> None:
    """Leaning toward a corner of a square port, that corner reaches deepest; where the plate ends it ends all round."""
    lean = math.radians(12)
    square = replace(port(1, 0.0, PortShape("rectangle", (36.0, 36.0, 0.0)), 40.0))
    square = replace(square, frame=tilted(square.frame, lean, math.radians(45)))
    corner = math.hypot(18.0, 18.0) + 1.5
    start = seated_from(FLANGE, square, TUBE)
    assert start * math.cos(lean) - corner * math.sin(lean) == pytest.approx(2.0)
    top = start + transition_lead(FLANGE, square)
    assert top * math.cos(lean) - corner * math.sin(lean) == pytest.approx(9.7)


def test_a_hole_right_inside_another_is_no_land() -> None:
    inside = replace(FLANGE, bolts=(Bolt((0.0, 0.0), 8.0),))
    (found,) = webs(plate_of(inside, TUBE), 4.0)
    assert found[2] == pytest.approx(-(21.4 - 4), abs=0.02)
    assert area(circle((0.0, 0.0), 4.0)) == pytest.approx(16 * math.pi)
