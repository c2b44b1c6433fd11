"""Meshes seen layer by layer, as a printer puts them down."""

from __future__ import annotations

import numpy as np
import trimesh
from manifold3d import Manifold, Mesh64

from headergen.geometry.mesh.triangles import TriangleMesh

LAYER = 0.2  # mm


def as_trimesh(mesh: TriangleMesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def starts_in_mid_air(mesh: TriangleMesh) -> list[float]:
    """The same as `islands` by the boolean library, quick enough for every part: only layers that have something which
    the one under them has not are taken apart."""
    solid = Manifold(Mesh64(np.array(mesh.vertices, order="C"), np.array(mesh.faces, np.uint64, order="C")))
    found, below = [], None
    for height in np.arange(LAYER / 2, solid.bounding_box()[5], LAYER).tolist():
        layer = solid.slice(height)
        if below is not None and (layer - below).area() > 0.01:
            regions = (region for region in layer.decompose() if region.area() > 0.01)
            if any((region ^ below).area() < 1e-9 for region in regions):
                found.append(height)
        below = layer
    return found


def islands(mesh: trimesh.Trimesh) -> list[float]:
    """Heights of layers with a region that nothing under it holds."""
    from shapely.ops import unary_union

    heights = np.arange(LAYER / 2, mesh.bounds[1][2], LAYER)
    found, below = [], None
    for height, path in zip(heights, mesh.section_multiplane([0, 0, 0], [0, 0, 1], heights), strict=True):
        if path is None:
            continue
        regions = path.polygons_full
        if below is not None and any(region.area > 0.01 and not region.intersects(below) for region in regions):
            found.append(float(height))
        below = unary_union([region.buffer(0) for region in regions])
    return found
