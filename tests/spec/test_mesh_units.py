"""In which units a mesh is, which way it is turned, and how far away it lies: asked where in doubt, and always said."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console
from small_spec import changed

from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import TriangleIndex
from headergen.model import Box, Frame, MeshFacts, Result
from headergen.model.finding import Finding
from headergen.outputs.gltf import write_glb
from headergen.outputs.report import report_data
from headergen.outputs.report.markdown import report_markdown
from headergen.outputs.report.terminal import summary
from headergen.pipeline import check
from headergen.spec.complaint import SpecError
from headergen.spec.mesh.load import load_meshes
from headergen.spec.reader import read_spec
from headergen.spec.units import MILLIMETRES

UNITS = ("mm", "cm", "m", "in", "ft")


def stl(triangles: np.ndarray) -> bytes:
    records = np.zeros(len(triangles), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
    records["c"] = triangles
    return bytes(80) + struct.pack("<I", len(triangles)) + records.tobytes()


def box(middle: tuple[float, float, float], size: tuple[float, float, float]) -> np.ndarray:
    mesh = box_mesh(Box(Frame(middle, WORLD.x, WORLD.y, WORLD.z), size))
    return mesh.vertices[mesh.faces]


RAIL = box((0.0, 150.0, -60.0), (3300.0, 40.0, 40.0))  # 8.6 mm under a tube of 42.4 mm along y


def spec(folder: Path, content: bytes, keys: str = "", name: str = "rail.stl", units: str = "mm") -> Path:
    (folder / name).write_bytes(content)
    path = folder / "job.yaml"
    made = changed(end=f"chassis:\n  - {{name: rail, mesh: {name}, clearance: 5 mm{keys}}}\n")
    path.write_text(made)
    return path


def taken(path: Path) -> tuple[TriangleIndex, MeshFacts]:
    found, [facts] = load_meshes(path, read_spec(path)[1])
    return found["rail"], facts


def result(path: Path) -> Result:
    return check(path).result


def of_rule(made: Result, rule: str) -> list[Finding]:
    return [finding for finding in made.findings if finding.rule == rule]


def on_terminal(made: Result) -> str:
    console = Console(width=1000, no_color=True, file=None, record=True, quiet=False)
    with console.capture() as captured:
        console.print(summary(made))
    return captured.get()


@pytest.mark.slow
def test_no_unit_is_ever_told_wrong(tmp_path: Path) -> None:
    """Boxes of 0.2 to 8 m near the header, in each unit: told right or asked, and told where only one is possible."""
    dice = np.random.default_rng(5)
    told = 0
    for _ in range(30):
        size = np.exp(dice.uniform(np.log(200), np.log(8000)))
        middle = tuple((dice.uniform(-300, 300, 3)).tolist())
        for unit in UNITS:
            content = stl(box(middle, (size, 50.0, 50.0)) / MILLIMETRES[unit])
            try:
                facts = taken(spec(tmp_path, content))[1]
            except SpecError as asked:
                complaint = asked.complaints[0]
                assert "cannot be told" in complaint.message and f"in {unit} it would be" in complaint.message
                assert "say units: mm, cm, m, in or ft" in complaint.hint
            else:
                assert facts.units == unit
                told += 1
    assert told >= 5


def test_a_scan_in_centimetres_is_asked_about(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match=r"in cm it would be 3300 mm long.*in in it would be 8382 mm long"):
        taken(spec(tmp_path, stl(RAIL / 10)))
    assert taken(spec(tmp_path, stl(RAIL / 10), ", extent: 3290 mm"))[1].units == "cm"


def test_the_sentence_says_what_was_computed(tmp_path: Path) -> None:
    [note] = of_rule(result(spec(tmp_path, stl(RAIL))), "mesh-units")
    assert (
        "of mm, cm, m, in and ft that is the only one in which it is between 100.0 mm and 15000.0 mm long"
        in note.message
    )
    assert "less than 1000.0 mm from a port or bore" in note.message


@pytest.mark.parametrize("true", ["cm", "in", "ft"])
def test_a_stated_unit_is_checked(tmp_path: Path, true: str) -> None:
    """A rail that is kept in another unit and called mm: said, or refused where it would be a speck."""
    content = stl(RAIL / MILLIMETRES[true])
    if true == "ft":
        with pytest.raises(SpecError, match=r"in mm is 10\.83 mm in its largest dimension, too small to be true"):
            taken(spec(tmp_path, content, ", units: mm"))
        return
    made = result(spec(tmp_path, content, ", units: mm"))
    [note] = of_rule(made, "mesh-units")
    assert note.level == "warning" and f"in {true} it would be 3300.0 mm long" in note.message
    assert "extent" in note.message
    with pytest.raises(SpecError, match=f"it would match with units: {true}"):
        taken(spec(tmp_path, content, ", units: mm, extent: 3300 mm"))
    right = result(spec(tmp_path, content, f", units: {true}, extent: 3300 mm"))
    assert not of_rule(right, "mesh-units")
    assert not of_rule(result(spec(tmp_path, stl(RAIL), ", units: mm")), "mesh-units"), "nothing else is possible"


def test_far_and_small_are_warnings(tmp_path: Path) -> None:
    far = result(spec(tmp_path, stl(RAIL - np.array([0, 0, 1500])), ", units: mm"))
    [note] = of_rule(far, "mesh-far")
    assert note.level == "warning" and note.limit == 1000.0 and note.value is not None and 1000 < note.value < 1600
    small = result(spec(tmp_path, stl(box((600.0, 300.0, 0.0), (60.0, 40.0, 40.0))), ", units: mm"))
    [note] = of_rule(small, "mesh-small")
    assert (note.level, note.value, note.limit) == ("warning", 60.0, 100.0)
    assert not of_rule(small, "mesh-far") and not of_rule(far, "mesh-small")


def test_every_mesh_has_its_line(tmp_path: Path) -> None:
    made = result(spec(tmp_path, stl(RAIL), ", units: mm"))
    [gap] = [gap for gap in made.survey.gaps if gap.b == "rail"][:1]
    nearest = min(gap.value for gap in made.survey.gaps if gap.b == "rail")
    line = (
        "rail: rail.stl is in mm, as stated; 3300.0 × 40.0 × 40.0 mm; axes and place as in the file; "
        f"{nearest:.1f} mm from the header."
    )
    assert gap.value > 0 and f"Mesh {line}" in on_terminal(made)
    text = report_markdown(made, "0")
    assert "## Meshes" in text and "rail: rail.stl is in mm, as stated; 3300.0 mm (129.921 in)" in text
    [entry] = report_data(made, "0")["meshes"]
    assert entry["from_header_mm"] == pytest.approx(nearest, abs=1e-6) and entry["placed"] == "file"
    assert "it meets the header" in on_terminal(result(spec(tmp_path, stl(RAIL + np.array([0, 0, 50])), ", units: mm")))


def test_our_own_glb_lies_where_it_was(tmp_path: Path) -> None:
    """y is up in the file; it is turned back, and said."""
    mesh = box_mesh(Box(Frame((0.0, 150.0, -60.0), WORLD.x, WORLD.y, WORLD.z), (900.0, 40.0, 60.0)))
    write_glb(tmp_path / "own.glb", {"rail": mesh})
    path = spec(tmp_path, (tmp_path / "own.glb").read_bytes(), name="rail.glb")
    index, facts = taken(path)
    for ours, theirs in zip((mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)), _ends(index), strict=True):
        assert theirs == pytest.approx(ours, abs=1e-3)
    assert (facts.units, facts.units_from, facts.content.y_up) == ("m", "format", True)
    made = result(path)
    assert "is in m, as its format says" in on_terminal(made)
    assert "turned from y up to z up, in its own place" in on_terminal(made)


def test_a_glb_in_the_way_is_in_the_way(tmp_path: Path) -> None:
    """A rail through the tubes, written for another program with y up, is an error wherever it would lie unturned."""
    through = box_mesh(Box(Frame((0.0, 150.0, 0.0), WORLD.x, WORLD.y, WORLD.z), (900.0, 40.0, 40.0)))
    write_glb(tmp_path / "own.glb", {"rail": through})
    made = result(spec(tmp_path, (tmp_path / "own.glb").read_bytes(), name="rail.glb"))
    assert any(f.rule == "gap-chassis" and f.level == "error" for f in made.findings)


def test_points_of_a_glb_are_as_the_file_has_them(tmp_path: Path) -> None:
    """Pairs whose scan side is y up, in metres, place the mesh where it was."""
    mesh = box_mesh(Box(Frame((0.0, 150.0, -60.0), WORLD.x, WORLD.y, WORLD.z), (900.0, 40.0, 60.0)))
    write_glb(tmp_path / "own.glb", {"rail": mesh})
    places = [(450.0, 130.0, -90.0), (-450.0, 130.0, -30.0), (450.0, 170.0, -30.0), (-450.0, 170.0, -90.0)]
    pairs = ", ".join(
        f"{{name: p{k}, scan: [{x / 1000}, {z / 1000}, {-y / 1000}], engine: [{x} mm, {y} mm, {z} mm]}}"
        for k, (x, y, z) in enumerate(places)
    )
    path = spec(tmp_path, (tmp_path / "own.glb").read_bytes(), f", placement: {{points: [{pairs}]}}", name="rail.glb")
    low, high = _ends(taken(path)[0])
    assert low == pytest.approx(mesh.vertices.min(axis=0), abs=1e-3)
    assert high == pytest.approx(mesh.vertices.max(axis=0), abs=1e-3)


def _ends(index: TriangleIndex) -> tuple[np.ndarray, np.ndarray]:
    corners = index.triangles().reshape(-1, 3)
    return corners.min(axis=0), corners.max(axis=0)
