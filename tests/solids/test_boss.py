"""Bosses as solids: saddled, drilled, sound on any tube, and of the metal that integration gives them."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Literal

import pytest
from scipy.integrate import quad

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.curves.run import line_of
from headergen.geometry.frames import WORLD, dot, norm, point_in, rotated, unit
from headergen.model import Bolt, Boss, Box, ChassisItem, Header, Line, OutletRing, PortShape, Straight
from headergen.parts.boss import Seat, boss_seat
from headergen.parts.rooms import rooms
from headergen.pipeline import settle
from headergen.solids.boss import boss_hole, boss_solid
from headergen.solids.build import make_parts
from headergen.solids.inspect import measure
from headergen.solids.mesh import solid_mesh
from headergen.solids.shapes import common, cut, cylinder
from headergen.solve.closing import close
from tests.checks.small_header import LENGTH, draft, findings, measured, moved
from tests.random_parts import TUBE, collector

TWO_STEPS = Path(__file__).parents[1] / "two_steps" / "bogbean_four_two_one.yaml"
BOSS = Boss("lambda", "primary 1", 200.0, 0.0, 28.0, 14.0, 16.5, True)


def disc(radius: float, height: float, tube: float) -> float:
    """Metal of a full boss over a tube's skin: ∫ (R + h − √(R² − y²)) · 2√(r² − y²) dy over the disc of radius r."""

    def slice_of(y: float) -> float:
        return (tube + height - math.sqrt(tube**2 - y**2)) * 2 * math.sqrt(max(radius**2 - y**2, 0.0))

    return float(quad(slice_of, -radius, radius)[0])


@pytest.mark.parametrize(("width", "hole", "tube"), [(28.0, 16.5, 31.75), (22.0, 8.5, 21.2), (30.0, 16.5, 19.05)])
def test_metal_by_integration(width: float, hole: float, tube: float) -> None:
    seat = Seat((10.0, 20.0, 30.0), (0.0, 1.0, 0.0), unit((1.0, 0.0, 2.0)), tube, 100.0)
    solid = boss_solid(replace(BOSS, outside_diameter=width, hole=hole), seat, "boss")
    facts = measure(solid)
    assert (facts.valid, facts.closed, facts.shells) == (True, True, 1)
    wanted = disc(width / 2, 14.0, tube) - disc(hole / 2, 14.0, tube)
    # the kernel fits a curve to where two cylinders meet, to about a ten-thousandth of its length
    assert facts.volume == pytest.approx(wanted, rel=3e-5)
    assert solid_mesh(solid, 0.05, "boss").closed


def test_it_lies_against_its_tube_and_the_hole_goes_through_one_wall() -> None:
    seat = Seat((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), 21.2, 100.0)
    full = cylinder((0.0, -100.0, 0.0), (0.0, 1.0, 0.0), 21.2, 200.0)
    tube = cut(full, cylinder((0.0, -110.0, 0.0), (0.0, 1.0, 0.0), 19.7, 220.0))
    assert measure(common(tube, boss_solid(BOSS, seat, "boss"))).volume == pytest.approx(0.0, abs=1e-6)
    taken = measure(tube).volume - measure(cut(tube, boss_hole(BOSS, seat))).volume
    # the hole's prism over the outer skin less that over the bore: what the wall loses, on one side
    assert taken == pytest.approx(disc(BOSS.hole / 2, 1.5, 19.7) - disc(BOSS.hole / 2, 0.0, 21.2), rel=5e-4)


def header(**changes: object) -> Header:
    return close(draft([Straight(LENGTH)], **changes))


def test_the_clock_counts_from_up_and_turns_with_the_gas() -> None:
    """The tube of the small header runs along y; up is z; clockwise as the gas sees it, up goes to its right: +x."""
    for degrees, wanted in ((0, (0, 0, 1)), (90, (1, 0, 0)), (-90, (-1, 0, 0)), (180, (0, 0, -1))):
        made = header(bosses=(replace(BOSS, clock=math.radians(degrees)),))
        seat = boss_seat(made, made.draft.bosses[0])
        assert seat is not None and seat.out == pytest.approx(wanted, abs=1e-12)
        assert seat.place == pytest.approx((0.0, 200.0, 0.0))
        assert seat.straight == pytest.approx(200.0 - 9.7), "to the plate, 10 thick and faced by 0.3"


def test_a_tilted_engine_tilts_what_is_up() -> None:
    """Installed nose up by 5°, up is no longer the engine's z, and a boss at clock 0 stands by the plumb line."""
    up = rotated((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), math.radians(5))
    made = header(up=up, bosses=(BOSS,))
    seat = boss_seat(made, BOSS)
    assert seat is not None and dot(seat.out, (0.0, 1.0, 0.0)) == pytest.approx(0.0, abs=1e-12)
    assert math.degrees(math.asin(dot(seat.out, up))) == pytest.approx(85.0)


def test_on_an_outlet_it_counts_from_where_that_begins() -> None:
    made = collector(TUBE, 4, 10.0, 63.5)
    boss = replace(BOSS, host="main", on_outlet=True, at=20.0)
    one = header(collectors=(made,), bosses=(boss,))
    seat = boss_seat(one, boss)
    assert seat is not None and seat.radius == 31.75 and seat.straight == pytest.approx(20.0)
    assert norm(seat.place) > 130.0
    assert boss_seat(one, replace(boss, at=60.0)) is None, "the outlet tube is 50 mm long"
    assert boss_seat(one, replace(boss, host="other")) is None


def test_it_stands_where_nothing_is_round_the_tube() -> None:
    """Clear of plate (9.7), transition (2 of setback, 7.7 in the plate, 40 beyond) and the 40 mm in a sleeve."""
    made = draft([Straight(LENGTH)], bosses=(BOSS,))
    port = replace(made.flanges[0].ports[0], shape=PortShape("d", (38.0, 36.0, 5.0)), transition=40.0)
    slipped = replace(made.collectors[0], join="slip", slip=40.0)
    shaped = replace(
        made,
        flanges=(replace(made.flanges[0], ports=(port,)),),
        runs=(replace(made.primaries[0], start=port),),
        collectors=(slipped,),
    )
    for there, at, room in (
        (made, 30.0, 20.3),
        (made, 5.0, 0.0),
        (shaped, 20.0, 0.0),
        (shaped, 60.0, 10.3),
        (shaped, 345.0, 15.0),
        (shaped, 380.0, 0.0),
    ):
        boss = replace(BOSS, at=at)
        seat = boss_seat(close(there), boss)
        assert seat is not None and seat.straight == pytest.approx(room)
        said = [each for each in findings(replace(there, bosses=(boss,))) if each.rule == "boss-place"]
        assert len(said) == (1 if room < 14.0 else 0), "a boss of 28 mm reaches 14 mm each way"


def test_a_ring_takes_the_end_of_its_outlet() -> None:
    ring = OutletRing(100.0, 9.0, 0.0, 3, 84.0, 8.5, 0.0)
    made = replace(collector(TUBE, 4, 10.0, 63.5), outlet_length=50.0, end=ring)
    for at, room in ((20.0, 20.0), (30.0, 11.0), (45.0, 0.0)):
        boss = replace(BOSS, host="main", on_outlet=True, at=at)
        seat = boss_seat(header(collectors=(made,), bosses=(boss,)), boss)
        assert seat is not None and seat.straight == pytest.approx(room)


@pytest.mark.parametrize("role", ["obstacle", "surface"])
def test_a_tool_is_in_the_way_of_solids_and_of_scanned_surfaces(role: Literal["obstacle", "surface"]) -> None:
    """A bar 5 mm into the socket of 18.5 mm, whose axis runs along +y through x = 70."""
    bar = ChassisItem("bar", Box(moved(WORLD, (84.25, 40.0, 0.0)), (20.0, 10.0, 200.0)), 5.0, role)
    made = draft([Straight(LENGTH)], chassis=(bar,))
    (gap,) = measured(replace(made, flanges=(replace(made.flanges[0], bolts=(Bolt((70.0, 0.0), 8.5),)),))).reaches
    assert (gap.a, gap.b) == ("socket on bolt 1", "bar")
    assert gap.value == pytest.approx(74.25 - 70.0 - 9.25)


@pytest.mark.quick(1)
@pytest.mark.parametrize("role", ["obstacle", "surface", "enclosure"])
@pytest.mark.parametrize("free", [0.0, 35.0])
def test_a_sensor_and_sockets_on_an_outlet_have_room_beside_what_tubes_start_on(role: str, free: float) -> None:
    """A bar across the sensor of 32 mm, its face 10 mm off the axis, and across the socket of a bolt on 84 of a ring.

    Only the bolts and plugs of the head stand on what the tubes may start on.
    """
    ring = OutletRing(100.0, 9.0, 0.0, 3, 84.0, 8.5, 0.0)
    made = replace(collector(TUBE, 4, 10.0, 63.5), outlet_length=120.0, end=ring)
    base = draft([Straight(LENGTH)], collectors=(made,), bosses=(BOSS,))
    base = replace(base, flanges=(replace(base.flanges[0], bolts=(Bolt((70.0, 0.0), 8.5),)),))
    for room in rooms(close(base)):
        middle = point_in(room.shape.frame, (room.shape.start + 4.0, 0.0, room.shape.length / 2))
        bar = Box(replace(room.shape.frame, origin=middle), (20.0, 20.0, 20.0))  # 6 mm into the room
        item = ChassisItem("bar", bar, 5.0, role, free_from_flange=free)  # type: ignore[arg-type]
        gaps = {gap.a: gap for gap in measured(replace(base, chassis=(item,))).reaches if gap.b == "bar"}
        is_left_out = room.what == "socket on bolt 1" and free > 0.0
        assert (room.what not in gaps) if is_left_out else gaps[room.what].value == pytest.approx(-6.0), room.what


def test_sockets_stand_on_their_bolts() -> None:
    made = header()
    flange = replace(made.draft.flanges[0], bolts=(Bolt((50.0, 10.0), 8.5), Bolt((50.0, -10.0), 10.5)))
    found = list(rooms(replace(made, draft=replace(made.draft, flanges=(flange,)))))
    assert [room.what for room in found] == ["socket on bolt 1", "socket on bolt 2"]
    # the face of the small header looks along +y; the faced plate is 9.7 mm thick
    assert found[0].shape.frame.origin == pytest.approx((50.0, 9.7, -10.0))
    assert found[0].shape.frame.z == pytest.approx((0.0, 1.0, 0.0))
    assert [room.shape.start for room in found] == [9.25, 12.0]
    own = replace(flange, tool=(30.0, 120.0))
    (first, _) = rooms(replace(made, draft=replace(made.draft, flanges=(own,))))
    assert (first.shape.start, first.shape.length) == (15.0, 120.0)


@pytest.mark.slow
def test_on_a_secondary(tmp_path: Path) -> None:
    """From where the outlet ends, on the tube as wide as that outlet; the hole comes out of the secondary alone."""
    header = settle(TWO_STEPS)
    line = line_of(header.run("secondary inner"))
    straight = next(s for s in line.segments if isinstance(s, Line) and s.length > 40)
    at = sum(s.length for s in line.segments[: line.segments.index(straight)]) + straight.length / 2
    boss = replace(BOSS, host="secondary inner", at=at, clock=0.5, thread="M18x1.5")
    there = replace(header, draft=replace(header.draft, bosses=(boss,)))
    seat = boss_seat(there, boss)
    assert seat is not None and seat.radius == 25.4 and seat.straight == pytest.approx(straight.length / 2)
    parts, overlaps = make_parts(there, tmp_path, lambda *_: None)
    assert overlaps == ()
    volumes = {part.name: part.volume for part in parts}
    full = {
        each.name: math.pi * (25.4**2 - 23.9**2) * line_of(each).length for each in header.runs if not each.is_primary
    }
    # the wall of 1.5 seen along the hole is that thick in the middle, and a little more beside it
    assert 1.5 < (full["secondary inner"] - volumes["secondary inner"]) / (math.pi * 8.2**2) < 1.6
    assert volumes["secondary outer"] == pytest.approx(full["secondary outer"], rel=1e-9)
    assert "boss lambda M18x1.5" in volumes
    (seen,) = [f for f in judge(survey(there, {})) if f.rule == "sensor-sees"]
    assert seen.value == 50.0, "two of four cylinders blow through it"


def test_a_socket_is_in_the_way_of_a_wide_transition() -> None:
    """A port 60 wide: the sheet's outside is 30 mm and its wall off the middle where it leaves the plate.

    From there it comes in to the tube, so the socket of 18.5 mm is nearest to it at its foot.
    """
    made = draft([Straight(LENGTH)])
    port = replace(made.flanges[0].ports[0], shape=PortShape("rectangle", (60.0, 36.0, 4.0)), transition=40.0)
    flange = replace(made.flanges[0], ports=(port,), bolts=(Bolt((44.0, 0.0), 8.5), Bolt((0.0, 42.0), 8.5)))
    primaries = (replace(made.primaries[0], start=port),)
    gaps = {gap.a: gap for gap in measured(replace(made.with_primaries(primaries), flanges=(flange,))).reaches}
    assert gaps["socket on bolt 1"].b == "transition 1"
    assert gaps["socket on bolt 1"].value == pytest.approx(44.0 - 9.25 - 31.5, abs=0.01)
    assert "socket on bolt 2" not in gaps, "there it stands 13 mm off, and 11 off the tube"
    closer = replace(flange, bolts=(Bolt((36.0, 0.0), 8.5),))
    (said,) = [f for f in findings(replace(made.with_primaries(primaries), flanges=(closer,))) if f.rule == "reach"]
    assert said.level == "warning" and "transition 1" in said.message


def test_a_socket_on_an_outlet_ring_meets_the_cone_behind_it() -> None:
    """An outlet of 20 mm is shorter than the socket of 75: round its bolts on 70 the cone comes in its way."""
    for length, clear in ((20.0, False), (120.0, True)):
        ring = OutletRing(100.0, 9.0, 0.0, 3, 84.0, 8.5, 0.0)
        made = replace(collector(TUBE, 4, 10.0, 63.5), outlet_length=length, end=ring)
        gaps = [gap for gap in measured(draft([Straight(LENGTH)], collectors=(made,))).reaches if "outlet" in gap.a]
        assert len(gaps) == 3
        assert all((gap.value >= 0.0) == clear for gap in gaps)
        assert {gap.b.split()[0] for gap in gaps} == ({"outlet"} if clear else {"merge"})
