"""Flange and collector against values from outside: plane geometry, cones, pattern development, and sections that
another library takes of the written meshes.

Base tube T: OD 41.275 mm (1 5/8 in), wall 1.651 mm (0.065 in, BWG 16).
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from headergen.geometry.frames import WORLD
from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.flow import flow_area
from headergen.geometry.merge.measures import Merge, tube_cut
from headergen.model import Bolt, Flange, Port, PortShape, Tube
from headergen.outputs.stl import write_stl
from headergen.solids.collector import merge_solid
from headergen.solids.flange import flange_solid
from headergen.solids.inspect import measure
from headergen.solids.mesh import solid_mesh
from tests.random_parts import TUBE, collector

T = Tube(41.275, 1.651, "304L")
CHORD = 0.01


def test_a_round_flange_by_plane_geometry() -> None:
    """One port and one bolt in its middle line: the hull of two circles is two half circles' arcs and their tangents.

    Circles of radii R and r, d apart: area πR²·(π + 2β)/2π + πr²·(π − 2β)/2π + (R + r)·√(d² − (R − r)²), sin β =
    (R − r)/d (plane geometry). Less the two holes, times the faced thickness.
    """
    flange = Flange(WORLD, 10.0, (Bolt((60.0, 0.0), 8.5),), (Port(1, WORLD, PortShape("round", (38.0,))),), margin=12.0)
    big, small, d = T.radius + 0.2 + 12, 4.25 + 12, 60.0
    beta = math.asin((big - small) / d)
    outline = big**2 * (math.pi + 2 * beta) / 2 + small**2 * (math.pi - 2 * beta) / 2
    outline += (big + small) * math.sqrt(d**2 - (big - small) ** 2)
    holes = math.pi * (T.radius + 0.2) ** 2 + math.pi * 4.25**2
    volume = measure(flange_solid(flange, T, "flange")).volume
    assert volume == pytest.approx((outline - holes) * (10.0 - 0.3), rel=1e-9)


@pytest.mark.parametrize(
    ("count", "ratio"), [(2, 2.0), (3, 2.1547), (4, 2.4142), (5, 2.7013), (6, 3.0)], ids="{}".format
)
def test_envelope_of_touching_tubes(count: int, ratio: float) -> None:
    """Circle round n touching equal tubes over their OD, 1 + 1/sin(π/n), computed independently; half a last digit."""
    merge = merge_of(T, collector(T, count, 10.0, 50.0, join="weld"))
    assert 2 * (merge.ring + merge.outer) / T.outside_diameter == pytest.approx(ratio, abs=0.00005)


def test_length_of_the_cone_of_four_touching_tubes() -> None:
    """T × 4 (99.647 mm round them) down to 63.5 at a 10° half-angle: cone length 102.499 mm, computed independently.

    The lobes' crests run along that cone. They begin not on the collector plane but where the outside of a mitre is:
    after the 5 mm of straight tube that a welded collector keeps, and the mitre's own half length, twice (where its
    middle is, and from there to its outside). Half of the last digit given.
    """
    merge = merge_of(T, collector(T, 4, 10.0, 63.5, join="weld"))
    shoulder = 5.0 + 2 * T.radius * math.tan(math.radians(5))
    assert merge.cone_end - shoulder == pytest.approx(102.499, abs=0.0005)


def test_equal_tubes_meet_in_a_saddle() -> None:
    """Two collector tubes at α to the axis meet at θ = 2α. Pattern development: a tube of radius r coped onto one of R
    is cut √(R² − r² sin²φ)/sin θ + r·cos φ/tan θ deep, φ from where it leans over the other; with R = r.

    The formula counts from the other's axis, the cut line from the mitre, so differences are compared. Far from the
    axis φ = 0 in ours, and there the tube leans away: φ' = π − φ; only the half toward the neighbour is a saddle.
    """
    half = math.radians(11)
    merge = merge_of(T, collector(T, 2, 11.0, 55.0))
    r, theta = merge.outer, 2 * half

    def depth(phi: float) -> float:
        return math.sqrt(r**2 - (r * math.sin(phi)) ** 2) / math.sin(theta) + r * math.cos(phi) / math.tan(theta)

    long = replace(merge, cut=merge.cut + 500.0)  # so that only the neighbour cuts
    zero = tube_cut(long, r, math.pi / 2)
    for degrees in (90, 110, 135, 160, 180):
        phi = math.radians(degrees)
        ours = tube_cut(long, r, phi) - zero
        assert abs(ours) == pytest.approx(depth(math.pi - phi) - depth(math.pi / 2), abs=1e-9)


def test_two_tubes_at_right_angles_are_coped_a_radius_deep() -> None:
    """Equal tubes that meet at 90° (45° each to the axis): the saddle is as deep as the radius; two tubes of
    1.5 in, 0.75 in, as pattern development has it (from memory)."""
    tube = Tube(38.1, 1.5, "304L")
    merge = merge_of(tube, replace(collector(tube, 2, 45.0, 50.0), wall=1.5))
    long = replace(merge, cut=merge.cut + 500.0)
    deep = tube_cut(long, 19.05, math.pi / 2) - tube_cut(long, 19.05, math.pi)
    assert deep == pytest.approx(19.05, rel=1e-12)
    assert deep / 25.4 == pytest.approx(0.75, rel=1e-12)


def test_a_mitred_collector_tube_wraps_like_any_plane_cut() -> None:
    """Pattern development (from memory): a plane cut at α to square is r·tan α·cos(s/r). The end on the cut plane leans
    by the half angle: its highest and lowest place are 2·r·tan α apart."""
    merge = merge_of(T, collector(T, 4, 10.0, 63.5, pitch=60.0))
    far = replace(merge, cut=merge.mitre + 10.0)  # before any neighbour is met
    ends = [tube_cut(far, far.outer, math.radians(degrees)) for degrees in range(0, 360, 15)]
    square = 10.0 / math.cos(math.radians(10))
    wanted = [
        square - far.outer * math.tan(math.radians(10)) * math.cos(math.radians(degrees))
        for degrees in range(0, 360, 15)
    ]
    assert ends == pytest.approx(wanted, abs=1e-9)


def loops(mesh: trimesh.Trimesh, at: float) -> list[tuple[float, bool]]:
    """Signed areas of a section square to z, and whether each goes round the axis: metal outside positive.

    Segments come from the meshing library; each is turned so that the facet it is on faces its right.
    """
    segments, faces = trimesh.intersections.mesh_plane(mesh, (0, 0, 1), (0, 0, at), return_faces=True)
    flat = segments[:, :, :2]
    way, normal = flat[:, 1] - flat[:, 0], mesh.face_normals[faces][:, :2]
    wrong = way[:, 0] * normal[:, 1] - way[:, 1] * normal[:, 0] > 0
    flat[wrong] = flat[wrong][:, ::-1]
    ends = flat.reshape(-1, 2)
    pairs = cKDTree(ends).query_pairs(1e-3, output_type="ndarray")
    joined = np.concatenate([pairs, np.arange(len(ends)).reshape(-1, 2)])
    graph = coo_array((np.ones(len(joined)), joined.T), shape=(len(ends), len(ends)))
    _, labels = connected_components(graph, directed=False)
    (ax, ay), (bx, by) = flat[:, 0].T, flat[:, 1].T
    areas = np.bincount(labels[::2], ax * by - bx * ay) / 2  # Green's theorem, segment by segment
    turns = np.bincount(labels[::2], np.arctan2(ax * by - bx * ay, ax * bx + ay * by))
    return [(float(size), abs(turn) > 1.0) for size, turn in zip(areas, turns, strict=True)]


@pytest.mark.series
@pytest.mark.parametrize(
    ("count", "half_angle", "outlet"),
    [
        pytest.param(2, 9.0, 54.0, marks=pytest.mark.slow),
        (4, 10.0, 63.5),
        pytest.param(3, 12.0, 57.0, marks=pytest.mark.slow),
        pytest.param(6, 8.0, 80.0, marks=pytest.mark.slow),
    ],
)
def test_flow_areas_by_sections_of_the_written_mesh(
    count: int, half_angle: float, outlet: float, tmp_path: Path
) -> None:
    """The holes of sections that another library takes of the STL, against the areas that are reported.

    Tolerance: the chordal deviation (0.01 mm) times the outline of the bores, about 0.1 % of the area; in the cone the
    kernel's rulings join places by its own parameter of the arcs, which moves the section by a little more.
    """
    merge = merge_of(TUBE, collector(TUBE, count, half_angle, outlet))
    mesh = solid_mesh(merge_solid(merge, "collector"), CHORD, "collector")
    write_stl(tmp_path / "c.stl", mesh, "collector", CHORD)
    read = trimesh.load(tmp_path / "c.stl")
    assert isinstance(read, trimesh.Trimesh)
    apart = merge.mitre + merge.outer * math.tan(merge.half_angle / 2) + 0.5
    for at, holes in _sections(merge, apart):
        # bores are holes that do not go round the axis; when there is but one hole, it is all there is of the gas
        found = loops(read, at)
        areas = [-size for size, _ in found if size < 0]
        round_axis = [-size for size, is_round in found if size < 0 and is_round]
        gas = sum(areas) - (sum(round_axis) if holes > 1 else 0.0)
        assert len(areas) - (len(round_axis) if holes > 1 else 0) == holes
        assert gas == pytest.approx(flow_area(merge, at), rel=2e-3), f"{at - merge.cut:+.1f} mm from the cut"


def _sections(merge: Merge, apart: float) -> list[tuple[float, int]]:
    closed = merge.mitre + (merge.ring - 0.97 * merge.inner / math.cos(merge.half_angle)) / math.tan(merge.half_angle)
    cone = merge.cone_end - merge.cut
    one = [closed, (closed + merge.cut) / 2, merge.cut - 0.2]
    one += [merge.cut + share * cone for share in (0.02, 0.25, 0.5, 0.75, 0.98)] + [merge.cone_end + 20.0]
    return [(apart, merge.count), *((at, 1) for at in one if at > apart)]
