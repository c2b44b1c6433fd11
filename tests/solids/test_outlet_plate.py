"""Plates and ball flanges on the end of an outlet: metal by formula, where they stand, and what they keep off."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from headergen.checks.envelopes import envelopes
from headergen.geometry.frames import WORLD
from headergen.geometry.merge.design import merge_of
from headergen.model import Bolt, Collector, Draft, Frame, Header, OutletBall, OutletPlate, PortShape
from headergen.outputs.dxf.plate import write_flange_dxf
from headergen.parts.outlet import outlet_tubes
from headergen.parts.outlet_plate import mouth_of, mouths, plate_reach
from headergen.parts.rooms import rooms
from headergen.parts.table import parts_of
from headergen.pipeline import check
from headergen.solids.build import make_parts
from headergen.solids.flange import flange_solid
from headergen.solids.inspect import measure
from headergen.solids.mesh import solid_mesh
from headergen.solids.transition import transition_solid
from headergen.solve.closing import close
from headergen.spec.mirror import Bank, mirrored_draft
from headergen.spec.reader import read_spec
from headergen.spec.writer import spec_text
from tests.random_parts import TUBE, collector
from tests.solids.test_envelopes_hold import asked
from tests.solids.test_outlet_end import refuse_unsound, two_into_one

FOUR = collector(TUBE, 4, 10.0, 63.5)
MERGE = merge_of(TUBE, FOUR)
CORNERS = tuple(Bolt((x, y), 9.0) for x, y in ((-40.0, -30.0), (40.0, -30.0), (40.0, 30.0), (-40.0, 30.0)))
PLATE = OutletPlate(PortShape("rectangle", (50.0, 36.0, 9.0)), 12.0, CORNERS, transition=60.0, margin=9.0)
TEXT = (
    "{plate: {shape: {rectangle: [54, 40, 8]}, transition: 60, thickness: 12, turn: 20, margin: 8, "
    "bolts: [{at: [-42, -30], hole: 9}, {at: [44, 32], hole: 9}]}}"
)


def rounded(width: float, height: float, corner: float) -> float:
    """Area of a rectangle with rounded corners."""
    return width * height - (4 - math.pi) * corner**2


@pytest.mark.parametrize("divider", [0.0, 6.0])
def test_metal_of_a_plate(divider: float) -> None:
    """The hull of four circles, less its holes: a socket round the transition, or the openings beside a wall."""
    tube = next(iter(outlet_tubes(drafted(replace(FOUR, end=PLATE)))))[1]
    plate = mouth_of(FOUR, replace(PLATE, divider=divider), tube, WORLD).plate
    around = 4.5 + 9.0
    outline = 80 * 60 + 2 * around * (80 + 60) + math.pi * around**2
    seated = tube.wall + 0.2
    opening = rounded(50 + 2 * seated, 36 + 2 * seated, 9 + seated)
    if divider:
        opening = 2 * rounded((50 - divider) / 2, 36, 9)
    facts = measure(flange_solid(plate.flange, plate.tube, "a plate"))
    assert (facts.valid, facts.closed, facts.shells) == (True, True, 1)
    assert facts.volume == pytest.approx((outline - opening - 4 * math.pi * 4.5**2) * 11.7, rel=1e-9)


def drafted(made: Collector) -> Draft:
    return replace(asked(TUBE, made), collectors=(made,))


@pytest.mark.parametrize("diameter", [80.0, 100.0])
def test_metal_of_a_ball_flange(diameter: float, tmp_path: Path) -> None:
    """A zone of a ball, from its middle on: π·(R²·l − l³/3), less the outlet's cylinder in it."""
    radius, length = diameter / 2, 18.0
    volume = math.pi * ((radius**2 - MERGE.outlet_outer**2) * length - length**3 / 3)
    refuse_unsound(OutletBall(diameter, length), volume, tmp_path)


SHAPES = [
    PortShape("round", (52.0,)),
    PortShape("oval", (60.0, 40.0)),
    PortShape("rectangle", (56.0, 36.0, 6.0)),
    PortShape("d", (54.0, 44.0, 6.0)),
    PortShape("free", (), ((-25.0, -20.0), (25.0, -20.0), (0.0, 30.0))),
]


@pytest.mark.quick(1)
@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.kind)
def test_its_transition_leads_from_the_outlet_to_the_opening(shape: PortShape) -> None:
    """It begins where the outlet ends, ends in the plate, is closed, and is inside its envelope."""
    [(made, tube, end)] = outlet_tubes(drafted(replace(FOUR, end=replace(PLATE, shape=shape))))
    assert isinstance(made.end, OutletPlate)
    mouth = mouth_of(made, made.end, tube, end)
    seat = mouth.transition
    assert seat is not None
    solid = transition_solid(shape, tube, (seat.lead, seat.port.transition), "a transition")
    assert measure(solid).valid and measure(solid).closed
    vertices = solid_mesh(solid, 0.05, "a transition").vertices
    long = float(vertices[:, 2].max())
    assert vertices[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    face, back = np.array(mouth.plate.flange.frame.origin), np.array(end.origin)
    assert float((face - back) @ np.array(end.z)) == pytest.approx(long + 2.0), "it stands 2 mm off the gasket face"
    assert long == pytest.approx(60.0 + 11.7 - 2.0)
    last = vertices[vertices[:, 2] > long - 1e-6]
    assert np.linalg.norm(last[:, :2], axis=1).max() == pytest.approx(tube.radius)


@pytest.mark.slow
def test_it_goes_on_a_whole_header(tmp_path: Path) -> None:
    """Made, drawn, named, in nobody's metal, measured, with room for its bolts, and written as it was read."""
    path = two_into_one(tmp_path, TEXT)
    header = close(read_spec(path)[1])
    parts, overlaps = make_parts(header, tmp_path, lambda *_: None)
    assert {"outlet plate main", "outlet transition main"} <= {part.name for part in parts} and not overlaps
    drawn = [(part, "plate") for part in parts_of(header) if part.name == "outlet plate main"]
    assert write_flange_dxf(tmp_path, header.draft, drawn) == {"outlet plate main": "plate.dxf"}
    contours = [e for e in ezdxf.readfile(tmp_path / "plate.dxf").modelspace() if e.dxf.layer == "CUT"]
    assert len(contours) == 4, "its edge, its opening and two bolts"
    held = {each.name for each in envelopes(header.draft)}
    assert {"outlet plate of collector main", "outlet transition of collector main"} <= held
    assert len([room for room in rooms(header) if "outlet bolt" in room.what]) == 2
    again = tmp_path / "again.yaml"
    again.write_text(spec_text(header), encoding="utf-8")
    assert read_spec(again)[1].collectors[0].end == header.draft.collectors[0].end


@pytest.mark.slow
def test_made_parts_are_inside_their_envelopes(tmp_path: Path) -> None:
    header = close(read_spec(two_into_one(tmp_path, TEXT))[1])
    parts, _ = make_parts(header, tmp_path, lambda *_: None)
    meshes = {part.name: part.mesh for part in parts}
    for name in ("outlet plate", "outlet transition"):
        pieces = [each for each in envelopes(header.draft) if each.name == f"{name} of collector main"]
        places = np.array(meshes[f"{name} main"].vertices)
        off = np.min([piece.solid.skin(places)[0] for piece in pieces], axis=0)
        assert float(off.max()) < 0.05


def test_a_wall_is_measured_from_the_face(tmp_path: Path) -> None:
    """A plane 3 mm beyond the gasket face; the place of the face by hand: merge, outlet, transition, seat."""
    path = two_into_one(tmp_path, TEXT)
    draft = read_spec(path)[1]
    [mouth] = mouths(Header(draft, (), ()))
    face = draft.collectors[0].frame
    merge = merge_of(draft.tube, draft.collectors[0])
    at = np.array(face.origin) + np.array(face.z) * (merge.end + 60.0 + (12.0 - 0.3 - 2.0) + 2.0)
    assert np.array(mouth.plate.flange.frame.origin) == pytest.approx(at)
    text = path.read_text(encoding="utf-8")
    beyond = [float(value) for value in at + 3.0 * np.array(face.z)]
    wall = f"chassis:\n  - {{name: wall, plane: {{origin: {beyond}, normal: [0, -1, 0]}}, clearance: 10}}\n"
    path.write_text(text + wall, encoding="utf-8")
    found = [each for each in check(path).result.findings if "outlet plate" in each.message and "wall" in each.message]
    assert [each.value for each in found] == [pytest.approx(3.0, abs=0.01)]


def test_a_mirrored_plate_is_its_mirror_image(tmp_path: Path) -> None:
    """Bolts and opening of the other bank's plate are reflected, also those of a D, and are written as they are."""
    text = TEXT.replace("{rectangle: [54, 40, 8]}", "{d: [54, 40, 8]}")
    draft = read_spec(two_into_one(tmp_path, text))[1]
    bank = Bank(0.0, "staggered", (0.0, 1.0, 0.0), (0.0, 0.0, 0.0), (1.0, 0.0, 0.0))
    other = mirrored_draft(draft, bank)
    [one], [two] = mouths(Header(draft, (), ())), mouths(Header(other, (), ()))
    assert places(two.plate.flange.frame, two.plate.flange.bolts) == pytest.approx(
        places(one.plate.flange.frame, one.plate.flange.bolts) * (-1.0, 1.0, 1.0)
    )
    flat = [np.array(each.plate.flange.frame.y) for each in (one, two)]
    assert flat[1] == pytest.approx(flat[0] * (-1.0, 1.0, 1.0)), "the flat of the D, toward −y"


def places(frame: Frame, bolts: tuple[Bolt, ...]) -> np.ndarray:
    axes = np.array([frame.x, frame.y])
    return np.array([np.array(frame.origin) + np.array(bolt.at) @ axes for bolt in bolts])


def test_reach_of_a_plate_without_transition_is_its_seat() -> None:
    assert plate_reach(OutletPlate(PortShape("round", (50.0,)), 10.0)) == pytest.approx(2.0)
