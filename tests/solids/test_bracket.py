"""Brackets: a gusset plate between two tubes, coped to both, of the metal that geometry says; and what it needs."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from scipy.integrate import quad
from shapely.geometry import Polygon

from headergen.checks.judge import judge
from headergen.geometry.frames import add, dot, norm, point_in, subtract
from headergen.geometry.merge.design import possible_merge
from headergen.model import Bend, Boss, Box, ChassisItem, Draft, Header, Step, Straight
from headergen.model.fitted import Bracket, BracketFoot
from headergen.outputs.dxf import write_drawings
from headergen.outputs.report.kinds.fitted import fitted_records, fitted_section
from headergen.outputs.report.sections import Table
from headergen.parts.bracket import BracketSeat, between_skins, bracket_seat, bracket_sheet
from headergen.parts.table import envelopes_of, parts_to_make
from headergen.solids.build import make_parts
from headergen.solids.inspect import measure
from headergen.solids.mesh import solid_mesh
from headergen.solids.shapes import common
from headergen.solids.sheet import sheet_solid
from headergen.solids.tube import tube_solid
from headergen.solve.closing import close
from tests.checks.small_header import LENGTH, LIMITS, draft, findings, measured
from tests.random_parts import TUBE
from tests.solids.test_tab import bundle

R = TUBE.radius
PITCH = 70.0
BRACKET = Bracket("front", (BracketFoot("primary 1", 120.0), BracketFoot("primary 2", LENGTH - 120.0, True)), 4.0, 30.0)


def asked(bracket: Bracket, *paths: list[Step], pitch: float = PITCH, **changes: object) -> Draft:
    """Tubes side by side, two straight ones if none are given."""
    return draft(*(paths or [[Straight(LENGTH)]] * 2), pitch=pitch, fitted=(bracket,), **changes)  # type: ignore[arg-type]


def pair(bracket: Bracket, pitch: float = PITCH) -> Header:
    return close(asked(bracket, pitch=pitch))


def seat(header: Header) -> BracketSeat:
    (bracket,) = header.draft.fitted
    found = bracket_seat(header, bracket)
    assert found is not None
    return found


def between_parallel(bracket: Bracket, pitch: float) -> float:
    """L·∫ (D − 2·√(r² − z²)) dz over the thickness, less the hole: metal between two parallel tubes D apart."""
    half = bracket.thickness / 2
    section = quad(lambda z: pitch - 2 * math.sqrt(R**2 - z**2), -half, half)[0]
    return bracket.length * section - math.pi * (bracket.hole / 2) ** 2 * bracket.thickness


@pytest.mark.parametrize(("pitch", "hole"), [(70.0, 0.0), (70.0, 12.0), (52.0, 0.0), (120.0, 15.0)])
def test_the_metal_between_parallel_tubes(pitch: float, hole: float) -> None:
    bracket = replace(BRACKET, hole=hole)
    facts = measure(sheet_solid(bracket_sheet(seat(pair(bracket, pitch))), "bracket"))
    assert (facts.valid, facts.closed, facts.shells) == (True, True, 1)
    assert facts.volume == pytest.approx(between_parallel(bracket, pitch), rel=1e-6)
    assert between_skins(seat(pair(bracket, pitch))) == pytest.approx(pitch - 2 * R, abs=1e-6)


LEANING = ([Straight(LENGTH)], [Straight(150.0), Bend(math.radians(12), 63.5, 0.4), Straight(235.0)])


def test_between_tubes_that_converge_it_lies_in_their_plane_and_meets_both() -> None:
    """No common metal with either tube, no gap to it, and both feet in the mid-plane of the plate."""
    feet = (BracketFoot("primary 1", 250.0), BracketFoot("primary 2", 250.0))
    header = close(asked(replace(BRACKET, feet=feet, hole=6.0), *LEANING))
    found = seat(header)
    solid = sheet_solid(bracket_sheet(found), "bracket")
    assert measure(solid).valid
    for foot in found.feet:
        assert abs(dot(subtract(foot.place, found.frame.origin), found.frame.z)) < 1e-9
        tube = tube_solid(foot.line, R, R - TUBE.wall)
        assert measure(common(tube, solid)).volume == pytest.approx(0.0, abs=0.01)
        assert BRepExtrema_DistShapeShape(tube, solid).Value() < 1e-4
    one, other = (foot.along for foot in found.feet)
    assert dot(one, found.frame.z) == pytest.approx(-dot(other, found.frame.z)), "the plane halves their angle"


def test_counted_from_either_end_it_stands_in_the_same_place() -> None:
    one, other = (foot.place for foot in seat(pair(BRACKET)).feet)
    assert norm(subtract(other, one)) == pytest.approx(PITCH)
    assert abs(one[1] - other[1]) < 1e-9


def test_it_is_a_part_of_the_header(tmp_path: Path) -> None:
    parts, overlaps = make_parts(pair(replace(BRACKET, hole=12.0)), tmp_path, lambda *_: None)
    assert overlaps == (), "welded parts touch, and share nothing"
    (made,) = [part for part in parts if part.role == "bracket"]
    assert made.name == "bracket front" and made.mesh is not None and made.mesh.closed
    assert (tmp_path / "bracket_front.step").exists()


def test_its_drawing_reads_back(tmp_path: Path) -> None:
    """Length × (pitch − 2 r), one hole: a rectangle where the tubes are parallel."""
    header = pair(replace(BRACKET, hole=12.0))
    parts = [(part, part.name.replace(" ", "_")) for part in parts_to_make(header) if part.kind.role == "bracket"]
    assert write_drawings(tmp_path, header.draft, parts) == {"bracket front": "bracket_front.dxf"}
    document = ezdxf.readfile(tmp_path / "bracket_front.dxf")
    cut = [each for each in document.modelspace() if each.dxf.layer == "CUT"]
    (contour,) = [each for each in cut if each.dxftype() == "LWPOLYLINE"]
    (hole,) = [each for each in cut if each.dxftype() == "CIRCLE"]
    corners = [(x, y) for x, y, *_ in contour.get_points()]
    assert contour.closed and len(corners) == 4
    assert Polygon(corners).area == pytest.approx(30.0 * (PITCH - 2 * R), rel=1e-6)
    assert hole.dxf.radius == 6.0 and hole.dxf.center.x == pytest.approx(PITCH / 2)


def test_a_slanted_cope_is_drawn_as_it_is(tmp_path: Path) -> None:
    """Every place of the drawn edge lies on the tube's skin, in the middle of the plate."""
    feet = (BracketFoot("primary 1", 250.0), BracketFoot("primary 2", 250.0))
    found = seat(close(asked(replace(BRACKET, feet=feet), *LEANING)))
    flat = bracket_sheet(found).flat
    assert flat is not None
    for edge in flat:
        place = point_in(found.frame, (*edge.start, 0.0))
        offs = [(subtract(place, foot.place), foot.along) for foot in found.feet]
        away = [norm(add(off, along, -dot(off, along))) for off, along in offs]  # from their axes
        assert min(abs(each - R) for each in away) < 1e-5


def said(made: Draft) -> list[tuple[str, float | None, float | None]]:
    return [(f.rule, f.value, f.limit) for f in findings(made) if f.where == "bracket front"]


def at(one: float, other: float, **changes: float) -> Bracket:
    return replace(BRACKET, feet=(BracketFoot("primary 1", one), BracketFoot("primary 2", other)), **changes)


def test_one_that_fits_is_not_spoken_of() -> None:
    assert said(asked(at(120.0, 120.0, hole=12.0))) == []


ELBOW: list[Step] = [Straight(110.0), Bend(math.radians(8), 63.5, 0.3), Straight(280.0)]


@pytest.mark.parametrize(
    ("made", "found", "required"),
    [
        pytest.param(asked(at(120.0, 120.0), pitch=170.0), 127.6, 100.0, id="too far apart: 170 - 42.4"),
        pytest.param(asked(at(120.0, 120.0), pitch=44.0), 1.6, 3.0, id="too near for a weld"),
        pytest.param(asked(at(120.0, 120.0), pitch=42.0), -0.4, 3.0, id="the tubes cross"),
        pytest.param(asked(at(120.0, 500.0)), 500.0, 400.0, id="beyond its tube"),
        pytest.param(asked(at(120.0, 180.0)), 60.0, 46.1, id="aslant: 60 of a hypotenuse of 92.2, half of it allowed"),
        pytest.param(asked(at(114.0, 114.0), ELBOW, [Straight(LENGTH)]), 0.0, 15.0, id="on a bend"),
        pytest.param(asked(at(100.0, 100.0), ELBOW, [Straight(LENGTH)]), 10.0, 15.0, id="beside a bend"),
        pytest.param(asked(at(20.0, 20.0)), 10.3, 15.0, id="near the flange: faced, it is 9.7 thick"),
        pytest.param(asked(at(120.0, 120.0, hole=24.0)), 1.8, 3.0, id="a hole without metal: (27.6 - 24) / 2"),
        pytest.param(
            asked(at(120.0, 120.0), bosses=(Boss("gauge", "primary 1", 152.0, 0.0, 22.0, 10.0, 8.5, False),)),
            6.0,
            5.0,
            id="a boss beside it: 32 - 15 - 11",
        ),
    ],
)
def test_what_it_needs_is_said_with_by_how_much(made: Draft, found: float, required: float) -> None:
    rules = said(made)
    if found > required and made.bosses:
        assert rules == []
        nearer = replace(made, bosses=(replace(made.bosses[0], at=149.0, clock=math.radians(90)),))
        assert ("bracket-place", 3.0, 5.0) in said(nearer)
        return
    assert ("bracket-place", pytest.approx(found, abs=0.06), pytest.approx(required, abs=0.06)) in rules


def test_on_a_slip_sleeve_it_is_refused() -> None:
    """Sleeves of 40 mm: 20 mm before the collector plane the foot would stand 20 mm inside."""
    header = bundle()
    feet = tuple(BracketFoot(f"primary {k}", 20.0, True) for k in (1, 2))
    bracket = replace(BRACKET, feet=feet)  # type: ignore[arg-type]
    messages = [f.message for f in findings(replace(header.draft, fitted=(bracket,))) if f.where == "bracket front"]
    assert any("to the slip sleeve of collector main; 15.0 mm required" in each for each in messages), messages


@pytest.mark.parametrize("bracket", [at(120.0, 500.0), at(120.0, 240.0)], ids=["beyond", "aslant"])
def test_one_that_cannot_stand_is_not_made_and_said_to_be_missing(bracket: Bracket) -> None:
    header = pair(bracket)
    assert "bracket front" not in [part.name for part in parts_to_make(header)]


def test_it_keeps_off_the_chassis() -> None:
    """A wall 5 mm above the plate, where 15 are required; the tubes are farther than that from it."""
    found = seat(pair(BRACKET))
    middle = point_in(found.frame, (PITCH / 2, 0.0, 2.0 + 5.0 + 10.0))
    wall = Box(replace(found.frame, origin=middle), (6.0, 10.0, 20.0))
    made = asked(BRACKET, chassis=(ChassisItem("wall", wall, 15.0),))
    told = [(f.where, f.value, f.limit) for f in judge(measured(made)) if f.rule == "part-clear"]
    assert told == [("bracket front", 5.0, 15.0)]


def test_it_keeps_off_a_third_tube() -> None:
    """Between the outer two of three in a row it would go through the middle one."""
    feet = (BracketFoot("primary 1", 120.0), BracketFoot("primary 3", 120.0))
    made = asked(
        replace(BRACKET, feet=feet), *[[Straight(LENGTH)]] * 3, pitch=60.0, limits=replace(LIMITS, between_tubes=6.0)
    )
    told = [(f.where, f.against, f.limit) for f in judge(measured(made)) if f.rule == "part-clear"]
    assert told == [("bracket front", "primary 2", 6.0)]


def test_it_does_not_reach_into_a_sleeve() -> None:
    header = bundle()
    feet = tuple(BracketFoot(f"primary {k}", 50.0, True) for k in (1, 2))
    bracket = replace(BRACKET, feet=feet, length=40.0)  # type: ignore[arg-type]
    assert possible_merge(header.draft.tube, header.draft.collectors[0]) is not None
    told = {f.against for f in findings(replace(header.draft, fitted=(bracket,))) if f.where == "bracket front"}
    assert {"slip sleeve of bore 1 of collector main", "slip sleeve of bore 2 of collector main"} <= told


@pytest.mark.parametrize(("at", "told"), [(155.0, []), (140.0, [("bracket front", "bracket back", -2.0, 0.0)])])
def test_two_do_not_share_metal(at: float, told: list[tuple[str, str, float, float]]) -> None:
    """30 mm long, on the same tubes: 5 mm apart, and 10 mm into each other. The middle of a 4 mm sheet is 2 deep."""
    feet = (BracketFoot("primary 1", at), BracketFoot("primary 2", at))
    made = replace(asked(BRACKET), fitted=(BRACKET, replace(BRACKET, name="back", feet=feet)))
    found = [(f.where, f.against, f.value, f.limit) for f in judge(measured(made)) if f.rule == "part-clear"]
    assert [(*each[:2], pytest.approx(each[2], abs=1e-5), each[3]) for each in found] == told


def test_its_envelope_holds_it() -> None:
    header = pair(replace(BRACKET, hole=12.0))
    parts = {part.name: part for part in parts_to_make(header)}
    solid = sheet_solid(parts["bracket front"].seat, "bracket")
    (held,) = [each for each in envelopes_of(header) if each.name == "bracket front"]
    mesh = solid_mesh(solid, 0.05, "bracket")
    assert float(held.solid.skin(mesh.vertices)[0].max()) < 1e-6


def test_the_report_says_where_it_stands_and_its_sizes() -> None:
    (record,) = fitted_records(pair(replace(BRACKET, hole=12.0)))
    assert (record.name, record.role) == ("bracket front", "bracket")
    assert [(place.run, place.from_end) for place in record.on] == [("primary 1", False), ("primary 2", True)]
    sizes = {size.what: size.size_mm for size in record.sizes}
    assert sizes["between the tubes"] == pytest.approx(PITCH - 2 * R, abs=1e-6)
    (section,) = fitted_section((record,), "in")
    (table,) = section.blocks
    assert isinstance(table, Table)
    assert (
        table.rows[0][1]
        == "primary 1, 4.724 in (120.0 mm) from its start; primary 2, 11.024 in (280.0 mm) before its end"
    )
    assert "between the tubes 1.087 in (27.6 mm)" in table.rows[0][2]
