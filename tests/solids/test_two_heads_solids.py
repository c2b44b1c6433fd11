"""The parts of a header on two heads against those of its two halves, each made as a header of its own."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest

from headergen.outputs.dxf.drawings import write_drawings
from headergen.parts.kind import file_stem
from headergen.solids.build import MadeSolid, make_parts
from tests.checks.two_heads import both_text, header_of, one_text

NAMES = {1: "left", 2: "right"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("heads")


def parts_in(folder: Path, text: str) -> dict[str, MadeSolid]:
    header = header_of(text, folder)
    parts, overlaps = make_parts(header, folder, lambda *_: None)
    assert overlaps == ()
    write_drawings(folder, header.draft, [(part.part, file_stem(part.name)) for part in parts])
    return {part.name: part for part in parts}


@pytest.fixture(scope="module")
def both(folder: Path) -> dict[str, MadeSolid]:
    return parts_in(folder / "both", both_text())


@pytest.mark.quick(1)
@pytest.mark.parametrize("number", NAMES)
def test_each_half_is_made_as_it_is_alone(number: int, both: dict[str, MadeSolid], folder: Path) -> None:
    """Volume, centre and mesh of every part; a drawing of each plate with the same contours."""
    alone = parts_in(folder / str(number), one_text(number))
    plate = f"flange {NAMES[number]}"
    assert set(alone) == {"flange", f"primary {number}", *(["transition 1"] if number == 1 else [])}
    for name, part in alone.items():
        mine = both[plate if name == "flange" else name]
        assert (mine.volume, mine.centre) == (part.volume, part.centre)
    assert contours(folder / "both" / f"flange_{NAMES[number]}.dxf") == contours(folder / str(number) / "flange.dxf")


def contours(file: Path) -> list[object]:
    space = ezdxf.readfile(file).modelspace()
    return [
        (each.dxftype(), sorted(each.dxfattribs().items() - {("handle", each.dxf.handle), ("owner", each.dxf.owner)}))
        for each in space
        if each.dxf.layer == "CUT"
    ]


def test_every_plate_has_files_of_its_own(both: dict[str, MadeSolid], folder: Path) -> None:
    assert list(both) == ["flange left", "flange right", "transition 1", "primary 1", "primary 2"]
    assert both["flange left"].files[0] == "flange_left.step"
    assert (folder / "both" / "flange_right.step").is_file()
