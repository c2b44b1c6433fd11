"""The wall of a divided outlet, carried on through the merge: on both skins, and between two gases that never meet."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold
from scipy.spatial.transform import Rotation

from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.divided import half_areas, wall_outline, wall_places, why_undivided
from headergen.geometry.merge.flow import flow_area
from headergen.geometry.merge.measures import Merge
from headergen.model import Collector, Tube
from headergen.pipeline import check
from headergen.solids.collector import merge_solid
from headergen.solids.mesh import solid_mesh
from tests.random_parts import collector, random_collector
from tests.solids.flood import Flood, disc

ROOT = Path(__file__).parents[2]
TURBINE = (ROOT / "specs" / "sedge_turbine.yaml").read_text()
THICK = 4.0  # mm of wall
EVEN = [seed for seed in range(30) if len(random_collector(seed)[1].bores) % 2 == 0]
Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def even_merge(seed: int) -> tuple[Tube, Collector, Merge]:
    tube, made = random_collector(seed)
    merge = merge_of(tube, made)
    assert isinstance(merge, Merge)
    return tube, made, merge


def in_plane(merge: Merge, at: float, off: float) -> Array:
    """A place of the wall's middle plane in the collector's axes."""
    turn = merge.turn + merge.sector
    return np.array([off * math.cos(turn), off * math.sin(turn), at])


def from_tube(merge: Merge, number: int, place: Array) -> float:
    """Distance of a place from the axis of a leaning tube, by a cross product."""
    turn = merge.turn + number * 2 * merge.sector
    out = np.array([math.cos(turn), math.sin(turn), 0.0])
    start = merge.ring * out + [0.0, 0.0, merge.mitre]
    way = math.cos(merge.half_angle) * np.array([0.0, 0.0, 1.0]) - math.sin(merge.half_angle) * out
    return float(np.linalg.norm(np.cross(place - start, way)))


@pytest.mark.quick(4)
@pytest.mark.parametrize("seed", EVEN)
def test_between_the_tubes_it_ends_on_both_their_skins(seed: int) -> None:
    """On either side of the plane is a tube as far away as its inside; past the cut the wall keeps within the cone."""
    _, _, merge = even_merge(seed)
    assert why_undivided(merge, merge.turn + merge.sector) == ""
    for place in wall_places(merge, THICK):
        if place.at <= merge.cut:
            for off in {place.far, *([place.near] if place.near > 0 else [])}:
                away = [from_tube(merge, number, in_plane(merge, place.at, off)) for number in (0, 1)]
                assert away == pytest.approx([merge.inner] * 2, abs=1e-6)
        elif place.at >= merge.cone_end:
            assert math.hypot(place.far, THICK / 2) == pytest.approx(
                merge.outlet_inner if place.at < merge.end else merge.end_inner
            )


@pytest.mark.parametrize("turn", [0.0, 10.0])
def test_a_wall_that_meets_a_bore_is_refused(turn: float) -> None:
    _, _, merge = even_merge(EVEN[0])
    why = why_undivided(merge, merge.turn + math.radians(turn))
    off = math.degrees(merge.sector) - turn
    assert why.startswith(f"the wall's plane is {abs(math.remainder(off, 360.0 / merge.count)):.1f}° from")
    assert why_undivided(replace(merge, count=3), 0.0) == "3 bores do not pair up"


def flooded(seed: int, pitch: float) -> None:
    """The merge in its own axes; bores and outlet are closed by discs, so that only the wall keeps the gases apart."""
    _, _, merge = even_merge(seed)
    mesh = solid_mesh(merge_solid(merge, "merge"), 0.05, "merge")
    slab = Manifold.extrude(CrossSection([wall_outline(merge, THICK)]), THICK).translate((0.0, 0.0, -THICK / 2))
    wall, turn = slab.to_mesh64(), merge.sector
    z, along = np.array([0.0, 0.0, 1.0]), np.array([math.cos(turn), math.sin(turn), 0.0])
    across = np.cross(z, along)
    corners = np.asarray(wall.vert_properties)[:, :3] @ np.array([z, along, across])
    angles = [2 * merge.sector * k for k in range(merge.count)]
    start = merge.mouth + 2.0
    mouths = [np.array([merge.ring * math.cos(a), merge.ring * math.sin(a), start]) for a in angles]
    discs = [disc(at, z, merge.outer - 0.1) for at in mouths]
    end = (merge.end - 1.0) * z
    triangles = [mesh.vertices[mesh.faces], corners[np.asarray(wall.tri_verts)], *discs]
    turned = Rotation.from_rotvec([0.21, -0.34, 0.57]).as_matrix()  # no row of the grid lies along the wall
    flood = Flood(np.concatenate([*triangles, disc(end, z, merge.end_inner + 0.1)]) @ turned, pitch)
    gases = [flood.at((at + 3 * pitch * z) @ turned) for at in mouths]
    sides = [float(at @ across) > 0 for at in mouths]
    assert flood.outside not in gases and len(set(gases)) == 2
    assert len(set(zip(gases, sides, strict=True))) == 2, "each half has one gas"
    ends = [end - 3 * pitch * z + sign * merge.end_inner / 2 * across for sign in (-1, 1)]
    assert {flood.at(each @ turned) for each in ends} == set(gases), "and both reach the outlet"


@pytest.mark.quick(1)
@pytest.mark.parametrize("count", [2, 4])
def test_the_two_gases_never_meet(count: int) -> None:
    seed = next(seed for seed in EVEN if len(random_collector(seed)[1].bores) == count)
    flooded(seed, 1.5)


@pytest.mark.parametrize("seed", EVEN[:3])
def test_half_areas(seed: int) -> None:
    """At the outlet a half disc less half of the wall, by integration; at the tip half of all the gas."""
    _, _, merge = even_merge(seed)
    areas = half_areas(merge, THICK)
    assert areas[0].area == pytest.approx(flow_area(merge, areas[0].at) / 2, rel=1e-6)
    x = np.linspace(THICK / 2, merge.end_inner, 200_001)
    half = float(np.trapezoid(2 * np.sqrt(np.maximum(merge.end_inner**2 - x**2, 0.0)), x))
    # the corners of the wall are flat, the bore round: the wall's ends leave slivers, which count as gas
    assert areas[-1].area == pytest.approx(half, rel=2e-3)


def test_the_demo_says_how_far_its_wall_goes(tmp_path: Path) -> None:
    result = check(ROOT / "specs" / "sedge_turbine.yaml").result
    assert not [each for each in result.findings if each.rule == "divided-outlet"]
    turned = tmp_path / "turned.yaml"
    text = TURBINE.replace("        divider: 6 ", "        turn: 30\n        divider: 6 ")
    turned.write_text(text.replace("../shared", str(ROOT / "shared")))
    [found] = [each for each in check(turned).result.findings if each.rule == "divided-outlet"]
    assert found.level == "info" and "30.0° from the one between its bores" in found.message


def test_a_collector_of_three_is_refused() -> None:
    tube = Tube(42.4, 1.5, "304L")
    made = collector(tube, 3, 9.0, 55.0, 46.0, "slip", random_collector(0)[1].frame)
    assert why_undivided(merge_of(tube, made), 0.0) == "3 bores do not pair up"
