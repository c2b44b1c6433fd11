"""Merges that are not of revolution, from outside: sound, every bore open to the outlet, tight, and as wide as said."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from shapely.geometry import Polygon

from headergen.checks.envelopes import envelopes
from headergen.geometry.merge.design import AnyMerge, bore_radii, merge_of
from headergen.geometry.merge.flow import flow_area
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Collector, Header, Tube
from headergen.outputs.cad_script import cad_script
from headergen.parts.collector import MergeSeat, spike_has_room
from headergen.parts.kind import Seated
from headergen.parts.table import parts_of
from headergen.solids.inspect import measure
from headergen.solids.making import Making
from headergen.solids.mesh import solid_mesh
from headergen.solids.shapes import common
from headergen.solids.table import SOLIDS
from tests.checks.small_header import draft
from tests.random_uneven import KINDS, random_uneven
from tests.solids.flood import Flood, disc
from tests.solids.test_collector import refuse_leaks

CHORD, PITCH, IN = 0.05, 3.0, 1.0  # mm: of the mesh, of the flood's grid, and of the caps behind the ends
ALONG = np.array([0.0, 0.0, 1.0])


def made_part(tube: Tube, asked: Collector, name: str) -> tuple[object, TriangleMesh]:
    header = Header(draft(tube=tube, collectors=(asked,)), (), ())
    part = next(each for each in parts_of(header) if each.name == name)
    assert isinstance(part, Seated) and isinstance(part.seat, MergeSeat)
    solid = SOLIDS[part.kind.shape](part, Making(header.draft)).solid
    return solid, solid_mesh(solid, CHORD, name)


def flooded(tube: Tube, asked: Collector, merge: AnyMerge, mesh: TriangleMesh) -> tuple[Flood, int]:
    """The air, with every end of the collector closed by a disc, and the label of what is inside its outlet.

    The ends are those of the spec: the mouth of each bore, and the highest place of the mesh.
    """
    top = float(mesh.vertices[:, 2].max())
    discs = [disc(np.array([0.0, 0.0, top - IN]), ALONG, merge.end_outer - 0.4 * tube.wall)]
    for bore in asked.bores:
        outer, inner = bore_radii(tube, asked, bore)
        way = np.array(bore.frame.z)
        discs.append(disc(np.array(bore.frame.origin) + (IN - asked.slip) * way, way, (outer + inner) / 2))
    flood = Flood(np.concatenate([mesh.vertices[mesh.faces], *discs]), PITCH)
    return flood, flood.at(np.array([0.0, 0.0, top - IN - PITCH]))


def gas_section(mesh: trimesh.Trimesh, flood: Flood, gas: int, at: float) -> float:
    """Area of the holes of a section of the mesh that are filled by the gas, by another library."""
    found = mesh.section(plane_normal=(0, 0, 1), plane_origin=(0, 0, at))
    assert found is not None
    flat, back = found.to_2D()
    total, metal = 0.0, [Polygon(polygon.exterior) for polygon in flat.polygons_full]
    for polygon in flat.polygons_full:
        for hole in polygon.interiors:
            room = Polygon(hole)  # what is in it may be metal round an opening between the tubes
            for island in metal:
                room = room.difference(island) if Polygon(hole).contains(island) else room
            x, y = room.buffer(-min(4.0, 0.1 * math.sqrt(room.area))).representative_point().coords[0]
            place = back @ np.array([x, y, 0.0, 1.0])
            total += room.area if flood.at(place[:3]) == gas else 0.0
    return total


def stations(merge: AnyMerge) -> list[float]:
    """Heights past the mitres; where tubes still turn, their straight parts count for the flow."""
    assert isinstance(merge, UnevenMerge)
    turned = max(merge.mitre + tube.outer * math.tan(tube.turn / 2) + IN for tube in merge.tubes)
    if merge.leans:  # the ends of leaning tubes reach downstream of the plane, and so do their caps
        turned = max(tube.outer * math.sin(tube.lean) + 2 * IN for tube in merge.tubes)
    past = [turned + share * (merge.cut - turned) for share in (0.0, 0.35, 0.7, 0.98)]
    cone = [merge.cut + share * (merge.cone_end - merge.cut) for share in (0.1, 0.4, 0.7, 0.95)]
    return [*past, *cone, merge.cone_end + 0.5 * (merge.end - merge.cone_end)]


def refuse_unsound(seed: int, folder: Path) -> None:
    kind, tube, asked = random_uneven(seed)
    merge = merge_of(tube, asked)
    solid, mesh = made_part(tube, asked, "collector main")
    facts = measure(solid)
    assert (facts.valid, facts.closed, facts.shells) == (True, True, 1), kind
    refuse_leaks(mesh, folder / "collector.stl", facts.volume)
    flood, gas = flooded(tube, asked, merge, mesh)
    assert gas != flood.outside, "the collector is tight"
    for bore in asked.bores:
        start = np.array(bore.frame.origin) + (IN + PITCH - asked.slip) * np.array(bore.frame.z)
        assert flood.at(start) == gas, f"bore {bore.number} is open to the outlet"
    if isinstance(merge, UnevenMerge):
        skin = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        for at in stations(merge):
            assert flow_area(merge, at) == pytest.approx(gas_section(skin, flood, gas, at), rel=0.01), (kind, at)
        refuse_what_stands_out(tube, asked, mesh)
        refuse_bad_spike(tube, asked, merge, solid)


def refuse_what_stands_out(tube: Tube, asked: Collector, mesh: TriangleMesh) -> None:
    pieces = [each.solid for each in envelopes(draft(tube=tube, collectors=(asked,))) if each.collector]
    off = np.min([piece.skin(mesh.vertices)[0] for piece in pieces], axis=0)
    assert off[mesh.vertices[:, 2] >= 0].max() < 2 * CHORD
    assert off.max() < 0.6, "upstream of the plane, between the sleeves, the inside of a mitre looks out a little"


def refuse_bad_spike(tube: Tube, asked: Collector, merge: AnyMerge, solid: object) -> None:
    if not asked.spike or not spike_has_room(merge):
        return
    spike, _ = made_part(tube, asked, "spike main")
    facts = measure(spike)
    assert facts.valid and facts.closed and facts.volume > 0.0
    assert measure(common(spike, solid)).volume < 1.0, "the spike lies against the tubes and in none of them"


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", range(200))
def test_a_random_merge_is_sound_open_tight_and_as_wide_as_said(seed: int, tmp_path: Path) -> None:
    refuse_unsound(seed, tmp_path)


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", [KINDS.index("y of two sizes"), KINDS.index("row")])
def test_a_row_and_a_y_of_two_sizes(seed: int, tmp_path: Path) -> None:
    refuse_unsound(seed, tmp_path)


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", [KINDS.index("y of two sizes"), KINDS.index("row")])
def test_the_cad_script_makes_the_same_solid(seed: int) -> None:
    """Its figures have six decimals, and it rules and fuses by another library's functions."""
    _, tube, asked = random_uneven(seed)
    solid, _ = made_part(tube, asked, "collector main")
    text, left_out = cad_script(Header(draft(tube=tube, collectors=(asked,)), (), ()), ["collector main"])
    assert left_out == ()
    names: dict[str, Any] = {"__name__": "header_cad"}
    exec(text, names)
    made = names["build"]()["collector main"]
    assert made.isValid()
    assert made.Volume() == pytest.approx(measure(solid).volume, rel=1e-4)


def test_the_flood_finds_a_pinhole() -> None:
    """A closed box is tight; with one small triangle of its skin missing it is not."""
    box = trimesh.creation.icosphere(subdivisions=3, radius=30.0)
    corners = box.vertices[box.faces]
    whole = Flood(corners, 1.0)
    assert whole.at(np.zeros(3)) != whole.outside
    assert Flood(corners[1:], 1.0).at(np.zeros(3)) == whole.outside == Flood(corners[1:], 1.0).outside
