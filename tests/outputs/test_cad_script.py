"""The CAD script makes the same solids where headergen cannot be imported, and says what it leaves out."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from OCP.STEPControl import STEPControl_Reader

from headergen.geometry.curves.centreline import trace
from headergen.model import Bolt, Collector, Header, OutletBall, OutletBell, OutletPlate, PortShape, Straight, Tube
from headergen.outputs.cad_script import CAD_SCRIPT_FILE, cad_script, write_cad_script
from headergen.pipeline import settle
from headergen.solids.assembly import named_solids
from headergen.solids.inspect import measure
from headergen.solve.closing import close
from tests.checks.small_header import draft
from tests.random_parts import random_collector, random_flange
from tests.random_uneven import random_uneven
from tests.runs import primary
from tests.solids.test_bracket import BRACKET, pair
from tests.solids.test_whole import whole

ROOT = Path(__file__).resolve().parents[2]
SAME = 1e-4  # of a volume
ALONE = """
import importlib.abc, importlib.util, json, sys

class Refuse(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] == "headergen":
            raise ImportError(name)

sys.meta_path.insert(0, Refuse())
try:
    import headergen
except ImportError:
    pass
else:
    sys.exit("headergen can be imported here")
found = {}
for file in sys.argv[1:]:
    spec = importlib.util.spec_from_file_location("header_cad", file)
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    found[file] = {name: [part.ShapeType(), part.isValid(), part.Volume()] for name, part in script.build().items()}
print(json.dumps(found))
"""
SPECS = ["specs/glasswort_left.yaml", "specs/glasswort_right.yaml", "specs/withybed.yaml"]
SPECS += ["specs/sedge.yaml", "specs/bulrush.yaml", "tests/two_steps/bogbean_four_two_one.yaml"]


def run_alone(folder: Path, *files: str) -> dict[str, dict[str, list[Any]]]:
    """What the scripts make, in a process that refuses headergen and starts in another folder."""
    done = subprocess.run([sys.executable, "-I", "-c", ALONE, *files], cwd=folder, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    found: dict[str, dict[str, list[Any]]] = json.loads(done.stdout)  # so it prints nothing of its own
    return found


def refuse_difference(made: Mapping[str, list[Any]], header: Header, ours: Mapping[str, Any]) -> None:
    assert set(made) == set(ours)
    for name, (kind, is_valid, volume) in made.items():
        assert (kind, is_valid) == ("Solid", True), name
        assert volume == pytest.approx(ours[name].Volume(), rel=SAME), name


def refuse_unlike(folder: Path, headers: Mapping[str, Header], *among: str) -> None:
    """Every part of each header by its script: one valid solid of the volume of ours. Some names are among them."""
    ours = {}
    for file, header in headers.items():
        ours[file] = named_solids(header)
        assert set(among) <= set(ours[file])
        text, left_out = cad_script(header, list(ours[file]))
        assert left_out == ()
        (folder / file).write_text(text, encoding="utf-8")
    made = run_alone(folder, *headers)
    for file, header in headers.items():
        refuse_difference(made[file], header, ours[file])


@pytest.fixture(scope="module")
def straight() -> Header:
    """One straight tube of 400 mm from the gasket face."""
    return close(draft([Straight(400.0)]))


@pytest.mark.slow
def test_the_bogbean_and_a_bracket_without_headergen(tmp_path: Path) -> None:
    headers = {"bogbean.py": settle(ROOT / "specs/bogbean.yaml"), "bracket.py": pair(replace(BRACKET, hole=12.0))}
    refuse_unlike(tmp_path, headers)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("spec", SPECS)
def test_the_other_demos_without_headergen(spec: str, tmp_path: Path) -> None:
    refuse_unlike(tmp_path, {"header.py": settle(ROOT / spec)})


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", [None, 0, 1, 2])
def test_every_kind_of_part_without_headergen(seed: int | None, tmp_path: Path) -> None:
    refuse_unlike(tmp_path, {"header.py": whole() if seed is None else random_header(seed)})


def of_collector(tube: Tube, collector: Collector) -> Header:
    return Header(draft(tube=tube, collectors=(collector,)), (), ())


def tapered(seed: int, share: float) -> Header:
    tube, even = random_collector(seed)
    assert even.outlet is not None
    return of_collector(tube, replace(even, outlet_to=share * even.outlet))


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("which", ["grid", "tapered", "places"])
def test_spikes_of_uneven_merges_and_tapered_outlets_without_headergen(which: str, tmp_path: Path) -> None:
    """A grid of welded tubes with its spike, a merge of revolution whose outlet widens, with its spike, and one whose
    faces meet only within the tolerance by which its tubes were fused."""
    kind, tube, grid = random_uneven(113)
    assert (kind, grid.join, grid.spike) == ("grid", "weld", True)
    makes = {
        "grid": lambda: of_collector(tube, grid),
        "tapered": lambda: tapered(1, 1.2),
        "places": lambda: of_collector(*random_uneven(128)[1:]),
    }
    header = makes[which]()
    assert header.draft.collectors[0].spike
    refuse_unlike(tmp_path, {"header.py": header}, "spike main")


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", [22, 92, 115])
def test_more_uneven_merges_without_headergen(seed: int, tmp_path: Path) -> None:
    refuse_unlike(tmp_path, {"header.py": of_collector(*random_uneven(seed)[1:])})


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", [0, 2, 3])
def test_more_tapered_outlets_without_headergen(seed: int, tmp_path: Path) -> None:
    refuse_unlike(tmp_path, {"header.py": tapered(seed, 0.9)})


def random_header(seed: int) -> Header:
    """A random flange with a short tube on each port, and a random collector with an end somewhere else."""
    flange, (tube, collector) = random_flange(seed), random_collector(seed)
    assert collector.outlet is not None
    plate = OutletPlate(PortShape("rectangle", (60.0, 40.0, 8.0)), 11.0, (Bolt((50.0, 9.0), 9.0),), 70.0, divider=5.0)
    ends = OutletBell(collector.outlet + 4.0, 30.0), OutletBall(collector.outlet + 40.0, 15.0), plate
    collector = replace(collector, end=ends[seed % len(ends)], outlet_length=max(collector.outlet_length, 20.0))
    steps = (Straight(200.0),)
    runs = tuple(replace(primary(p.number, p, collector.bores[0], steps), tube=tube) for p in flange.ports)
    made = draft(tube=tube, collectors=(collector,), flanges=(flange,))
    return Header(made, runs, tuple(trace(run.port.frame, steps, run.name) for run in runs))


@pytest.mark.slow
def test_run_by_itself_it_writes_what_its_figures_say(straight: Header, tmp_path: Path) -> None:
    """A straight tube whose wall somebody doubles: the volume is that of the ring times its length."""
    text, _ = cad_script(straight, ["primary 1"])
    assert text.count('"wall": 1.5,') == 1
    (tmp_path / CAD_SCRIPT_FILE).write_text(text.replace('"wall": 1.5,', '"wall": 3,'), encoding="utf-8")
    command = [sys.executable, "-I", CAD_SCRIPT_FILE, "mine.step"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "Wrote mine.step."
    assert "'primary 1'" in (tmp_path / "mine.step").read_text(encoding="utf-8", errors="replace")
    reader = STEPControl_Reader()
    reader.ReadFile(str(tmp_path / "mine.step"))
    reader.TransferRoots()
    facts, length = measure(reader.OneShape()), 400.0 - straight.draft.flanges[0].setback
    assert facts.valid
    assert facts.volume == pytest.approx(math.pi * (21.2**2 - 18.2**2) * length, rel=1e-6)


def test_what_it_cannot_say_is_named(straight: Header, tmp_path: Path) -> None:
    assert write_cad_script(tmp_path, straight, ["primary 1", "heat shield 2"]) == ("heat shield 2",)
    text = (tmp_path / CAD_SCRIPT_FILE).read_text(encoding="utf-8")
    compile(text, CAD_SCRIPT_FILE, "exec")
    docstring, _, code = text.removeprefix('"""').partition('"""')
    assert "LEFT OUT" in docstring and "heat shield 2" in docstring
    assert 'LEFT_OUT = ["heat shield 2"]' in code


def test_same_header_same_bytes(tmp_path: Path) -> None:
    for folder in ("one", "other"):
        (tmp_path / folder).mkdir()
        write_cad_script(tmp_path / folder, whole(), ["flange", "primary 1", "collector main", "spike main"])
    one, other = ((tmp_path / folder / CAD_SCRIPT_FILE).read_bytes() for folder in ("one", "other"))
    assert one == other


@pytest.mark.parametrize("title", ['a "quoted" one', "it's", 'ends in """', "back\\slash", "line\nbreak", "Größe 🙂"])
def test_any_title_and_name_is_said_and_breaks_nothing(title: str) -> None:
    made = draft([Straight(400.0)])
    made = replace(made, job=replace(made.job, title=title))
    text, _ = cad_script(close(made), ["primary 1", title])
    names: dict[str, Any] = {}
    for line in text.splitlines():
        if line.startswith(("TITLE = ", "LEFT_OUT = ")):
            exec(line, names)
    assert (names["TITLE"], names["LEFT_OUT"]) == (title, [title])
    compile(text, CAD_SCRIPT_FILE, "exec")
