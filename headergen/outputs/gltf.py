"""GLB for viewers: glTF 2.0 in metres, +Y up, one steel tone for all parts and a duller one for the chassis."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.show.creases import creased

# engine axes (x forward, y left, z up) to glTF's (§3.4: +Y up, right-handed, metres): a quarter turn about x
TO_GLTF = 0.001 * np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
STEEL = {"baseColorFactor": [0.62, 0.63, 0.64, 1.0], "metallicFactor": 0.85, "roughnessFactor": 0.35}
CHASSIS = {
    "baseColorFactor": [0.30, 0.31, 0.32, 0.55],
    "metallicFactor": 0.0,
    "roughnessFactor": 0.9,
    "doubleSided": True,
}


def write_glb(
    path: Path,
    parts: Mapping[str, TriangleMesh],
    chassis: Mapping[str, TriangleMesh] | None = None,
    chord_error: float | None = None,
) -> None:
    """Writes meshes (engine axes, mm) under their names; the chassis, if given, is translucent.

    A chassis item with the name of a part is written as "NAME (chassis)". `chord_error`, mm: the largest deviation of
    the parts, which the file states if it is given.
    """
    import trimesh  # takes most of a second, and commands without pictures do not need it

    scene = trimesh.Scene()
    if chord_error is not None:
        scene.metadata["chord_error_mm"] = chord_error
    items = {f"{name} (chassis)" if name in parts else name: mesh for name, mesh in (chassis or {}).items()}
    for meshes, look in ((parts, STEEL), (items, CHASSIS)):
        for name, mesh in meshes.items():
            scene.add_geometry(_shaded(mesh, look), node_name=name, geom_name=name)
    path.write_bytes(scene.export(file_type="glb", include_normals=True))


def _shaded(mesh: TriangleMesh, look: Mapping[str, Any]) -> Any:
    import trimesh

    vertices, faces, normals = creased(mesh.vertices @ TO_GLTF.T, mesh.faces)
    mode = "BLEND" if look["baseColorFactor"][3] < 1.0 else "OPAQUE"
    material = trimesh.visual.material.PBRMaterial(**look, alphaMode=mode)
    visual = trimesh.visual.TextureVisuals(material=material)
    return trimesh.Trimesh(vertices, faces, vertex_normals=normals, visual=visual, process=False)
