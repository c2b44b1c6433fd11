"""STEP files read back: by the kernel's reader, and by a parser of the format that shares nothing with it."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from OCP.IFSelect import IFSelect_RetDone
from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.STEPControl import STEPControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label, TDF_LabelSequence
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.XCAFDoc import XCAFDoc_ColorGen, XCAFDoc_ColorSurf, XCAFDoc_DocumentTool
from steputils import p21

from headergen import __version__
from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.frames import WORLD
from headergen.model import Arc, Bend, Centreline, Frame, Line, Straight
from headergen.solids.inspect import measure
from headergen.solids.step import BARE, MACHINED, Named, write_assembly, write_part
from headergen.solids.tube import tube_solid

OUTER, INNER = 21.2, 19.7
DATE = "2026-05-01"
NAMES = ("primary 1", "primary 2", "primary 3")


def path_of(number: int) -> Centreline:
    start = Frame((90.0 * number, 0.0, 0.0), WORLD.x, WORLD.y, WORLD.z)
    bends = Bend(math.radians(60 + number), 63.6, 0.3 * number), Bend(math.radians(45), 84.8, -1.0)
    return trace(start, (Straight(40.0), bends[0], Straight(55.5), bends[1], Straight(70.0)), number)


@pytest.fixture(scope="module")
def parts() -> list[Named]:
    colours = (BARE, MACHINED, BARE)
    return [(name, tube_solid(path_of(k), OUTER, INNER), colours[k - 1]) for k, name in enumerate(NAMES, 1)]


def read_document(path: Path) -> Any:
    document = TDocStd_Document(TCollection_ExtendedString("BinXCAF"))
    reader = STEPCAFControl_Reader()
    assert reader.ReadFile(str(path)) == IFSelect_RetDone
    assert reader.Transfer(document)
    return document


def text_of(label: Any) -> str:
    name = TDataStd_Name()
    assert label.FindAttribute(TDataStd_Name.GetID_s(), name)
    return str(name.Get().ToExtString())


def labels(sequence: TDF_LabelSequence) -> list[Any]:
    return [sequence.Value(index) for index in range(1, sequence.Length() + 1)]


def test_names_colours_and_solids_survive_the_kernels_own_reader(parts: list[Named], tmp_path: Path) -> None:
    write_assembly(tmp_path / "header.step", "Bogbean", parts, DATE)
    document = read_document(tmp_path / "header.step")
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    free = TDF_LabelSequence()
    shapes.GetFreeShapes(free)
    (root,) = labels(free)
    assert text_of(root) == "Bogbean"
    components = TDF_LabelSequence()
    shapes.GetComponents_s(root, components)
    assert [text_of(component) for component in labels(components)] == list(NAMES)
    for component, (name, solid, finish) in zip(labels(components), parts, strict=True):
        part = TDF_Label()
        assert shapes.GetReferredShape_s(component, part)
        facts = measure(shapes.GetShape_s(part))
        assert (name, facts.valid, facts.closed) == (name, True, True)
        # coordinates are written to 15 digits
        assert facts.volume == pytest.approx(measure(solid).volume, rel=1e-9)
        colour = Quantity_Color()
        assert any(colours.GetColor_s(part, kind, colour) for kind in (XCAFDoc_ColorSurf, XCAFDoc_ColorGen))
        # the kernel keeps colours as 32-bit floats
        assert colour.Values(Quantity_TOC_sRGB) == pytest.approx(finish, abs=1e-6)


def test_a_part_is_one_solid_under_its_name(parts: list[Named], tmp_path: Path) -> None:
    write_part(tmp_path / "primary_1.step", parts[0], DATE)
    products = [e for e in entities(tmp_path / "primary_1.step") if e.name == "PRODUCT"]
    assert [str(product.params[0]) for product in products] == ["primary 1"]
    reader = STEPControl_Reader()
    assert reader.ReadFile(str(tmp_path / "primary_1.step")) == IFSelect_RetDone
    reader.TransferRoots()
    explorer, count = TopExp_Explorer(reader.OneShape(), TopAbs_SOLID), 0
    while explorer.More():
        count += 1
        explorer.Next()
    assert count == 1


def entities(path: Path) -> Iterator[Any]:
    """Every simple entity in the file, by an independent ISO 10303-21 parser."""
    for instance in p21.readfile(str(path)).data[0].instances.values():
        if getattr(instance, "entity", None) is not None:
            yield instance.entity


def test_header_facts_by_an_independent_parser(parts: list[Named], tmp_path: Path) -> None:
    folder = tmp_path / "a folder of somebody"
    folder.mkdir()
    write_assembly(folder / "header.step", "Bogbean", parts, DATE)
    file = p21.readfile(str(folder / "header.step"))
    name = file.header["FILE_NAME"].params
    assert (name[0], name[1]) == ("header.step", "2026-05-01T00:00:00")
    assert name[5] == f"headergen {__version__}"
    assert "AUTOMOTIVE_DESIGN" in str(file.header["FILE_SCHEMA"].params)  # AP214
    # lengths in millimetres, angles in radians, and nothing in any other unit
    text = (folder / "header.step").read_text(encoding="ascii")
    assert "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))" in text
    assert text.count("LENGTH_UNIT()") == text.count("SI_UNIT(.MILLI.,.METRE.)")
    assert "somebody" not in text and str(tmp_path) not in text
    products = [str(e.params[0]) for e in entities(folder / "header.step") if e.name == "PRODUCT"]
    assert products == ["Bogbean", *NAMES]


def test_geometry_by_an_independent_parser(parts: list[Named], tmp_path: Path) -> None:
    """Radii of cylinders and tori, and the circles between them at the joints of the path, straight from the text."""
    path = path_of(2)
    write_part(tmp_path / "primary_2.step", parts[1], DATE)
    data = p21.readfile(str(tmp_path / "primary_2.step")).data[0]
    found = list(entities(tmp_path / "primary_2.step"))
    cylinders = sorted(e.params[2] for e in found if e.name == "CYLINDRICAL_SURFACE")
    tori = sorted((e.params[2], e.params[3]) for e in found if e.name == "TOROIDAL_SURFACE")
    close = pytest.approx  # to the 15 digits written, less what a chain of turns rounds away
    straights = sum(isinstance(segment, Line) for segment in path.segments)
    assert cylinders == close([INNER] * straights + [OUTER] * straights, rel=1e-12)
    bends = [segment for segment in path.segments if isinstance(segment, Arc)]
    assert sorted(tori) == [
        close(pair, rel=1e-12) for pair in sorted((b.radius, r) for b in bends for r in (OUTER, INNER))
    ]
    joints = [segment.start for segment in path.segments] + [frame_on(path.segments[-1], path.segments[-1].length)[0]]
    rings = [e for e in found if e.name == "CIRCLE" and e.params[2] == close(OUTER, rel=1e-12)]
    centres = [centre_of(e, data) for e in rings]
    for joint in joints:
        assert min(math.dist(joint, centre) for centre in centres) < 1e-9


def centre_of(circle: Any, data: Any) -> tuple[float, ...]:
    placement = data.get(circle.params[1]).entity
    return tuple(data.get(placement.params[1]).entity.params[1])


@pytest.mark.parametrize("seed", range(40))
def test_random_tubes_come_back_sound(seed: int, legal_tube: Callable[[int], Any], tmp_path: Path) -> None:
    case = legal_tube(seed)
    solid = tube_solid(case.centreline, case.outer, case.inner)
    write_part(tmp_path / "tube.step", ("primary 1", solid, BARE), DATE)
    reader = STEPControl_Reader()
    assert reader.ReadFile(str(tmp_path / "tube.step")) == IFSelect_RetDone
    reader.TransferRoots()
    facts = measure(reader.OneShape())
    assert (facts.valid, facts.shells, facts.closed) == (True, 1, True)
    # 15 digits of coordinates up to 2 m, against a wall of 1.5 mm
    assert facts.volume == pytest.approx(math.pi * (case.outer**2 - case.inner**2) * case.centreline.length, rel=1e-9)


def test_odd_names_survive(parts: list[Named], tmp_path: Path) -> None:
    title = "Bögbean's \\ 2; #1 " + "and a name longer than any line of the file " * 3 + "end"
    write_assembly(tmp_path / "header.step", title, parts, DATE)
    free = TDF_LabelSequence()
    document = read_document(tmp_path / "header.step")
    XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).GetFreeShapes(free)
    assert text_of(free.Value(1)) == title
    products = [str(e.params[0]) for e in entities(tmp_path / "header.step") if e.name == "PRODUCT"]
    assert products[0] == title


def test_the_kernel_stays_quiet(parts: list[Named], tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    write_part(tmp_path / "primary_1.step", parts[0], DATE)
    assert capfd.readouterr().out == ""


def test_writing_twice_in_one_process_gives_the_same_bytes(parts: list[Named], tmp_path: Path) -> None:
    for file in ("one.step", "two.step"):
        (tmp_path / file).mkdir()
        write_assembly(tmp_path / file / "header.step", "Bogbean", parts, DATE)
    first, second = (tmp_path / file / "header.step" for file in ("one.step", "two.step"))
    assert first.read_bytes() == second.read_bytes()


def write_both(folder: str | Path) -> None:
    parts = [(name, tube_solid(path_of(number), OUTER, INNER), BARE) for number, name in enumerate(NAMES, 1)]
    write_part(Path(folder, "primary_1.step"), parts[0], DATE)
    write_assembly(Path(folder, "header.step"), "Bogbean", parts, DATE)


@pytest.mark.slow
def test_two_processes_hash_seeds_and_folders_give_the_same_bytes(tmp_path: Path) -> None:
    script = "import sys; sys.path.insert(0, sys.argv[1]); import test_step; test_step.write_both('.')"
    here, there = tmp_path / "checkout 0", tmp_path / "checkout 1"
    for folder in (here, there):
        folder.mkdir()
    write_both(here)
    command = [sys.executable, "-c", script, str(Path(__file__).parent)]
    subprocess.run(command, check=True, env={**os.environ, "PYTHONHASHSEED": "0"}, cwd=there)
    written = [{file.name: file.read_bytes() for file in folder.iterdir()} for folder in (here, there)]
    assert sorted(written[0]) == ["header.step", "primary_1.step"]
    assert written[0] == written[1]


def test_a_folder_that_is_not_there_is_an_error(parts: list[Named], tmp_path: Path) -> None:
    with pytest.raises(OSError):
        write_part(tmp_path / "nowhere" / "primary_1.step", parts[0], DATE)
