"""A header in somebody's own script."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

import headergen
import headergen.script
from headergen.model.finding import worst_level
from headergen.script import LoadedHeader, PartError
from headergen.solids.step import BARE, MACHINED
from headergen.spec.complaint import SpecError

ROOT = Path(__file__).resolve().parents[1]
BOGBEAN = ROOT / "specs/bogbean.yaml"


@pytest.fixture(scope="module")
def bogbean() -> LoadedHeader:
    return headergen.load(BOGBEAN)


def test_the_example_in_its_docstring(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    failed, tried = doctest.testmod(headergen.script)
    assert tried > 5
    assert failed == 0


def test_an_assembly_has_every_part_by_name_and_finish(bogbean: LoadedHeader) -> None:
    whole = bogbean.assembly()
    assert tuple(part.name for part in whole.children) == bogbean.parts
    assert whole.name == "Bogbean"
    for part in whole.children:
        machined = part.name == "flange" or part.name.startswith(("outlet ring", "boss"))
        assert part.color.toTuple()[:3] == pytest.approx(MACHINED if machined else BARE, abs=1e-3), part.name
        assert part.obj.ShapeType() == "Solid"
        assert part.obj.isValid()


def test_a_part_by_its_name_or_as_its_file_is_called(bogbean: LoadedHeader) -> None:
    one, other = bogbean.solid("primary 2"), bogbean.solid("primary_2")
    assert type(one).__name__ == "Solid"
    assert one.Volume() == other.Volume()


def test_an_unknown_part_is_named_with_the_known_ones(bogbean: LoadedHeader) -> None:
    with pytest.raises(PartError, match=r"no part called primary_9; its parts are: flange, primary 1, .*tab on"):
        bogbean.solid("primary_9")


def test_a_spec_that_cannot_be_read_says_where() -> None:
    with pytest.raises(SpecError, match=r"octal.yaml:8:14 flange.thickness: 0o12 is not a decimal number"):
        headergen.load(ROOT / "tests/bad_specs/octal.yaml")


@pytest.mark.slow
def test_what_cannot_be_made_is_said_and_never_left_out(tmp_path: Path) -> None:
    """A bend of a radius below half the tube's diameter has no solid, and so there is no whole assembly."""
    text = BOGBEAN.read_text(encoding="utf-8").replace("../shared", str(ROOT / "shared"))
    tight = tmp_path / "tight.yaml"
    tight.write_text(text.replace("{bend: 60, radius: 63.5,", "{bend: 60, radius: 21.1,"), encoding="utf-8")
    header = headergen.load(tight)
    assert worst_level(header.check().findings) == "error"
    assert "primary 1" not in header.parts
    for ask in (header.assembly, lambda: header.solid("primary_1")):
        with pytest.raises(PartError, match=r"primary 1.*no legal solid"):
            ask()
    assert header.solid("primary_3").isValid()
