"""What envelopes say against what is built: never more room than the mesh of the part has, and of the flange no less.

Random parts as a shop could ask for them, each against random blocks and planes; the true gap is that of the part's own
mesh, by a collision library. The library takes a part by its skin alone, so that a block wholly in the metal is told
by a ray.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
import trimesh
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS
from shapely import unary_union
from shapely.geometry import Point, Polygon
from trimesh.collision import CollisionManager

from headergen.checks.envelopes import envelopes
from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.distance.convex import Convex
from headergen.geometry.distance.distance_convex import ConvexGap, gap_to_plane, gap_to_triangles
from headergen.geometry.frames import WORLD, axes_matrix, frame_from_normal, scaled
from headergen.geometry.merge.design import merge_of
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.plate.flange import lean, plate_of
from headergen.geometry.plate.outline import points_on
from headergen.model import (
    Bend,
    Bore,
    Box,
    Centreline,
    Frame,
    Header,
    OutletBell,
    OutletRing,
    Plane,
    Port,
    PortShape,
    Step,
    Straight,
    Tabs,
    Tube,
    Vec,
)
from headergen.parts.kind import Envelope
from headergen.parts.outlet import end_frame
from headergen.parts.table import envelopes_of
from headergen.parts.tabs import tab_seats, tab_sheet
from headergen.solids.collector import merge_solid
from headergen.solids.flange import flange_solid
from headergen.solids.mesh import solid_mesh
from headergen.solids.outlet_end import end_solid
from headergen.solids.sheet import sheet_solid
from tests.checks.small_header import draft
from tests.random_parts import random_collector, random_flange
from tests.runs import primary

CHORD = (
    0.05  # mm; the chordal deviation that the meshes are asked for, by which nodes between edges may stand past them
)
ON_EDGE = 2e-6  # mm; twice the kernel's tolerance of an edge
LIBRARY = 1e-3  # mm
MOST_LESS = 1.0  # mm that the flange's envelope may say less
BLOCKS = 12  # to a part
ON_CURVE = 33  # places on an edge


@dataclass(frozen=True, eq=False)
class Built:
    """A part's mesh, points (n, 3) of the edges of its solid, and the pieces of its envelope."""

    mesh: TriangleMesh
    edges: np.ndarray
    pieces: tuple[Envelope, ...]


def random_header(seed: int) -> Header:
    """A random flange; a random collector with tabs and an end, into which tubes run that bend before it."""
    rng, (tube, made) = random.Random(seed + 1000), random_collector(seed)
    if made.join == "slip":
        made = replace(made, tabs=Tabs(rng.uniform(45, 75), turn=rng.uniform(-0.5, 0.5)))
    made = replace(made, end=_random_end(rng, made.outlet or 0.0, tube))
    bend = Bend(rng.uniform(0.3, 2.0), rng.uniform(1.5, 2.5) * tube.outside_diameter, 0.0)
    steps = [Straight(rng.uniform(30, 90)), bend, Straight(made.slip + rng.uniform(1, 60))]
    aside = (rng.gauss(0, 1), rng.gauss(0, 1), rng.gauss(0, 1))
    lines = tuple(_ending_in(bore, steps, aside) for bore in made.bores)
    port = Port(1, WORLD, PortShape("round", (tube.outside_diameter,)))
    runs = tuple(primary(k, port, bore, (), tube) for k, bore in enumerate(made.bores, 1))
    return Header(replace(draft(), tube=tube, flanges=(random_flange(seed),), collectors=(made,)), runs, lines)


def _ending_in(bore: Bore, steps: list[Step], aside: Vec) -> Centreline:
    """Traced back from the bore, then the way the gas goes."""
    frame = bore.frame
    last = trace(frame_from_normal(frame.origin, scaled(frame.z, -1.0), aside), steps[::-1]).segments[-1]
    start, way, toward = frame_on(last, last.length)
    return trace(frame_from_normal(start, scaled(way, -1.0), toward), steps, bore.run)


def _random_end(rng: random.Random, outlet: float, tube: Tube) -> OutletRing | OutletBell | None:
    return rng.choice(
        [
            None,
            OutletBell(outlet - 2 * tube.wall + rng.uniform(4, 10), rng.uniform(20, 40)),
            OutletRing(outlet + 60, 10.0, rng.choice([0.0, 0.2]), 3, outlet + 38, 9.0, rng.uniform(0, 2)),
        ]
    )


def built_parts(header: Header) -> Iterator[Built]:
    made = envelopes_of(header)

    def built(solid: Any, names: tuple[str, ...], frame: Frame = WORLD, turn: float = 0.0) -> Built:
        mesh, pieces = solid_mesh(solid, CHORD, names[0]), tuple(each for each in made if each.name.startswith(names))
        vertices = stood(mesh.vertices, frame, turn)
        return Built(TriangleMesh(vertices, mesh.faces, mesh.closed), stood(edge_points(solid), frame, turn), pieces)

    yield built(flange_solid(header.draft.flanges[0], header.draft.tube, "flange"), ("flange",))
    (collector,) = header.draft.collectors
    merge = merge_of(header.draft.tube, collector)
    body = merge_solid(replace(merge, turn=0.0), "collector")
    yield built(body, ("slip sleeve", "merge", "outlet of"), collector.frame, merge.turn)
    if collector.end is not None:
        yield built(end_solid(collector.end, merge, "end"), ("outlet end",), end_frame(collector, merge))
    for seat in tab_seats(header, collector):
        yield built(sheet_solid(tab_sheet(seat), seat.name), (seat.name,))


def stood(points: np.ndarray, frame: Frame, turn: float) -> np.ndarray:
    c, s = math.cos(turn), math.sin(turn)
    turned = points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return turned @ axes_matrix(frame) + np.array(frame.origin)


def edge_points(solid: Any) -> np.ndarray:
    """Of the true solid, whatever a mesh makes of it."""
    points, edges = [], TopExp_Explorer(solid, TopAbs_EDGE)
    while edges.More():
        edge = TopoDS.Edge_s(edges.Current())
        if not BRep_Tool.Degenerated_s(edge):
            curve = BRepAdaptor_Curve(edge)
            places = np.linspace(curve.FirstParameter(), curve.LastParameter(), ON_CURVE)
            points += [curve.Value(float(place)).Coord() for place in places]
        edges.Next()
    return np.array(points)


def told(built: Built, gap: Callable[[Convex], ConvexGap]) -> ConvexGap:
    return min((gap(piece.solid) for piece in built.pieces), key=lambda found: found.value)


def blocks(rng: np.random.Generator, mesh: TriangleMesh) -> Iterator[Box]:
    """Blocks of every kind of proportion round a part, from touching it to a hand's breadth away."""
    for _ in range(BLOCKS):
        size = rng.choice([3.0, 20.0, 120.0], 3)
        place = mesh.vertices[rng.integers(len(mesh.vertices))] + rng.normal(size=3) * (10.0 + size.max() / 2)
        yield Box(frame_from_normal(tuple(place), tuple(rng.normal(size=3)), tuple(rng.normal(size=3))), tuple(size))


def plain(mesh: TriangleMesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False, validate=False)


def library(mesh: TriangleMesh) -> CollisionManager:
    manager = CollisionManager()
    manager.add_object("it", plain(mesh))
    return manager


def room(built: Built, skins: CollisionManager, block: TriangleMesh) -> float:
    """The true gap to a block, 0 where it meets the part; of one wholly in the metal minus how far its skin is from
    the metal's, which every place of it is deep at least (said of parts in one piece only, the others are left out).
    """
    apart = float(skins.min_distance_other(library(block)))
    if apart > 0.0 and plain(built.mesh).contains(block.vertices[:1])[0]:
        return -apart if len(built.pieces) == 1 else 0.0
    return max(apart, 0.0)


def refuse_untrue(seed: int) -> tuple[int, int]:
    """How many gaps of blocks were compared, and of how many it was seen that the flange's is not too small."""
    header, rng, compared, close = random_header(seed), np.random.default_rng(seed), 0, 0
    holes = holes_of(header)
    for built in built_parts(header):
        assert past(built, built.mesh.vertices) < CHORD, (seed, built.pieces[0].name)
        assert past(built, built.edges) < ON_EDGE, (seed, built.pieces[0].name)
        skins = library(built.mesh)
        is_flange = built.pieces[0].name == "flange"
        for block in blocks(rng, built.mesh):
            skin = box_mesh(block)
            true = room(built, skins, skin)
            if true == 0.0:
                continue
            found = told(built, lambda solid, skin=skin: gap_to_triangles(solid, skin.triangles))
            assert found.value <= true + CHORD + LIBRARY, (seed, built.pieces[0].name)
            compared += 1
            if is_flange and true > 0.0 and not is_over(holes, header, found.mine):
                assert found.value >= true - MOST_LESS, seed
                close += 1
    return compared, close


def past(built: Built, points: np.ndarray) -> float:
    """How far points of the part stand out of its envelope, at most."""
    return float(np.min([piece.solid.skin(points)[0] for piece in built.pieces], axis=0).max())


def holes_of(header: Header) -> Any:
    """The plate's holes, a millimetre wider, and those of leaning ports through all of its thickness."""
    flange = header.draft.flanges[0]
    off = max(math.tan(lean(flange, port)) for port in flange.ports) * flange.thickness
    plate = plate_of(flange, header.draft.tube)
    return unary_union([Polygon(points_on(hole.outline, 0.5)).buffer(1.0 + off) for hole in plate.holes])


def is_over(holes: Any, header: Header, place: np.ndarray) -> bool:
    frame = header.draft.flanges[0].frame
    x, y, _ = (place - np.array(frame.origin)) @ axes_matrix(frame).T
    return bool(holes.contains(Point(x, y)))


@pytest.mark.slow
@pytest.mark.parametrize("seed", [3])
def test_no_envelope_says_more_room_than_the_part_has(seed: int) -> None:
    compared, _ = refuse_untrue(seed)
    assert compared >= BLOCKS


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("first", range(0, 20, 2))
def test_no_envelope_says_more_room_than_the_part_has_in_many_headers(first: int) -> None:
    compared, close = np.sum([refuse_untrue(seed) for seed in range(first, first + 2)], axis=0)
    assert compared > 75 and close > 5


def test_a_block_wholly_in_the_metal_of_a_plate_is_deep() -> None:
    """Neither apart, as its skin alone would be, nor over a hole: truth and envelope both say how deep it lies."""
    header = random_header(36)
    built, block = next(built_parts(header)), box_mesh(Box(_in_the_metal(header), (2.0, 2.0, 2.0)))
    true = room(built, library(built.mesh), block)
    assert true == pytest.approx(1.0 - header.draft.flanges[0].finished / 2, abs=LIBRARY)
    found = told(built, lambda solid: gap_to_triangles(solid, block.triangles))
    assert found.value == pytest.approx(-header.draft.flanges[0].finished / 2, abs=1.0)
    assert not is_over(holes_of(header), header, found.mine)


def _in_the_metal(header: Header) -> Frame:
    """Between a port and the edge, halfway through the plate."""
    frame = header.draft.flanges[0].frame
    place = np.array([132.0, -34.0, header.draft.flanges[0].finished / 2]) @ axes_matrix(frame) + np.array(frame.origin)
    return replace(frame, origin=tuple(place.tolist()))


@pytest.mark.parametrize("seed", range(12))
def test_a_plate_is_as_near_to_a_plane_as_its_outline_reaches(seed: int) -> None:
    """The height of a plate over a plane is that of the lowest place of its two outlines: no hole can be nearer."""
    header, rng = random_header(seed), np.random.default_rng(seed)
    flange = header.draft.flanges[0]
    plate = plate_of(flange, header.draft.tube)
    (solid,) = (each.solid for each in envelopes(header.draft) if each.name == "flange")
    flat = [(*place, height) for place in points_on(plate.outline, 0.1) for height in (0.0, plate.thickness)]
    places = np.array(flat) @ axes_matrix(flange.frame) + np.array(flange.frame.origin)
    for normal in rng.normal(size=(20, 3)):
        plane = Plane((0.0, 0.0, 0.0), tuple(normal / np.linalg.norm(normal)))
        lowest = float((places @ np.array(plane.normal)).min())
        assert lowest - 1e-3 < gap_to_plane(solid, plane).value <= lowest + 1e-9
