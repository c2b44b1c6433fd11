"""header.step as somebody else's program opens it: a plain script on the kernel's own exchange library, in a process of
its own, that knows nothing of this project. What it finds is held against formulas and against another library's
reading of the STL files.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import trimesh

from headergen.geometry.plate.flange import plate_of
from headergen.geometry.plate.outline import area
from headergen.outputs.stl import write_stl
from headergen.solids.build import make_parts
from headergen.solids.step import BARE, MACHINED
from tests.checks.small_header import LENGTH
from tests.solids.test_whole import BOSS, GAUGE, PARTS, whole

READER = """
import json, sys
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool, XCAFDoc_ShapeTool

document = TDocStd_Document(TCollection_ExtendedString("doc"))
reader = STEPCAFControl_Reader()
reader.SetNameMode(True)
reader.SetColorMode(True)
assert reader.ReadFile(sys.argv[1]).name == "IFSelect_RetDone"
reader.Transfer(document)
shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
roots = TDF_LabelSequence()
shapes.GetFreeShapes(roots)
found = []


def name_of(label):
    name = TDataStd_Name()
    return name.Get().ToExtString() if label.FindAttribute(TDataStd_Name.GetID_s(), name) else None


def walk(label):
    if XCAFDoc_ShapeTool.IsReference_s(label):
        target = TDF_Label()
        XCAFDoc_ShapeTool.GetReferredShape_s(label, target)
        return walk(target)
    parts = TDF_LabelSequence()
    if XCAFDoc_ShapeTool.IsAssembly_s(label):
        XCAFDoc_ShapeTool.GetComponents_s(label, parts)
        for k in range(1, parts.Length() + 1):
            walk(parts.Value(k))
        return
    shape = XCAFDoc_ShapeTool.GetShape_s(label)
    facts = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, facts)
    colour = Quantity_Color()
    assert colours.GetColor(shape, XCAFDoc_ColorType.XCAFDoc_ColorSurf, colour)
    tone = colour.Values(Quantity_TypeOfColor.Quantity_TOC_sRGB)
    found.append([name_of(label), facts.Mass(), tone, [facts.CentreOfMass().Coord(k) for k in (1, 2, 3)]])


for k in range(1, roots.Length() + 1):
    walk(roots.Value(k))
print(json.dumps(found))
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("step")
    parts, _ = make_parts(whole(), made, lambda *_: None)
    for part in parts:
        if part.mesh is not None:
            write_stl(made / f"{part.name}.stl", part.mesh, part.name, 0.05)
    return made


@pytest.fixture(scope="module")
def read(folder: Path) -> dict[str, Any]:
    """Name → volume, colour and centre, as the script says."""
    run = [sys.executable, "-c", READER, str(folder / "header.step")]
    found = json.loads(subprocess.run(run, check=True, capture_output=True, text=True).stdout.splitlines()[-1])
    assert [name for name, *_ in found] == PARTS, "every part by name, in order"
    return {name: rest for name, *rest in found}


@pytest.mark.slow
def test_every_volume_by_the_mesh_that_another_library_reads(read: dict[str, Any], folder: Path) -> None:
    """Tolerance: the chordal deviation (0.05 mm, twice) over the skin of the part."""
    for name in PARTS:
        if (folder / f"{name}.stl").exists():
            mesh = trimesh.load(folder / f"{name}.stl")
            assert isinstance(mesh, trimesh.Trimesh) and mesh.is_watertight
            assert read[name][0] == pytest.approx(mesh.volume, rel=0.012), name
            assert read[name][2] == pytest.approx(mesh.center_mass, abs=0.15), name


@pytest.mark.slow
def test_volumes_by_formula(read: dict[str, Any]) -> None:
    """Straight tubes π(R² − r²)L past plate and transition (Pappus); the plate its plane area times 9.7 mm."""
    tube = math.pi * (21.2**2 - 19.7**2) * (LENGTH - 9.7 - 40.0)
    assert [read["primary 1"][0], read["primary 3"][0]] == pytest.approx([tube, tube], rel=1e-6)
    plate = plate_of(whole().draft.flanges[0], whole().draft.tube)
    metal = area(plate.outline) - sum(area(hole.outline) for hole in plate.holes)
    assert read["flange"][0] == pytest.approx(9.7 * metal, rel=1e-6)


@pytest.mark.slow
def test_finishes(read: dict[str, Any]) -> None:
    machined = {"flange", f"boss {BOSS.name}", f"boss {GAUGE.name}"}
    for name, (_, tone, _) in read.items():
        assert tone == pytest.approx(MACHINED if name in machined else BARE, abs=1e-5), name
