"""Merge collectors and their spikes: sound whatever is asked, closed as meshes, and where the model says they are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from headergen.checks.envelopes import envelopes
from headergen.geometry.frames import axes_matrix
from headergen.geometry.merge.design import Merge, merge_of
from headergen.geometry.merge.flow import flow_areas, smallest
from headergen.geometry.merge.measures import has_spike_room, with_seams
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Collector, Tube
from headergen.outputs.stl import write_stl
from headergen.solids.collector import merge_solid, spike_solid
from headergen.solids.inspect import measure
from headergen.solids.mesh import is_watertight, solid_mesh
from headergen.solids.shapes import common, cylinder, placed
from tests.checks.small_header import draft
from tests.lots import together
from tests.random_parts import TUBE, collector, random_collector

CHORD = 0.05
MORE_BORES = ((3, 57.15), (5, 70.0), (6, 76.1))


def refuse_leaks(mesh: TriangleMesh, path: Path, volume: float) -> None:
    """As 32-bit STL, read by another library: closed, facing out, and of the solid's volume."""
    write_stl(path, mesh, path.stem, CHORD)
    read = trimesh.load(path)
    assert isinstance(read, trimesh.Trimesh)
    assert read.is_watertight and read.is_winding_consistent
    # the skin is off by at most twice the chordal deviation asked; a part has less skin than 2 · volume / thinnest wall
    assert read.volume == pytest.approx(volume, abs=2 * CHORD * read.area)
    assert read.volume == pytest.approx(volume, rel=0.01)


@dataclass(frozen=True)
class Made:
    """A random collector: as it is built, at the origin, and where it stands, with its mesh there."""

    tube: Tube
    asked: Collector
    merge: Merge
    local: Any
    solid: Any
    mesh: TriangleMesh


def made_of(seed: int) -> Made:
    tube, asked = random_collector(seed)
    merge = merge_of(tube, asked)
    local = merge_solid(merge, "collector main")
    solid = placed(local, asked.frame, merge.turn)
    return Made(tube, asked, merge, local, solid, solid_mesh(solid, CHORD, "collector"))


shared = cache(made_of)  # several tests look at the first ones


def refuse_unsound(made: Made, folder: Path) -> None:
    parts = {"collector": (made.solid, made.mesh)}
    if made.asked.spike:
        spike = placed(spike_solid(made.merge, "spike main"), made.asked.frame, made.merge.turn)
        parts["spike"] = spike, solid_mesh(spike, CHORD, "spike")
    for name, (solid, mesh) in parts.items():
        facts = measure(solid)
        assert (facts.valid, facts.closed, facts.shells) == (True, True, 1), name
        refuse_leaks(mesh, folder / f"{name}.stl", facts.volume)
    if "spike" in parts:
        in_both = measure(common(parts["collector"][0], parts["spike"][0])).volume
        assert in_both < 1.0, "the spike lies against the tubes and in none of them"


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", range(8))
def test_random_collectors_are_sound(seed: int, tmp_path: Path) -> None:
    refuse_unsound(shared(seed), tmp_path)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", range(8, 200))
def test_more_random_collectors_are_sound_and_within_their_envelopes(seed: int, tmp_path: Path) -> None:
    made = made_of(seed)
    refuse_unsound(made, tmp_path)
    refuse_what_stands_out(made)


@together("seed", range(200))
def test_the_outlet_is_the_smallest_place(seed: int) -> None:
    """By default no cut throttles the gas before its outlet, up to an outlet with 95 % of all bores' area."""
    tube, made = random_collector(seed)
    merge = merge_of(tube, made)
    areas = flow_areas(merge)
    bores = merge.count * math.pi * (tube.radius - tube.wall) ** 2
    if math.pi * merge.outlet_inner**2 < 0.95 * bores:
        assert smallest(areas).at == areas[-1].at == merge.cone_end
        assert smallest(areas).area == pytest.approx(math.pi * merge.outlet_inner**2)
    else:
        assert smallest(areas).area > 0.97 * math.pi * merge.outlet_inner**2


BORES = [(2, 54.0), (4, 63.5), (6, 95.0), *(pytest.param(*each, marks=pytest.mark.slow) for each in MORE_BORES)]


@pytest.mark.quick(1)
@pytest.mark.parametrize(("count", "outlet"), BORES)
def test_bores_walls_and_ends_are_where_the_spec_puts_them(count: int, outlet: float) -> None:
    """Vertices of the mesh by their distance from each bore's axis: the sleeve has a sliding gap and a real wall."""
    merge = merge_of(TUBE, collector(TUBE, count, 10.0, outlet))
    mesh = solid_mesh(merge_solid(merge, "collector"), CHORD, "collector")
    assert mesh.vertices[:, 2].min() == pytest.approx(-40.0, abs=1e-6)
    assert mesh.vertices[:, 2].max() == pytest.approx(merge.end, abs=1e-6)
    mouth = mesh.vertices[mesh.vertices[:, 2] < -39.9, :2]
    grown = with_seams(merge).outer
    for k in range(count):
        angle = 2 * math.pi * k / count
        off = np.hypot(*(mouth - merge.ring * np.array([math.cos(angle), math.sin(angle)])).T)
        assert off.min() == pytest.approx(21.2 + 0.3, abs=1e-6), "tube and sliding gap"
        assert np.isclose(off, grown, atol=1e-6).any() and 23.0 <= grown <= 23.1, "and a wall of 1.5, seams apart"
    rim = np.hypot(*mesh.vertices[mesh.vertices[:, 2] > merge.end - 0.1, :2].T)
    assert sorted({round(r, 3) for r in rim}) == [round(outlet / 2 - 1.5, 3), round(outlet / 2, 3)]


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(4))
def test_envelopes_hold_places_all_over_the_skin(seed: int) -> None:
    """Set up in its place without the kernel; its meshes, asked for 0.05 mm, may stand out by twice that."""
    made = shared(seed)
    local, frame = solid_mesh(made.local, CHORD, "collector"), made.asked.frame
    c, s = math.cos(made.merge.turn), math.sin(made.merge.turn)
    turned = local.vertices @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    skin = trimesh.Trimesh(turned @ axes_matrix(frame) + np.array(frame.origin), local.faces, process=False)
    places, _ = trimesh.sample.sample_surface(skin, 4000, seed=1)
    pieces = [each.solid for each in envelopes(draft(tube=made.tube, collectors=(made.asked,))) if each.collector]
    assert np.min([piece.skin(places)[0] for piece in pieces], axis=0).max() < 2 * CHORD


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(8))
def test_the_envelope_that_is_checked_holds_the_whole_merge(seed: int) -> None:
    refuse_what_stands_out(shared(seed))


def refuse_what_stands_out(whole: Made) -> None:
    tube, made, merge, mesh = whole.tube, whole.asked, whole.merge, whole.mesh
    parts = [each.solid for each in envelopes(draft(tube=tube, collectors=(made,))) if each.collector]
    off = np.min([solid.skin(mesh.vertices)[0] for solid in parts], axis=0)
    seam = with_seams(merge).outer - merge.outer  # sleeves that touch are drawn grown together
    along = (mesh.vertices - np.array(made.frame.origin)) @ np.array(made.frame.z)
    assert off[along >= 0].max() <= seam / math.cos(merge.half_angle) + 1e-6
    assert off.max() < 0.6, "upstream of the plane, between the sleeves, the inside of a mitre looks out a little"


def test_a_spike_ends_in_a_point_inside_an_open_middle() -> None:
    merge = merge_of(TUBE, collector(TUBE, 6, 8.0, 100.0))
    assert not merge.is_closed
    mesh = solid_mesh(spike_solid(merge, "spike"), CHORD, "spike")
    tip = mesh.vertices[mesh.vertices[:, 2].argmax()]
    assert np.hypot(*tip[:2]) < 1e-6 and merge.cut < tip[2] <= merge.cone_end


def test_tubes_that_close_their_middle_at_once_leave_no_room_for_a_spike() -> None:
    """Of three touching tubes r/sin 60° off the axis, cut across as r/cos α, the middle is closed from 30° on.

    With r = 23 it is open for r·(1/sin 60° − 1/cos 28°)/tan 28° = 0.96 mm at 28°, and for 2.53 mm at 25°, 0.24 less
    with a seam of 0.1. Welded on, the spike stands between the ends of the primaries, whatever the angle.
    """
    for degrees, room in ((10.0, True), (25.0, True), (28.0, False), (30.0, False), (45.0, False)):
        merge = merge_of(TUBE, collector(TUBE, 3, degrees, 57.0))
        assert has_spike_room(merge) == room
    solid = spike_solid(merge_of(TUBE, collector(TUBE, 3, 25.0, 57.0)), "spike")
    assert measure(solid).valid and measure(solid).closed
    assert has_spike_room(merge_of(TUBE, collector(TUBE, 3, 28.0, 57.0, None, "weld")))


@pytest.mark.quick(1)
@pytest.mark.parametrize(("count", "pitch"), [(3, None), (4, None), (4, 46.0), (6, None)])
def test_the_spike_of_a_welded_collector_stands_between_the_ends_of_the_tubes(count: int, pitch: float | None) -> None:
    """From 10 mm upstream of their ends, where a section of it is the star between whole circles; the tubes, full, and
    the collector share nothing with it."""
    merge = merge_of(TUBE, collector(TUBE, count, 10.0, 76.1 if count == 6 else 57.0, pitch, "weld"))
    solid = spike_solid(merge, "spike")
    mesh = solid_mesh(solid, CHORD, "spike")
    assert mesh.vertices[:, 2].min() == pytest.approx(-10.0, abs=1e-6) and mesh.vertices[:, 2].max() > 20.0
    tubes = [
        cylinder((merge.ring * math.cos(at), merge.ring * math.sin(at), -50.0), (0.0, 0.0, 1.0), 21.2, 50.0)
        for at in (2 * math.pi * k / count for k in range(count))
    ]
    for other in (*tubes, merge_solid(merge, "collector")):
        assert measure(common(solid, other)).volume < 1.0
    section = trimesh.Trimesh(mesh.vertices, mesh.faces).section((0, 0, 1), (0, 0, -5))
    assert section is not None
    if pitch is None:  # touching circles: n·r²·(cot s − (π − 2s)/2), s = π/n, the polygon of middles less n sectors
        turn = math.pi - 2 * math.pi / count
        wanted = count * 21.2**2 * (1 / math.tan(math.pi / count) - turn / 2)
        seams = 0.1 * count * 21.2 * turn  # the tubes are drawn 0.1 mm thicker
        assert wanted - 1.1 * seams < section.to_2D()[0].area < wanted


def test_a_mesh_that_leaks_is_known_as_one() -> None:
    box = trimesh.creation.box()
    faces = np.asarray(box.faces)
    assert is_watertight(faces)
    assert not is_watertight(faces[1:]), "a hole"
    assert not is_watertight(np.concatenate([faces, faces[:1]])), "a face twice"
    assert not is_watertight(np.concatenate([faces[:1, ::-1], faces[1:]])), "a face inside out"
    assert not is_watertight(faces[:0])
