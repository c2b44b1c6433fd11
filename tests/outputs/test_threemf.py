"""3MF files: read back by two readers that are not ours, and by the rules of the core specification."""

from __future__ import annotations

import math
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import lib3mf
import numpy as np
import pytest
import trimesh

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.outputs.threemf import CORE, OnBed, write_3mf

CORNERS = np.array([[0.0, 0, 0], [30, 0, 0], [0, 20, 0], [0, 0, 10]])
FACES = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])


def wedge() -> TriangleMesh:
    return TriangleMesh(CORNERS.copy(), FACES.copy(), True)


def written(folder: Path) -> Path:
    path = folder / "plate.3mf"
    items = [OnBed("P1-1", wedge()), OnBed('P"<&>2', wedge(), math.radians(90), (100.0, 50.5))]
    write_3mf(path, "Bogbean A: <plate> & more", items)
    return path


def read_strictly(path: Path) -> tuple[lib3mf.Model, list[str]]:
    """The model as the consortium's own library reads it, and what it warns of."""
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    return model, [reader.GetWarning(k) for k in range(reader.GetWarningCount())]


def test_read_back_without_a_warning(tmp_path: Path) -> None:
    model, warnings = read_strictly(written(tmp_path))
    assert warnings == []
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    meshes = model.GetMeshObjects()
    names = []
    while meshes.MoveNext():
        mesh = meshes.GetCurrentMeshObject()
        names.append(mesh.GetName())
        assert mesh.IsManifoldAndOriented() and mesh.GetTriangleCount() == 4
    assert names == ["P1-1", 'P"<&>2']
    items = model.GetBuildItems()
    numbers = []
    while items.MoveNext():
        numbers.append(items.GetCurrent().GetPartNumber())
    assert numbers == names


def test_parts_stand_in_their_places(tmp_path: Path) -> None:
    """A quarter turn takes x to y: the wedge of 30 × 20 then spans x from 80 to 100 and y from 50.5 to 80.5."""
    scene = trimesh.load_scene(written(tmp_path))
    low, high = scene.bounds
    assert low == pytest.approx([0, 0, 0]) and high == pytest.approx([100, 80.5, 10])
    # a tetrahedron holds a sixth of its box
    assert sum(mesh.volume for mesh in scene.dump()) == pytest.approx(2 * 30 * 20 * 10 / 6)


def test_by_the_core_specification(tmp_path: Path) -> None:
    with zipfile.ZipFile(written(tmp_path)) as package:
        assert package.namelist()[0] == "[Content_Types].xml"
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        root = ElementTree.fromstring(package.read("3D/3dmodel.model"))
    space = {"c": CORE}
    assert root.get("unit") == "millimeter"
    ids = [int(item.get("id", 0)) for item in root.findall(".//c:object", space)]
    assert ids == [1, 2]
    for triangle in root.findall(".//c:triangle", space):
        assert len({triangle.get("v1"), triangle.get("v2"), triangle.get("v3")}) == 3
    assert [item.get("objectid") for item in root.findall(".//c:item", space)] == ["1", "2"]


def test_same_bytes(tmp_path: Path) -> None:
    (tmp_path / "again").mkdir()
    assert written(tmp_path).read_bytes() == written(tmp_path / "again").read_bytes()


def test_an_open_mesh_is_refused(tmp_path: Path) -> None:
    hole = TriangleMesh(CORNERS.copy(), FACES[1:].copy(), False)
    with pytest.raises(ValueError, match="P1: the mesh is not closed"):
        write_3mf(tmp_path / "open.3mf", "open", [OnBed("P1", hole)])
    with pytest.raises(ValueError, match="nothing to write"):
        write_3mf(tmp_path / "empty.3mf", "empty", [])
    assert list(tmp_path.iterdir()) == []
