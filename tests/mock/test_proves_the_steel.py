"""What is printed is the steel's outside, transitions too, and what is not is named."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import cadquery
import numpy as np
import pytest
import trimesh
from assembly import manifold
from layers import as_trimesh
from manifold3d import CrossSection
from shapely import Polygon, unary_union
from touching import TUBE, bundle

from headergen.geometry.curves.centreline import trace
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.plate.flange import seated_from, transition_lead, tube_from
from headergen.mock.beginning import beginning_of, outside
from headergen.mock.build import Mock, make_mock
from headergen.mock.differences import differences
from headergen.mock.part import in_place
from headergen.mock.solid import inverse, mesh_of
from headergen.model import Bend, Draft, Frame, Header, MockSettings, Port, PortShape, Straight
from headergen.pipeline import settle
from headergen.solids.transition import transition_solid

SPECS = Path(__file__).resolve().parents[2] / "specs"
DEMOS = ("bogbean", "withybed", "glasswort_left", "glasswort_right")
Demo = Callable[[str], tuple[Header, Mock]]
SHAPES = {
    "d": PortShape("d", (38.0, 36.0, 5.0)),
    "slim": PortShape("rectangle", (50.0, 24.0, 6.0)),
    "oval": PortShape("oval", (52.0, 30.0), turn=math.radians(20)),
}


@cache
def settled(name: str) -> Header:
    return settle(SPECS / f"{name}.yaml")


def alone(shape: PortShape, tilt: float = 0.0) -> Header:
    """One tube from a port of this shape, which may lean: straight to the end of its transition, then a bend."""
    header = bundle([(0.0, 0.0)])
    [primary], flange = header.primaries, header.draft.flanges[0]
    port = replace(primary.port, shape=shape, transition=40.0)
    flange = replace(flange, ports=(port,), frame=leaning(flange.frame, tilt))
    steps = (Straight(tube_from(flange, port, TUBE) + 0.5), Bend(1.0, 63.5, 0.3), Straight(40.0))
    line = trace(port.frame, steps, primary.name)
    only = replace(primary, start=port, steps=steps)
    return replace(header, draft=replace(header.draft, flanges=(flange,)), runs=(only,), centrelines=(line,))


def leaning(frame: Frame, by: float) -> Frame:
    """Turned about its x, so that a port that was square to it leans."""
    y, z = np.array(frame.y), np.array(frame.z)
    turned = math.cos(by) * y + math.sin(by) * z, math.cos(by) * z - math.sin(by) * y
    return Frame(frame.origin, frame.x, *(tuple(float(v) for v in each) for each in turned))  # type: ignore[arg-type]


def steel_of(header: Header, port: Port) -> trimesh.Trimesh:
    """The transition by the CAD kernel, along the port's axis from where it begins."""
    flange, tube = header.draft.flanges[0], header.draft.tube
    solid = transition_solid(port.shape, tube, (transition_lead(flange, port), port.transition), "transition")
    vertices, faces = cadquery.Shape.cast(solid).tessellate(0.01, 0.05)
    return trimesh.Trimesh([v.toTuple() for v in vertices], faces)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
@pytest.mark.parametrize("with_flange", [True, False])
def test_a_transition_is_printed_as_it_is(shape: PortShape, with_flange: bool) -> None:
    """Cut across every four millimetres up to the socket, the steel by the CAD kernel, whose facets are off by 0.17 mm:
    the outside is the same. The round tube instead would be off by 1.6 mm and more."""
    header = alone(shape)
    [primary] = header.primaries
    flange, tube = header.draft.flanges[0], header.draft.tube
    mock = make_mock(header, MockSettings(flange=with_flange, plates=False))
    steel, part = steel_of(header, primary.port), mock.parts[0]
    begins, ends = seated_from(flange, primary.port, tube), tube_from(flange, primary.port, tube)
    printed = manifold(in_place(part)).transform(inverse(primary.port.frame))
    for z in np.arange(flange.finished + 0.5, ends - 14.0, 4.0).tolist():
        mine = filled(printed.slice(z))
        theirs = steel.section([0, 0, 1], [0, 0, z - begins])
        assert theirs is not None
        flat = max((Polygon(ring[:, :2]) for ring in theirs.discrete), key=lambda each: each.area)
        assert mine.hausdorff_distance(flat) < 0.2, z


def filled(section: CrossSection) -> Polygon:
    """The largest outline of a section, notches of sockets bridged: they are 4.4 mm wide."""
    outer = max((Polygon(each) for each in section.to_polygons()), key=lambda each: each.area)
    return Polygon(unary_union([outer, outer.buffer(2.5).buffer(-2.5)]).exterior)


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_no_ledge_is_where_a_transition_ends(shape: PortShape) -> None:
    """A step all round of a hundredth of a millimetre, near a socket, would be taken for a part of its stop face."""
    header = alone(shape)
    [primary], [line] = header.primaries, header.centrelines
    begins = beginning_of(header.draft.flanges[0], primary.port, header.draft.tube)
    solid = outside(begins, line, begins.tube + 14.0, 5.0).transform(inverse(primary.port.frame))
    triangles = as_trimesh(mesh_of(solid)).triangles
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    sloping = abs(normals[:, 2]) > 0.9 * np.linalg.norm(normals, axis=1)
    heights = triangles[sloping][:, :, 2]
    assert len(heights) > 0
    assert not ((heights > -4.9) & (heights < begins.tube + 5.0)).any()


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_a_spigot_goes_into_a_transition(shape: PortShape) -> None:
    """Where the first joint stands at its end: nothing of the next part is in the way of the printed socket, nor of
    the steel, and a wall of the socket stays."""
    header = alone(shape)
    mock = make_mock(header, MockSettings(plates=False))
    flange, after = (manifold(in_place(part)) for part in mock.parts[:2])
    assert (flange ^ after).volume() < 0.5
    port = header.primaries[0].port
    steel = steel_of(header, port)
    frame = port.frame
    begins = seated_from(header.draft.flanges[0], port, header.draft.tube)
    axes = np.array([frame.x, frame.y, frame.z])
    vertices = (steel.vertices + np.array([0.0, 0.0, begins])) @ axes + np.array(frame.origin)
    merged = trimesh.Trimesh(vertices, steel.faces)
    merged.merge_vertices()
    assert merged.is_watertight
    solid = manifold(TriangleMesh(np.array(merged.vertices), np.array(merged.faces), closed=True))
    assert (solid ^ after).volume() < 0.5


def test_a_leaning_port_with_a_transition_prints() -> None:
    header = alone(SHAPES["d"], math.radians(12))
    part = make_mock(header, MockSettings(plates=False)).parts[0]
    assert part.mesh.closed and float(part.mesh.vertices[:, 2].min()) > -0.01


HANDLED = {
    "flanges": "its plates are printed, and their outline is named",
    "collectors": "printed or named",
    "runs": "primaries are printed, what comes after a collector is named",
    "bosses": "named",
    "fitted": "named",
    "letter": "the name of every part begins with it",
}
NOT_MADE = {
    "as_built",
    "bender",
    "between_banks",
    "chassis",
    "hand",
    "job",
    "length",
    "limits",
    "lines",
    "mock",
    "plugs",
    "routing",
    "shop",
    "stock",
    "tube",
    "units",
    "up",
}


def test_every_part_of_a_draft_is_printed_or_named() -> None:
    """A draft that learns of another part to make has to say here what the mock does with it."""
    assert {field.name for field in fields(Draft)} - NOT_MADE == HANDLED.keys()


@pytest.mark.parametrize("demo_name", DEMOS)
@pytest.mark.parametrize("collector", [True, False])
def test_what_is_not_printed_is_named(demo_name: str, collector: bool) -> None:
    header = settled(demo_name)
    said = list(differences(header, MockSettings(collector=collector), {run.name for run in header.runs}, {}))
    for boss in header.draft.bosses:
        assert any(f"Boss {boss.name}" in each and "is not printed" in each for each in said)
    for each in header.draft.collectors:
        mine = [words for words in said if each.name in words]
        assert any("outlet" in words for words in mine) == (each.end is not None)
        assert any("spring tabs" in words for words in mine) == (each.tabs is not None)
        assert any("its clearance" in words for words in mine) != collector
    assert any("outline is not the steel" in each for each in said)
