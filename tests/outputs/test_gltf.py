"""GLB, read back by hand from the container's description (glTF 2.0 §4.4) and its JSON."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import tube_mesh
from headergen.model import Bend, Centreline, Straight
from headergen.outputs.gltf import write_glb

PATHS = {
    "primary 1": trace(WORLD, (Straight(200.0),), 1),
    "primary 2": trace(WORLD, (Straight(40.0), Bend(math.radians(75), 63.6, 0.4), Straight(25.0)), 2),
}
# a box from (10, 20, 30) to (110, 70, 50)
BOX = np.array([[x, y, z] for x in (10.0, 110.0) for y in (20.0, 70.0) for z in (30.0, 50.0)])
X_FACES = [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5]]
Y_FACES = [[0, 4, 5], [0, 5, 1], [2, 3, 7], [2, 7, 6]]
Z_FACES = [[0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]]
BOX_FACES = np.array([*X_FACES, *Y_FACES, *Z_FACES])


def tube(path: Centreline) -> TriangleMesh:
    return tube_mesh(path, 21.2, 19.7, 0.1)


def box() -> TriangleMesh:
    return TriangleMesh(BOX.copy(), BOX_FACES.copy(), closed=True)


def write_all(path: Path) -> None:
    write_glb(path, {name: tube(line) for name, line in PATHS.items()}, {"frame rail": box(), "primary 1": box()})


def test_the_file_says_how_far_off_it_is(tmp_path: Path) -> None:
    write_glb(tmp_path / "stated.glb", {"primary 1": tube(PATHS["primary 1"])}, chord_error=0.1)
    document, _ = read(tmp_path / "stated.glb")
    [scene] = document["scenes"]
    assert scene["extras"]["chord_error_mm"] == 0.1


def read(path: Path) -> tuple[dict[str, Any], bytes]:
    content = path.read_bytes()
    assert content[:4] == b"glTF" and int.from_bytes(content[4:8], "little") == 2
    assert int.from_bytes(content[8:12], "little") == len(content)
    length = int.from_bytes(content[12:16], "little")
    assert content[16:20] == b"JSON"
    assert content[24 + length : 28 + length] == b"BIN\0"
    return json.loads(content[20 : 20 + length]), content[28 + length :]


def array(document: dict[str, Any], binary: bytes, accessor: int) -> np.ndarray:
    entry = document["accessors"][accessor]
    view = document["bufferViews"][entry["bufferView"]]
    kind = {5125: "<u4", 5126: "<f4"}[entry["componentType"]]
    width = {"SCALAR": 1, "VEC3": 3}[entry["type"]]
    begin = view.get("byteOffset", 0) + entry.get("byteOffset", 0)
    return np.frombuffer(binary, kind, entry["count"] * width, begin).reshape(-1, width)


def meshes(path: Path) -> dict[str, tuple[np.ndarray, np.ndarray, np.ndarray, dict[str, Any]]]:
    """Positions, normals, triangles and material of the mesh under each node, by the node's name."""
    document, binary = read(path)
    found = {}
    for node in document["nodes"]:
        if "mesh" in node:
            assert not {"matrix", "scale", "rotation", "translation"} & set(node)
            (primitive,) = document["meshes"][node["mesh"]]["primitives"]
            attributes = primitive["attributes"]
            columns = (attributes["POSITION"], attributes["NORMAL"], primitive["indices"])
            positions, normals, indices = (array(document, binary, accessor) for accessor in columns)
            material = document["materials"][primitive["material"]]
            found[node["name"]] = (positions, normals, indices.reshape(-1, 3), material)
    return found


def test_names_are_kept_and_none_hides_another(tmp_path: Path) -> None:
    write_all(tmp_path / "header.glb")
    assert set(meshes(tmp_path / "header.glb")) == {"primary 1", "primary 2", "frame rail", "primary 1 (chassis)"}


def test_metres_with_y_up_and_right_handed(tmp_path: Path) -> None:
    write_all(tmp_path / "header.glb")
    positions, _, triangles, _ = meshes(tmp_path / "header.glb")["frame rail"]
    # engine z (30…50 mm, up) is y, engine y (20…70 mm, left) is −z (glTF 2.0 §3.4); 32-bit numbers
    np.testing.assert_allclose(positions.min(axis=0), [0.010, 0.030, -0.070], atol=1e-8)
    np.testing.assert_allclose(positions.max(axis=0), [0.110, 0.050, -0.020], atol=1e-8)
    a, b, c = np.moveaxis(positions[triangles].astype(float), 1, 0)
    # still facing out: a mirrored box would hold −1e-4 m³; 32-bit rounding of a decimetre
    np.testing.assert_allclose(np.einsum("ij,ij->", a, np.cross(b, c)) / 6, 0.1 * 0.05 * 0.02, rtol=1e-6)


def test_a_round_wall_is_smooth_and_its_end_is_crisp(tmp_path: Path) -> None:
    write_all(tmp_path / "header.glb")
    positions, normals, triangles, _ = meshes(tmp_path / "header.glb")["primary 1"]
    # travel along engine z, which is y here; radius in millimetres
    radius = 1000 * np.hypot(positions[:, 0], positions[:, 2])
    radial = positions * [1, 0, 1] / (radius[:, None] / 1000)
    flat = np.abs(normals[:, 1]) > 0.5
    outer = radius > 20.5
    # 2e-6: positions of 32-bit metres, 1e-9 in 0.02
    np.testing.assert_allclose(normals[~flat & outer], radial[~flat & outer], atol=2e-6)
    np.testing.assert_allclose(normals[~flat & ~outer], -radial[~flat & ~outer], atol=2e-6)
    np.testing.assert_allclose(normals[flat & (positions[:, 1] < 0.1)], [[0, -1, 0]] * (flat.sum() // 2), atol=2e-6)
    np.testing.assert_allclose(normals[flat & (positions[:, 1] > 0.1)], [[0, 1, 0]] * (flat.sum() // 2), atol=2e-6)
    # one vertex for all facets around it on the wall, another on the flat, and no more
    assert len(positions) == 2 * len(np.unique(positions, axis=0))
    assert len(triangles) == len(tube(PATHS["primary 1"]).faces)


def test_normals_of_a_bend_are_those_of_the_torus(tmp_path: Path) -> None:
    write_all(tmp_path / "header.glb")
    positions, normals, _, _ = meshes(tmp_path / "header.glb")["primary 2"]
    bend = PATHS["primary 2"].segments[1]
    middle, tangent, _ = (np.array(v) for v in frame_on(bend, bend.length / 2))
    engine = np.column_stack([positions[:, 0], -positions[:, 2], positions[:, 1]]) * 1000.0
    turned = np.column_stack([normals[:, 0], -normals[:, 2], normals[:, 1]])
    near = np.abs((engine - middle) @ tangent) < 8.0
    near &= np.linalg.norm(engine - middle, axis=1) < 25.0
    assert near.sum() > 50
    stations = np.array([frame_on(bend, bend.length * k / 2000)[0] for k in range(2001)])
    for point, normal in zip(engine[near], turned[near], strict=True):
        away = point - stations[np.argmin(np.linalg.norm(stations - point, axis=1))]
        cosine = abs(away @ normal) / np.linalg.norm(away)
        # facets turn by some degrees; their mean must be well within one, or light would show the rings
        assert cosine > math.cos(math.radians(0.2))


def test_a_box_keeps_its_edges(tmp_path: Path) -> None:
    write_all(tmp_path / "header.glb")
    positions, normals, _, _ = meshes(tmp_path / "header.glb")["frame rail"]
    assert len(positions) == 24  # eight corners, three faces each
    np.testing.assert_allclose(np.sort(np.abs(normals), axis=1), [[0, 0, 1]] * 24, atol=1e-6)


def test_one_steel_tone_for_every_tube_and_a_duller_see_through_one_for_the_chassis(tmp_path: Path) -> None:
    write_all(tmp_path / "header.glb")
    found = {name: entry[3] for name, entry in meshes(tmp_path / "header.glb").items()}
    assert found["primary 1"] == found["primary 2"]
    steel, chassis = (found[name]["pbrMetallicRoughness"] for name in ("primary 1", "frame rail"))
    assert found["primary 1"].get("alphaMode", "OPAQUE") == "OPAQUE" and steel["baseColorFactor"][3] == 1.0
    assert found["frame rail"]["alphaMode"] == "BLEND" and 0.2 < chassis["baseColorFactor"][3] < 0.9
    assert max(chassis["baseColorFactor"][:3]) < min(steel["baseColorFactor"][:3])
    assert chassis["roughnessFactor"] > steel["roughnessFactor"]
    for colour in (steel["baseColorFactor"], chassis["baseColorFactor"]):
        assert max(colour[:3]) - min(colour[:3]) < 0.05  # greys: no colour says anything


def test_a_header_without_chassis(tmp_path: Path) -> None:
    write_glb(tmp_path / "by_mesh.glb", {name: tube(line) for name, line in PATHS.items()})
    assert set(meshes(tmp_path / "by_mesh.glb")) == {"primary 1", "primary 2"}


@pytest.mark.slow
def test_the_same_bytes_in_any_process(tmp_path: Path) -> None:
    script = "import sys, pathlib, test_gltf as t; t.write_all(pathlib.Path(sys.argv[1]))"
    here, there = tmp_path / "here.glb", tmp_path / "folder 0" / "header.glb"
    there.parent.mkdir()
    write_all(here)
    path = os.pathsep.join([str(Path(__file__).parent), *sys.path])
    environment = {**os.environ, "PYTHONHASHSEED": "0", "PYTHONPATH": path}
    subprocess.run([sys.executable, "-c", script, str(there)], check=True, env=environment)
    assert here.read_bytes() == there.read_bytes()
