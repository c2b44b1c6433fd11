"""The envelopes of collectors against the solids: they leave the hollows between lobes free."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from headergen.geometry.frames import axes_matrix, point_in
from headergen.geometry.merge.design import merge_of
from headergen.model import Box, ChassisItem, Collector, Draft, Frame, Tube
from headergen.solids.collector import merge_solid
from headergen.solids.mesh import solid_mesh
from tests.checks.small_header import draft, measured
from tests.random_parts import TUBE, collector

DEVIATION = 0.1  # mm by which the kernel's meshes, asked for 0.05, may stand out


def asked(tube: Tube, made: Collector) -> Draft:
    return replace(draft(), tube=tube, collectors=(made,))


def skin_of(tube: Tube, made: Collector) -> trimesh.Trimesh:
    """The made collector where it stands."""
    merge = merge_of(tube, made)
    mesh = solid_mesh(merge_solid(replace(merge, turn=0.0), "collector"), 0.05, "collector")
    c, s = math.cos(merge.turn), math.sin(merge.turn)
    turned = mesh.vertices @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return trimesh.Trimesh(turned @ axes_matrix(made.frame) + np.array(made.frame.origin), mesh.faces, process=False)


def _beside(made: Collector, height: float, off: float, turn: float) -> Box:
    """A block `off` from the collector's axis, square to it, its near face 60 wide."""
    out = (math.cos(turn), math.sin(turn), 0.0)
    axes = made.frame
    way = np.array(point_in(axes, out)) - np.array(axes.origin)
    across = np.cross(axes.z, way)
    frame = Frame(point_in(axes, (*(np.array(out[:2]) * (off + 20.0)), height)), tuple(way), tuple(across), axes.z)
    return Box(frame, (40.0, 60.0, 20.0))


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("count", [2, 3, 4])
def test_hollows_between_lobes_stay_free(count: int) -> None:
    """A block over the hollow between two lobes; the gap by the collision library, between meshes of 0.05 mm.

    A cone round all lobes would read two bores of 46 mm some 20 mm nearer there, and so cry wolf.
    """
    made = collector(TUBE, count, 10.0, 2 * 19.7 * math.sqrt(count) * 0.8 + 3.0)
    skin = skin_of(TUBE, made)
    for height in (20.0, 60.0):
        block = _beside(made, height, 55.0, math.pi / count)
        gaps = measured(replace(asked(TUBE, made), chassis=(ChassisItem("block", block, 60.0),))).part_gaps
        told = min(gap.value for gap in gaps if gap.a.startswith(("merge", "outlet", "slip")))
        manager = trimesh.collision.CollisionManager()
        to_world = np.eye(4)
        to_world[:3, :3], to_world[:3, 3] = axes_matrix(block.frame).T, block.frame.origin
        manager.add_object("block", trimesh.creation.box(block.size, to_world))
        true = manager.min_distance_single(skin)
        assert true > 5.0, "the block stands clear of the collector"
        assert true - 2.5 < told < true + DEVIATION


def test_a_block_over_two_bores_is_as_far_as_the_tubes_are() -> None:
    """Beside the plane of two bores nothing is wider than one sleeve: 23 mm to each side of the axis."""
    made = collector(TUBE, 2, 10.0, 50.8)
    block = _beside(made, 5.0, 40.0, math.pi / 2)
    gaps = measured(replace(asked(TUBE, made), chassis=(ChassisItem("block", block, 60.0),))).part_gaps
    (merge,) = [gap for gap in gaps if gap.a.startswith("merge")]
    assert merge.value == pytest.approx(40.0 - 23.0, abs=0.11), "sleeves that touch are drawn 0.1 mm thicker"
