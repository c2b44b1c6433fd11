"""Every finding of every rule names who it is about, its value, its limit and the unit, in words of the shop."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path
from typing import Literal

import pytest

import headergen.checks.rules as rules_folder
from headergen.checks.judge import PATH_RULES, SURVEY_RULES, judge_made
from headergen.checks.rules.closes_rarely import closes_rarely
from headergen.checks.rules.half_built import half_built
from headergen.checks.rules.nine_in_ten import nine_in_ten, not_judged
from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import WORLD, frame_from_normal, point_in, tilted
from headergen.model import (
    Bend,
    Bolt,
    Bore,
    Boss,
    Box,
    ByHand,
    ChassisItem,
    Closing,
    Cylinder,
    Draft,
    Fit,
    Flange,
    GapByHand,
    Growth,
    Header,
    HeaderRef,
    LengthTarget,
    Limits,
    NamedLine,
    Outlet,
    Overlap,
    Parallel,
    Plane,
    Plug,
    PortShape,
    Routing,
    Run,
    RunAsBuilt,
    RunByHand,
    Side,
    Step,
    Stock,
    StockBend,
    Straight,
    Tabs,
    Tube,
    TubeRun,
    Vec,
    primary_name,
    secondary_name,
)
from headergen.model.finding import LEVELS, Finding
from headergen.model.fitted import Bracket, BracketFoot
from headergen.parts.kind import nothing
from headergen.parts.table import KINDS
from tests.checks.small_header import FACE, LENGTH, LIMITS, draft, findings, moved, turned_over
from tests.checks.wrong_meshes import BAY, MESHES, WITH_ERRORS, of_mesh
from tests.lots import together

R = math.radians
ONE: list[Step] = [Straight(LENGTH)]
LEAN: list[Step] = [Straight(300.0), Bend(R(6), 63.5, 0.0), Straight(94.0)]
RING: list[Step] = [Straight(200.0), Bend(R(180), 63.5, 0.0), Bend(R(180), 63.5, 0.0), Straight(200.0)]
TIGHT: list[Step] = [Straight(200.0), Bend(R(20), 18.0, 0.0), Straight(180.0)]
GROWN: list[Step] = [
    Straight(200.0),
    Straight(20.0, Growth(46.0, 1.5, "slip", (240.0, 260.0))),
    Straight(180.0),
]
SHELF = Stock((StockBend(63.5, R(90), (50.0, 50.0)), StockBend(76.2, R(45), (0.0, 0.0))), (), outside_diameter=42.4)
OTHER = trace(frame_from_normal((30.0, 0.0, 30.0), (0.0, 1.0, 0.0)), [Straight(300.0), Bend(R(30), 63.5, 0.0)])


def limits(**changes: float | bool) -> Limits:
    return replace(LIMITS, **changes)  # type: ignore[arg-type]


def beside(*shapes: object, **more: object) -> Draft:
    """One straight tube and an item for each shape."""
    items = (ChassisItem(f"item {n}", shape, 15.0, **more) for n, shape in enumerate(shapes, 1))  # type: ignore[arg-type]
    return draft(chassis=tuple(items))


def cube(x: float, y: float = 200.0, size: float = 40.0) -> Box:
    return Box(moved(WORLD, (x, y, 0.0)), (size, size, size))


def fitted(steps: list[Step], fit: Fit, **changes: object) -> Draft:
    made = draft(**changes)
    return made.with_primaries((replace(made.primaries[0], steps=tuple(steps), fits=(fit,)),))


def along(line: NamedLine, degrees: float) -> Draft:
    made = draft(lines=(line,))
    return replace(made, runs=(replace(made.primaries[0], parallels=(Parallel(1, line.name, R(degrees)),)),))


def crossed() -> Draft:
    """Two tubes that each end on the other's bore."""
    made = draft(ONE, ONE, pitch=100.0)
    one, two = made.primaries
    frame = moved(made.collectors[0].frame, point_in(made.collectors[0].frame, (50.0, 0.0, 0.0)))
    primaries = (replace(one, end=two.end), replace(two, end=one.end))
    return replace(made, runs=primaries, collectors=(replace(made.collectors[0], frame=frame),))


def merging(*shapes: object) -> Draft:
    made = beside(*shapes)
    collector = replace(made.collectors[0], join="slip", slip=40.0, half_angle=R(10), outlet=30.0, outlet_length=80.0)
    return replace(made, collectors=(collector,))


def around(count: int) -> list[tuple[float, float]]:
    """Bores touching, on a ring."""
    radius = 23.0 / math.sin(math.pi / count)
    angles = [2 * math.pi * k / count for k in range(count)]
    return [(radius * math.cos(angle), radius * math.sin(angle)) for angle in angles]


def bundle(places: list[tuple[float, float]], outlet: float, slip: float = 40.0) -> Draft:
    """Tubes far apart at the flange, of whose ends nothing is asked, into a collector with its bores at `places`."""
    made = draft(*[ONE for _ in places], pitch=200.0)
    frame = made.collectors[0].frame
    bores = [
        replace(bore, frame=moved(frame, point_in(frame, (*place, 0.0))))
        for bore, place in zip(made.collectors[0].bores, places, strict=True)
    ]
    collector = replace(made.collectors[0], bores=tuple(bores), join="slip", slip=slip, half_angle=R(10), outlet=outlet)
    return replace(made, collectors=(collector,))


def spiked(degrees: float) -> Draft:
    made = bundle(around(3), 57.0)
    return replace(made, collectors=(replace(made.collectors[0], half_angle=R(degrees), spike=True),))


def tabbed(tabs: Tabs) -> Draft:
    made = bundle(around(4), 63.5)
    return replace(made, collectors=(replace(made.collectors[0], tabs=tabs),))


def boss(host: int | str, at: float, **changes: float) -> Boss:
    name = primary_name(host) if isinstance(host, int) else host
    made = Boss("lambda", name, at, 0.0, 28.0, 14.0, 16.5, True, on_outlet=isinstance(host, str))
    return replace(made, **changes)  # type: ignore[arg-type]


def braced(*places: tuple[float, float], pitch: float = 70.0, hole: float = 0.0, path: list[Step] = ONE) -> Draft:
    """Brackets between two tubes, 30 mm long."""
    brackets = (
        Bracket(f"{k}", (BracketFoot("primary 1", one), BracketFoot("primary 2", other)), 3.0, 30.0, hole)
        for k, (one, other) in enumerate(places, 1)
    )
    return draft(path, ONE, pitch=pitch, fitted=tuple(brackets))


def shaped(shape: PortShape, transition: float = 0.0) -> Draft:
    made = draft()
    port = replace(made.flanges[0].ports[0], shape=shape, transition=transition)
    primary = replace(made.primaries[0], start=port)
    return replace(made, flanges=(replace(made.flanges[0], ports=(port,)),), runs=(primary,))


def leaning(degrees: float, transition: float = 0.0) -> Draft:
    """The port leaned toward the flange's x."""
    made = draft()
    port = made.ports[0]
    port = replace(port, frame=tilted(port.frame, R(degrees), 0.0), transition=transition)
    return replace(made, flanges=(replace(made.flanges[0], ports=(port,)),))


def second(*steps: Step) -> Draft:
    """A tube of 50.8 mm from an outlet elsewhere, with 400 mm to go, 30 of them into its collector."""
    start, bore = moved(FACE, (300.0, 0.0, 0.0)), moved(FACE, (300.0, LENGTH, 0.0))
    name, made = secondary_name("front"), draft()
    tube = Run(name, Tube(50.8, 1.5, "304L"), Outlet("front", start), Bore("main", 1, primary_name(name), bore), steps)
    collectors = (replace(made.collectors[0], join="slip", slip=30.0),)
    return replace(made, runs=(*made.runs, tube), collectors=collectors)


def branched(at: float, along: Vec, path: list[Step] = ONE, wide: float = 42.4) -> Draft:
    """Primary 2 joins the side of primary 1."""
    made = draft(path, ONE)
    one, two = made.runs
    side = replace(two.end, side=Side("primary 1", at, along))
    return replace(made, runs=(one, replace(two, end=side, tube=replace(two.tube, outside_diameter=wide))))


PORTS = draft().flanges[0].ports
TWO_PORTS = draft(ONE, ONE).flanges[0].ports
WRONG: dict[str, Draft] = {
    "a step too near the port": draft(GROWN),
    "a port that leans far": leaning(40.0),
    "a port that leans far, with a transition": leaning(75.0, 40.0),
    "items near": beside(cube(51.2), Cylinder((31.0, 100.0, 0.0), (31.0, 200.0, 0.0), 10.0)),
    "items crossing": beside(cube(35.0), TubeRun(((20.0, 50.0, -90.0), (20.0, 50.0, 90.0)), 6.0), cube(0.0)),
    "a cable that just touches": beside(TubeRun(((24.2, 50.0, -90.0), (24.2, 50.0, 90.0)), 6.0)),
    "a hair from the skin": beside(cube(41.21), cube(41.19)),
    "floors": beside(Plane((0, 0, -30.0), (0, 0, 1.0)), Plane((0, 0, 60.0), (0, 0, 1.0))),
    "another header": beside(HeaderRef("other.yaml", "0", ((OTHER, 42.4),))),
    "in a tank": beside(Box(moved(WORLD, (0, 200.0, 0)), (300.0, 800.0, 300.0))),
    "out of a tunnel": beside(Box(moved(WORLD, (900.0, 200.0, 0)), (300.0, 800.0, 300.0)), role="enclosure"),
    "through a tunnel's wall": beside(Box(moved(WORLD, (0, 500.0, 0)), (300.0, 800.0, 300.0)), role="enclosure"),
    "near a tunnel's wall": beside(Box(moved(WORLD, (0, 200.0, 0)), (60.0, 800.0, 300.0)), role="enclosure"),
    "left free throughout": beside(cube(200.0), free_from_flange=500.0),
    "on a head": beside(cube(0.0, y=-50.0, size=100.0), free_from_flange=10.0),
    "tubes near": draft(ONE, ONE, pitch=45.0),
    "tubes crossing": draft(ONE, ONE, pitch=40.0),
    "tubes crossing in the bundle": draft(LEAN, ONE, pitch=48.0, limits=limits(between_tubes=0.0)),
    "near where the bundle begins": draft([Straight(100.0), Bend(R(3), 63.5, 0.0), Straight(297.0)], ONE, pitch=60.0),
    "a collector's normal turned over": turned_over(draft()),
    "bores the wrong way round": crossed(),
    "a normal turned over, and short of it": turned_over(draft([Straight(250.0)], [Straight(250.0)])),
    "ends off": draft(LEAN, [Straight(390.0)], [Straight(410.0)], pitch=200.0),
    "lengths": draft(ONE, [Straight(380.0)], length=LengthTarget(390.0, 3.0)),
    "spread": draft(ONE, [Straight(380.0)]),
    "ring": draft(RING),
    "tight": draft(TIGHT),
    "not on the shelf": draft([Straight(200.0), Bend(R(9), 70.0, 0.0), Straight(190.0)], stock=SHELF),
    "too much for the shelf": draft(RING, stock=SHELF),
    "a bend hardly sold": draft([Straight(200.0), Bend(R(20), 35.0, 0.0), Straight(180.0)]),
    "a second tube with a bend hardly sold": second(Straight(200.0), Bend(R(20), 40.0, 0.0), Straight(180.0)),
    "a shelf of another tube": draft(stock=replace(SHELF, outside_diameter=48.3)),
    "a shelf of nobody knows what": draft(stock=replace(SHELF, outside_diameter=None)),
    "a material nobody knows": draft(tube=Tube(42.4, 1.5, "stainless")),
    "far away": beside(cube(6000.0), Plane((0, 0, -7000.0), (0, 0, 1.0))),
    "far outside": beside(Box(moved(WORLD, (9000.0, 200.0, 0)), (300.0, 800.0, 300.0)), role="enclosure"),
    "too wide a port": shaped(PortShape("oval", (50.0, 30.0))),
    "too round a port": shaped(PortShape("round", (42.6,))),
    "short straights": draft(LEAN, limits=limits(min_straight=95.0, port_straight=310.0, collector_straight=120.0)),
    "a bend in radians": draft([Straight(200.0), Bend(R(1.57), 63.5, 0.0), Straight(198.0)]),
    "bends out of the range given": draft(
        [Straight(100.0), Bend(R(12), 63.5, 0.0), Straight(80.0), Bend(R(95), 63.5, 0.0), Straight(100.0)],
        routing=Routing(flattest=R(15), sharpest=R(90), bends_given=True),
    ),
    "bend on bend": draft(RING, limits=limits(min_straight=40.0, bend_may_meet_bend=False)),
    "not parallel": along(NamedLine("rail", (60.0, 0.0, 0.0), (90.0, 400.0, 0.0), 38.0), 1.0),
    "parallel": along(NamedLine("rail", (60.0, 0.0, 0.0), (60.5, 400.0, 0.0), 38.0), 1.0),
    "into the rail": along(NamedLine("rail", (30.0, 0.0, 0.0), (60.0, 400.0, 0.0), 38.0), 1.0),
    "leaning apart": draft(
        [Straight(250.0), Bend(R(0.4), 63.5, 0.0), Straight(149.5)],
        [Straight(250.0), Bend(R(0.4), 63.5, math.pi), Straight(149.5)],
        limits=limits(end_position=9.0),
    ),
    "would close": draft([Straight(390.0)]),
    "cannot close": fitted([Straight(350.0)], Fit(1, "length", 300.0, 380.0)),
    "closes at another length": fitted(ONE, Fit(1, "length", 300.0, 500.0), length=LengthTarget(420.0, 3.0)),
    "parts": merging(cube(0.0, y=430.0), cube(60.0, y=560.0), Plane((0, 900.0, 0), (0, -1.0, 0))),
    "bores off their ring": bundle([(60.0, 0.0), (106.0, 0.0), (60.0, 46.0)], 63.5),
    "an outlet too wide": bundle(around(4), 160.0),
    "an outlet too narrow": bundle(around(4), 5.0),
    "an outlet narrower than a tube": bundle(around(4), 40.0),
    "sleeves too short": bundle(around(4), 63.5, slip=2.0),
    "an open middle": bundle(around(6), 108.0),
    "narrowest before the outlet": bundle(around(2), 82.0),
    "a port far from its tube's round": shaped(PortShape("d", (36.0, 24.0, 6.0))),
    "a port farther round than its tube": shaped(PortShape("rectangle", (44.0, 44.0, 3.0)), transition=40.0),
    "a port less far round than its tube": shaped(PortShape("oval", (36.0, 28.0)), transition=40.0),
    "a port with a short transition": shaped(PortShape("rectangle", (34.0, 34.0, 1.0)), transition=3.0),
    "a port with a long transition": shaped(PortShape("round", (39.4,)), transition=500.0),
    "a boss in a bend": draft(LEAN, bosses=(boss(1, 303.0),)),
    "a boss past the end": draft(bosses=(boss(1, 500.0),)),
    "a boss past the end of an outlet": replace(bundle(around(4), 63.5), bosses=(boss("main", 500.0),)),
    "a boss on no outlet": draft(bosses=(boss("main", 20.0),)),
    "a boss as wide as its tube": draft(bosses=(boss(1, 200.0, outside_diameter=42.0),)),
    "a sensor that hangs": draft(bosses=(boss(1, 200.0, clock=R(95)),)),
    "a sensor that lies": draft(bosses=(boss(1, 200.0, clock=R(85)),)),
    "a sensor on one of two": draft(ONE, ONE, bosses=(boss(1, 200.0),)),
    "a sensor under a beam": draft(chassis=(ChassisItem("beam", cube(0.0), 1.0),), bosses=(boss(1, 160.0),)),
    "a plug behind a tube": draft(plugs=(Plug("plug 1", (-80.0, 60.0, 0.0), (1.0, 0.0, 0.0), 24.0, 150.0),)),
    "holes in a row": draft(flanges=(Flange(FACE, 10.0, (Bolt((27.0, 0.0), 8.5), Bolt((0.0, 24.0), 8.5)), PORTS),)),
    "a spike without room": spiked(35.0),
    "a slot between near ports": draft(ONE, ONE, flanges=(Flange(FACE, 10.0, (), TWO_PORTS, relief=40.0),)),
    "a plate with a narrow rim": draft(flanges=(Flange(FACE, 10.0, (), PORTS, margin=2.0),)),
    "a secondary that ends off": second(Straight(380.0)),
    "a secondary that leans": second(Straight(300.0), Bend(R(6), 76.2, 0.0), Straight(92.0)),
    "a secondary bent in its socket": second(Straight(380.0), Bend(R(10), 76.2, 0.0), Straight(5.0)),
    "a secondary bent too tight": second(Straight(300.0), Bend(R(20), 24.0, 0.0), Straight(92.0)),
    "a secondary in a ring": second(Straight(200.0), Bend(R(180), 76.2, 0.0), Bend(R(180), 76.2, 0.0), Straight(200.0)),
    "a spring too long": tabbed(Tabs(900.0)),
    "a tab longer than its sleeve": tabbed(Tabs(80.0, length=60.0)),
    "brackets that nothing holds": braced((120.0, 500.0), (20.0, 20.0), (200.0, 280.0)),
    "a bracket without a hole's rim": braced((120.0, 120.0), hole=24.0),
    "a bracket too long": braced((120.0, 120.0), pitch=200.0),
    "a bracket too short": braced((120.0, 120.0), pitch=44.0),
    "a bracket in a tube": braced((120.0, 120.0), pitch=42.0),
    "a bracket on a bend": braced((305.0, 305.0), path=LEAN),
    "a bracket at a boss": replace(braced((120.0, 120.0)), bosses=(boss(1, 148.0, clock=R(90)),)),
    "a branch in a bend": branched(330.0, (0.0, 0.0, 1.0), LEAN),
    "a branch too near the end": branched(LENGTH - 5.0, (0.0, 0.0, 1.0)),
    "a branch past the end": branched(LENGTH + 20.0, (0.0, 0.0, 1.0)),
    "a branch nearly along": branched(200.0, (0.1, 1.0, 0.0)),
    "a branch wider than its run": branched(200.0, (0.0, 0.0, 1.0), wide=60.3),
    "a hand away from the sleeve": merging(cube(55.0, y=380.0)),
}
SHARING = "parts that share metal"
BY_HAND, NOT_BUILT = "less left by hand than asked for", "a bench that cannot be planned"
RARELY, HALF = "closes rarely by hand", "half built"
MESH = "a mesh: "
NAMES = (*WRONG, SHARING, BY_HAND, NOT_BUILT, RARELY, HALF, *(f"{MESH}{name}" for name in MESHES))
BOTH = tuple(product(NAMES, ("mm", "in")))


def built_gap(other: str, left: float) -> GapByHand:
    return GapByHand("primary 1", other, 6.5, 0.0, left, left, left, True, (0.0, 0.0, 0.0))


@cache
def said_of(name: str, units: Literal["mm", "in"]) -> tuple[Finding, ...]:
    """What is said of one header, surveyed when it is first asked for."""
    if name == SHARING:
        return tuple(judge_made(draft(), (), [Overlap(("spike main", "collector main"), 12.34)]))
    if name in (BY_HAND, NOT_BUILT):
        asked = replace(draft(ONE, ONE), limits=limits(nine_in_ten=4.0), units=units)
        gaps = (built_gap("primary 2", 3.2), built_gap("floor", -1.4))
        return tuple(nine_in_ten(asked, ByHand((), gaps)) if name == BY_HAND else not_judged(asked, "it took too long"))
    if name == RARELY:
        closing = Closing(2, 0.677, 0.9, 0.1, 1.0, 0.1, 0.1, 0.0, 0.0, 1, (-1.0, 1.0), 9.0)
        runs = [RunByHand("primary 1", (), (), (5.0, 9.0), 0.0, closing)]
        return tuple(closes_rarely(ByHand(tuple(runs), ()), "mm"))
    if name == HALF:
        return tuple(half_built(Header(replace(draft(ONE), as_built=(RunAsBuilt("primary 1"),)), (), ())))
    if name.startswith(MESH):
        return of_mesh(name.removeprefix(MESH), units)
    return findings(replace(WRONG[name], units=units))


def each_finding(check: Callable[[Finding, str], None]) -> Callable[..., None]:
    """The check of every finding of every header, in both systems of units."""

    def checked(name: str, units: Literal["mm", "in"]) -> None:
        for finding in said_of(name, units):
            check(finding, units)

    checked.__doc__ = check.__doc__
    return together(("name", "units"), BOTH)(checked)


WITHOUT_NUMBERS = ("not_made",)  # test_not_made.py


def test_every_rule_has_spoken() -> None:
    """The codes that stand in the rules' own files, whatever rules there are, all occur among these headers."""
    files = [path for folder in rules_folder.__path__ for path in Path(folder).glob("*.py")]
    files = [path for path in files if path.stem not in WITHOUT_NUMBERS]
    said = r'"((?:mesh|gap)-[a-z]+)",\s|rule="([a-z-]+)"'  # by name, or in its place
    codes = {one or other for path in files for one, other in re.findall(said, path.read_text())}
    codes |= {f"{kind.role}-place" for kind in KINDS if kind.demands is not nothing}
    assert len(codes) >= len(PATH_RULES + SURVEY_RULES) - 2, "two rules may share a code"
    assert codes == {finding.rule for name in NAMES for finding in said_of(name, "mm")}


NO_NUMBERS = (  # nothing is measured there, or what is measured stands in words
    "tube-material",
    "gap-not-built",
    "half-built",
    "mesh-units",
    "mesh-read",
    "mesh-points",
    "mesh-hole",
    "mesh-mirror",
    "mesh-role",
    "mesh-side",
    "mesh-open",
)
NO_ERROR = (
    RARELY,
    HALF,
    "a material nobody knows",
    "a shelf of nobody knows what",
    "far away",
    "parallel",
    "left free throughout",
    "narrowest before the outlet",
    "an outlet narrower than a tube",
    "a sensor on one of two",
    "a plug behind a tube",
    "a slot between near ports",
    "a plate with a narrow rim",
    *(name for name in WRONG if name.startswith("a port ") and "long" not in name),
    *(f"{MESH}{name}" for name in MESHES if name not in WITH_ERRORS),
)  # notes and warnings


@together(("name", "units"), BOTH)
def test_every_wrong_header_is_spoken_of(name: str, units: Literal["mm", "in"]) -> None:
    said = said_of(name, units)
    assert said
    assert any(finding.level == "error" for finding in said) == (name not in NO_ERROR)


@together("name", [name for name in NAMES if name != SHARING])  # whose numbers are the same in both
def test_units_change_words_and_nothing_else(name: str) -> None:
    metric, inches = said_of(name, "mm"), said_of(name, "in")
    assert [(f.rule, f.level, f.where) for f in metric] == [(f.rule, f.level, f.where) for f in inches]
    for one, two in zip(metric, inches, strict=True):
        assert (one.value is None) == (two.value is None)
        for a, b in ((one.value, two.value), (one.limit, two.limit)):
            if a is not None and b is not None:
                scale = 1.0 if one.unit in ("deg", "%") else 25.4
                assert a == pytest.approx(b * scale, abs=0.05 + 0.0005 * 25.4), "both rounded as they are printed"


@each_finding
def test_it_names_who_it_is_about(finding: Finding, units: str) -> None:
    assert finding.level in LEVELS
    number = re.fullmatch(r"primary ([1-9]\d*)", finding.where)
    if number:
        assert re.match(rf"Primary {number[1]}\b|Primaries {number[1]} and [1-9]", finding.message), finding.message
    elif finding.rule in ("mesh-side", "mesh-role", "mesh-open"):  # a mesh, and the primaries
        assert re.search(rf"\b{finding.where}\b", finding.message.split(".")[0]), finding.message
    elif finding.where.startswith("secondary "):
        assert finding.message.startswith(f"S{finding.where[1:]}"), finding.message
    else:
        assert finding.message.startswith(f"The {finding.where} "), finding.message


@each_finding
def test_it_says_value_limit_and_unit(finding: Finding, units: str) -> None:
    if finding.rule in NO_NUMBERS or (finding.rule, finding.level) == ("stock-tube", "warning"):
        assert (finding.value, finding.limit, finding.unit) == (None, None, "")
        return
    assert finding.unit in (units, "deg", "%", "mm³")
    assert finding.value is not None and finding.limit is not None
    for number in (finding.value, finding.limit):
        assert math.isfinite(number)
        assert is_said(abs(number), finding.unit, finding.message), f"{number:g} {finding.unit}: {finding.message}"


def is_said(number: float, unit: str, message: str) -> bool:
    """The number stands there as it is printed, with its unit; nothing may be said as less than the last digit."""
    if unit == "deg":
        return any(abs(float(text) - number) <= 0.0501 for text in re.findall(r"(\d+\.\d+)°", message))
    if unit in ("%", "mm³"):
        return f"{number:.1f} {unit}" in message
    digits, least = {"mm": (1, "0.1"), "in": (3, "0.001")}[unit]
    if number == 0 and ("less than " + f"{least} {unit}" in message or "may touch but not overlap" in message):
        return True
    return re.search(rf"(?<![\d.]){number:.{digits}f} {unit}\b", message) is not None


@each_finding
def test_it_speaks_one_unit_and_counts_from_one(finding: Finding, units: str) -> None:
    other = {"mm": r"\d in\b", "in": r"\bmm\b" if not finding.rule.startswith("mesh-") else r"\d mm\b"}[units]
    assert not re.search(other, finding.message), finding.message
    assert not re.search(r"\b(primary|primaries|step|bore|item) 0\b", finding.message, re.IGNORECASE)
    assert not re.search(r"-\d", finding.message), "a depth is said as one, never as a negative number"


FOREIGN = re.compile(
    r"\w_\w"  # names_like_this
    r"|\b[A-Z][a-z]+[A-Z]\w*"  # NamesLikeThis
    r"|\b(None|True|False|nan|inf|NaN|self|dict|tuple|float|int|str|numpy)\b"
    r"|[{}\[\]<>=@\\`]|\.\.|;;|;\s*\.|\s\s|\s[.,;]|\d{6,}|\de[-+]?\d"
)


@each_finding
def test_it_holds_no_word_of_a_program(finding: Finding, units: str) -> None:
    assert not FOREIGN.search(finding.message), finding.message
    named = finding.where == BAY and finding.message.startswith(BAY)
    assert finding.message.endswith(".") and (finding.message[0].isupper() or named)
    assert not re.search(r"\b((?!in\b)[a-z]+) \1\b", finding.message, re.IGNORECASE), f"a word twice: {finding.message}"
    assert 20 < len(finding.message) < 500
