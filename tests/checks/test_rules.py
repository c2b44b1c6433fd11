"""Every rule speaks exactly when it should, and in words that a shop can act on."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from headergen.checks.rules.bends import bend_range
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import (
    Bend,
    Box,
    ChassisItem,
    Cylinder,
    Draft,
    Fit,
    LengthTarget,
    MeshRef,
    NamedLine,
    Parallel,
    Plane,
    Routing,
    Step,
    Stock,
    StockBend,
    Straight,
    TubeRun,
)
from headergen.model.finding import Finding, sort_findings, worst_level
from headergen.solve.closing import close
from headergen.words.say import say_way
from tests.checks.small_header import LIMITS, draft, findings, measured, moved, rules

R = math.radians
TIGHT = [Straight(200.0), Bend(R(20), 18.0, 0.0), Straight(40.0), Bend(R(20), 18.0, R(180)), Straight(147.4)]
LOOP = [Straight(200.0), Bend(R(180), 63.5, 0.0), Bend(R(180), 63.5, 0.0), Straight(200.0)]
LEANING = [Straight(250.0), Bend(R(4), 63.5, 0.0), Straight(145.0)]
BESIDE = [Straight(150.0), Bend(R(10), 63.5, 0.0), Straight(50.0), Bend(R(10), 63.5, R(180)), Straight(168.0)]


def box(y: float, x: float = 0.0, clearance: float = 15.0, **more: object) -> ChassisItem:
    """A box 40 mm wide whose near side stands at `x` + 21.2 + the gap wanted from a straight tube along y at x = 0."""
    return ChassisItem("mount", Box(moved(WORLD, (x, y, 0.0)), (40.0, 40.0, 40.0)), clearance, **more)  # type: ignore[arg-type]


def slightly(degrees: float) -> list[Step]:
    """A straight tube that leans by so little that its own end angle is allowed."""
    return [Straight(250.0), Bend(R(abs(degrees)), 63.5, 0.0 if degrees > 0 else math.pi), Straight(149.5)]


def along_rail(degrees: float) -> Draft:
    """A tube that should run along a rail of 38 mm, 60 mm beside it where both begin, `degrees` out of line."""
    lean = math.tan(R(degrees))
    rail = NamedLine("lower rail", (60.0, 0.0, 0.0), (60.0 + 400 * lean, 400.0, 0.0), 38.0)
    made = draft(lines=(rail,))
    return replace(made, runs=(replace(made.primaries[0], parallels=(Parallel(1, "lower rail", R(1)),)),))


SHELF = Stock((StockBend(63.5, R(90), (50.0, 50.0)),), (), outside_diameter=42.4)

TROUBLES: dict[str, tuple[Draft, str]] = {
    "gap-chassis near": (draft(chassis=(box(200, x=51.2),)), "gap-chassis"),
    "gap-chassis crossing": (draft(chassis=(box(200, x=35.0),)), "gap-chassis"),
    "gap-chassis through": (draft(chassis=(box(200),)), "gap-chassis"),
    "gap-tubes near": (draft([Straight(400.0)], [Straight(400.0)], pitch=45.0), "gap-tubes"),
    "gap-tubes crossing": (draft([Straight(400.0)], [Straight(400.0)], pitch=40.0), "gap-tubes"),
    "end-position": (draft([Straight(390.0)]), "end-position"),
    "end-position beside": (draft(BESIDE), "end-position"),
    "end-angle": (draft(LEANING), "end-angle"),
    "length": (draft(length=LengthTarget(380.0, 3.0)), "length"),
    "length-spread": (draft([Straight(400.0)], [Straight(390.0)]), "length-spread"),
    "bend-radius": (draft(TIGHT), "bend-radius"),
    "own-crossing": (draft(LOOP), "own-crossing"),
    "bend-range": (draft(LOOP, routing=Routing(bends_given=True, sharpest=R(60))), "bend-range"),
    "bend-shelf radius": (draft(LEANING, stock=replace(SHELF, bends=(StockBend(50.0, R(90), (0, 0)),))), "bend-shelf"),
    "bend-shelf angle": (draft(LOOP, stock=SHELF), "bend-shelf"),
    "min-straight at the flange": (
        draft(BESIDE, limits=replace(LIMITS, port_straight=160.0)),
        "min-straight",
    ),
    "min-straight before the collector": (
        draft(BESIDE, limits=replace(LIMITS, collector_straight=170.0)),
        "min-straight",
    ),
    "min-straight between bends": (
        draft(LOOP, limits=replace(LIMITS, min_straight=40.0, bend_may_meet_bend=False)),
        "min-straight",
    ),
    "end-parallel": (
        draft(slightly(0.4), slightly(-0.4), limits=replace(LIMITS, end_position=9.0)),
        "end-parallel",
    ),
    "parallel": (along_rail(4.0), "parallel"),
    "min-straight": (draft(BESIDE, limits=replace(LIMITS, min_straight=60.0)), "min-straight"),
}


@pytest.mark.parametrize("name", TROUBLES)
def test_each_rule_speaks_when_it_should(name: str) -> None:
    made, rule = TROUBLES[name]
    assert rule in rules(made)


def test_no_rule_speaks_of_a_sound_header() -> None:
    sound = draft(
        [Straight(400.0)],
        [Straight(400.0)],
        chassis=(box(200, x=-60.0), ChassisItem("floor", Plane((0, 0, -60.0), (0, 0, 1.0)), 20.0)),
        length=LengthTarget(400.0, 3.0),
        limits=replace(LIMITS, min_straight=20.0),
        stock=SHELF,
    )
    assert findings(sound) == ()


# What a person never says: names_like_this, NamesLikeThis, and what programs print for want of a value.
FOREIGN = re.compile(r"\b\w+_\w+\b|\b[A-Z][a-z]+[A-Z]\w*\b|\bNone\b|\bnan\b|\binf\b|[{}\[\]<>=]|\b0th\b|\d{7,}")


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("name", TROUBLES)
def test_messages_name_who_what_limit_and_unit(name: str, units: str) -> None:
    made, _ = TROUBLES[name]
    for finding in findings(replace(made, units=units)):  # type: ignore[arg-type]
        assert not FOREIGN.search(finding.message), finding.message
        if finding.where == "flange":  # tubes so near leave it little metal
            continue
        assert re.match(r"Primar(y|ies) [1-9]", finding.message), "it begins with whom it is about"
        assert finding.message.endswith(".") and not finding.message.endswith("..")
        assert re.fullmatch(r"primary [1-9]\d*", finding.where)
        unit = "°" if finding.unit == "deg" else finding.unit
        assert finding.unit in (units, "deg") and unit in finding.message
        if finding.rule != "closing":
            assert finding.value is not None and finding.limit is not None
            for number in (abs(finding.value), finding.limit):
                assert _is_said(number, finding), f"{number:g} is not in: {finding.message}"


def _is_said(number: float, finding: Finding) -> bool:
    numbers = [float(text) for text in re.findall(r"\d+(?:\.\d+)?", finding.message)]
    touching = number == 0 and ("touch" in finding.message or "less than" in finding.message)
    return touching or any(abs(number - each) < 0.051 for each in numbers)


def test_a_gap_is_said_with_its_place() -> None:
    """A cube 40 mm wide, its face 10 mm off the skin from 180 to 220 mm along: too near until √(31.2² + s²) is 36.2."""
    [finding] = [f for f in findings(draft(chassis=(box(200, x=51.2),))) if f.rule == "gap-chassis"]
    reach = math.sqrt((21.2 + 15) ** 2 - 31.2**2)
    assert "is 10.0 mm from mount" in finding.message and "15.0 mm required" in finding.message
    assert "step 1 (straight)" in finding.message
    start, end = map(float, re.findall(r"too near from ([\d.]+) to ([\d.]+) mm", finding.message)[0])
    assert start == pytest.approx(180 - reach, abs=0.15) and end == pytest.approx(220 + reach, abs=0.15)
    assert finding.point == pytest.approx((31.2, finding.point[1], finding.point[2]))


def test_ways_are_named_by_what_matters() -> None:
    assert say_way((-0.7, 0.1, 0.7)) in ("up and rearward", "rearward and up")
    assert say_way((0.0, -1.0, 0.0)) == "to the right"


def test_depth_of_a_crossing() -> None:
    """The cube's face stands 15 mm from the centreline: 6.2 mm inside the skin."""
    [finding] = [f for f in findings(draft(chassis=(box(200, x=35.0),))) if f.rule == "gap-chassis"]
    assert finding.value == pytest.approx(-6.2) and "crosses mount, 6.2 mm deep" in finding.message


def test_free_length_from_the_flange() -> None:
    """The head stands on the flange face; past its free length the flat cut there is what is nearest."""
    head = ChassisItem("head", Box(moved(WORLD, (0, -50.0, 0)), (200.0, 100.0, 200.0)), 15.0)
    assert "gap-chassis" in rules(draft(chassis=(head,)))
    free = replace(head, free_from_flange=30.0)
    assert rules(draft(chassis=(free,))) == []
    [gap] = measured(draft(chassis=(free,))).gaps
    assert gap.value == pytest.approx(30.0, abs=1e-9) and gap.on_boundary
    assert measured(draft(chassis=(replace(head, free_from_flange=1000.0),))).gaps == ()


@pytest.mark.parametrize("kind", ["mesh", "box"])
def test_wholly_inside_what_it_must_avoid(kind: str) -> None:
    shape = Box(moved(WORLD, (0, 200.0, 0)), (300.0, 800.0, 300.0))
    mesh = box_mesh(shape)
    ref = MeshRef("a.stl", "0", "mm", WORLD)
    item = ChassisItem("tank", shape if kind == "box" else ref, 15.0)
    [gap] = measured(draft(chassis=(item,)), {"tank": mesh}).gaps
    assert gap.runs_through and gap.value == pytest.approx(-(150 + 21.2), abs=1e-9)
    assert "gap-chassis" in rules(draft(chassis=(item,)), {"tank": mesh})


def test_enclosures_hold_what_obstacles_keep_out() -> None:
    shape = Box(moved(WORLD, (0, 200.0, 0)), (300.0, 800.0, 300.0))
    tunnel = ChassisItem("tunnel", shape, 15.0, role="enclosure")
    assert rules(draft(chassis=(tunnel,))) == []
    away = replace(tunnel, shape=Box(moved(WORLD, (900.0, 200.0, 0)), (300.0, 800.0, 300.0)))
    said = [f.message for f in findings(draft(chassis=(away,)))]
    assert any("Primary 1 breaks out of tunnel" in message for message in said)
    assert any("flange is wholly on the wrong side of tunnel" in message for message in said)


def test_an_open_surface_has_no_inside() -> None:
    shape = Box(moved(WORLD, (0, 200.0, 0)), (300.0, 800.0, 300.0))
    closed = box_mesh(shape)
    halved = TriangleMesh(closed.vertices.copy(), closed.faces[:6].copy(), closed=False)
    item = ChassisItem("scan", MeshRef("a.stl", "0", "mm", WORLD), 15.0)
    [gap] = measured(draft(chassis=(item,)), {"scan": halved}).gaps
    assert gap.value > 0
    assert rules(draft(chassis=(item,)), {"scan": halved}) == ["mesh-side"]
    assert rules(draft(chassis=(replace(item, role="surface"),)), {"scan": halved}) == []


def test_a_nearly_closed_surface_is_believed() -> None:
    """One facet of twelve is missing: what the rest goes round nine times in ten is inside."""
    closed = box_mesh(Box(moved(WORLD, (0, 200.0, 0)), (300.0, 800.0, 300.0)))
    opened = TriangleMesh(closed.vertices.copy(), closed.faces[:-1].copy(), closed=False)
    item = ChassisItem("scan", MeshRef("a.stl", "0", "mm", WORLD), 15.0)
    [gap] = measured(draft(chassis=(item,)), {"scan": opened}).gaps
    assert gap.runs_through and gap.value == pytest.approx(-(150 + 21.2), abs=1e-9)


def test_tubes_may_close_up_on_their_collector_but_not_before() -> None:
    """43 mm apart: 0.6 mm between skins, enough for the last 13.2 of the 110 mm over which 5 mm shrink to nothing."""
    survey = measured(draft([Straight(400.0)], [Straight(400.0)], pitch=43.0))
    free, closing = survey.gaps
    assert not free.together and free.is_too_small and free.value == pytest.approx(0.6, abs=1e-9)
    assert closing.together and closing.is_too_small and closing.required == pytest.approx(5.0, abs=1e-3)
    assert [(each.start, each.end) for each in closing.near] == [pytest.approx((290.0, 400.0 - 13.2), abs=0.05)]
    assert free.near[0].start == pytest.approx(0, abs=0.05) and free.near[-1].end >= 290


def test_smallest_gap_on_the_boundary_is_marked() -> None:
    """Two tubes that converge all along come nearest where the last 110 mm of one of them begin."""
    toward = [Straight(100.0), Bend(R(3), 63.5, 0.0), Straight(297.0)]
    free = measured(draft(toward, [Straight(400.0)], pitch=75.0)).gaps[0]
    assert free.at[1] is not None
    assert free.on_boundary and free.at[1].at == pytest.approx(400 - 110, abs=0.01)


def test_primaries_without_a_legal_solid() -> None:
    from headergen.checks.judge import runs_without_solid

    assert runs_without_solid(measured(draft(TIGHT, LOOP, [Straight(400.0)], pitch=300.0))) == {
        "primary 1",
        "primary 2",
    }


def test_a_primary_that_misses_is_told_what_would_close_it() -> None:
    [hint] = [f for f in findings(draft([Straight(390.0)])) if f.rule == "closing"]
    assert hint.level == "info" and "the length of step 1 (straight)" in hint.message


def test_a_fit_that_cannot_close_says_what_stands_in_the_way() -> None:
    made = draft()
    stuck = replace(made.primaries[0], steps=(Straight(350.0),), fits=(Fit(1, "length", 300.0, 380.0),))
    said = [f for f in findings(made.with_primaries((stuck,))) if f.rule == "closing"]
    assert said[0].level == "error"
    assert "20.0 mm from bore 1" in said[0].message and "limit of 380.0 mm" in said[0].message


@pytest.mark.parametrize(
    "shape",
    [
        Box(moved(WORLD, (70.0, 150.0, 30.0)), (50.0, 60.0, 70.0)),
        Cylinder((60.0, 100.0, -80.0), (90.0, 300.0, 90.0), 44.0),
        Plane((0.0, 0.0, -70.0), (0.1, 0.0, 0.995)),
        TubeRun(((-80.0, 50.0, 20.0), (-60.0, 200.0, -40.0), (-70.0, 500.0, 0.0)), 8.0),
    ],
    ids=lambda shape: type(shape).__name__,
)
def test_two_methods_agree_on_every_kind_of_item(shape: object) -> None:
    item = ChassisItem("thing", shape, 15.0)  # type: ignore[arg-type]
    survey = measured(draft(LEANING, BESIDE, pitch=180.0, chassis=(item,)))
    assert len(survey.second_opinions) == 3
    for opinion in survey.second_opinions:
        assert opinion.agrees, opinion
        assert not replace(opinion, exact=opinion.exact + opinion.allowed + 1.0).agrees


def test_a_tube_along_a_member_says_its_gap_at_both_ends() -> None:
    """0.5° out of line over 400 mm: 60 − 21.2 − 19 mm at the start, and what the slant adds at the end."""
    [finding] = findings(along_rail(0.5))
    assert finding.level == "info" and finding.value == pytest.approx(0.5)
    start, end = map(float, re.findall(r"([\d.]+) mm from it where it begins and ([\d.]+) mm", finding.message)[0])
    assert start == pytest.approx(60 * math.cos(R(0.5)) - 40.2, abs=0.06)
    assert end == pytest.approx((60 + 400 * math.tan(R(0.5))) * math.cos(R(0.5)) - 40.2, abs=0.06)
    assert [f.level for f in findings(along_rail(4.0)) if f.rule == "parallel"] == ["error"]


def test_a_slip_joint_needs_its_depth_straight() -> None:
    made = draft(BESIDE)
    slip = replace(made.collectors[0], join="slip", slip=170.0)
    said = [f for f in findings(replace(made, collectors=(slip,))) if f.rule == "min-straight"]
    assert len(said) == 1 and "slides into the collector" in said[0].message


def test_findings_come_worst_first() -> None:
    def finding(level: str, where: str) -> Finding:
        return Finding("rule", level, where, None, None, "mm", "Words.")  # type: ignore[arg-type]

    mixed = [finding("info", "a"), finding("error", "b"), finding("warning", "a"), finding("error", "a")]
    assert [(f.level, f.where) for f in sort_findings(mixed)] == [
        ("error", "a"),
        ("error", "b"),
        ("warning", "a"),
        ("info", "a"),
    ]
    assert worst_level(mixed) == "error" and worst_level([]) is None


@pytest.mark.parametrize(("together", "told"), [(110.0, 0), (399.0, 0), (400.0, 2), (1050.0, 2)])
def test_tubes_that_may_converge_all_along_are_not_silently_clear(together: float, told: int) -> None:
    """Two tubes 400 mm long, 1 mm apart where 5 mm are required: once all of them may converge, that is said."""
    made = draft([Straight(400.0)], [Straight(400.0)], pitch=43.4, limits=replace(LIMITS, together=together))
    found = [each for each in findings(made) if each.rule == "unmeasured"]
    assert len(found) == told and all("need not keep the full gap of 5.0 mm" in each.message for each in found)


def test_one_tube_alone_has_none_to_touch() -> None:
    made = draft([Straight(400.0)], limits=replace(LIMITS, together=1050.0))
    assert "unmeasured" not in [each.rule for each in findings(made)]


def test_a_bend_of_a_right_angle_in_radians_is_asked_about() -> None:
    """π/2 is 1.57: written where degrees belong it is all but straight. A fitted angle may be what it likes."""
    steps = [Straight(200.0), Bend(math.radians(1.57), 63.5, 0.0), Straight(198.0)]
    [said] = [f for f in findings(draft(steps)) if f.rule == "bend-radians"]
    assert said.level == "warning" and "if 1.57 was meant in radians, write 90 for 90.0°" in said.message
    made = draft(steps)
    fitted = replace(made.primaries[0], fits=(Fit(2, "angle", 0.0, 1.0),))
    for other in (replace(made, runs=(fitted,)), draft([steps[0], Bend(math.radians(1.6), 63.5, 0.0), steps[2]])):
        assert not [f for f in findings(other) if f.rule == "bend-radians"]


def test_a_range_of_bends_is_judged_where_it_is_given() -> None:
    """A quarter turn and two halves of it: 90° is 30° above a range to 60°, 45° is 15° under one from 60°."""
    steps = [Straight(50.0), Bend(R(90), 63.5, 0.0), Straight(40.0), Bend(R(45), 63.5, 0.0), Straight(60.0)]

    def told(routing: Routing) -> list[str]:
        return [each.message for each in bend_range(close(draft(steps, routing=routing)))]

    assert told(Routing(bends_given=True)) == told(Routing(sharpest=R(60))) == []
    [sharp] = told(Routing(bends_given=True, sharpest=R(60)))
    assert sharp.startswith("Primary 1, step 2: the bend of 90.0° is 30.0° sharper than the 60.0° allowed; ")
    [flat] = told(Routing(bends_given=True, flattest=R(60)))
    assert flat.startswith("Primary 1, step 4: the bend of 45.0° is 15.0° flatter than the 60.0° allowed; ")
    assert told(Routing(bends_given=True, flattest=R(45), sharpest=R(90))) == []
