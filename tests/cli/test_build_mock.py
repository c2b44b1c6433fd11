"""`build` with a fit mock: what it leaves, that it is the same again, and what happens when one cannot be printed."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import lib3mf
import pytest
import trimesh

from headergen.jobs.mock import GUIDE, MOCK, MOCK_AGAIN, finish_mock, mock_steps
from headergen.pipeline import check
from tests.cli.calls import ROOT, Done, called, refuse_difference, run, without_pictures

# two tubes out and down: half the time that a demo takes
PAIR = """\
format: 1
job: {title: Pair, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  bolts: [{at: [-35, 20], hole: 8.5}, {at: [45, -32], hole: 8.5}, {at: [125, 20], hole: 8.5}]
  ports:
    1: {at: [0, 0], shape: {round: 38}}
    2: {at: [90, 0], shape: {round: 38}}
collectors:
  main:
    plane: {origin: [45, 143.5, -238.5], normal: [0, 0, -1], x: [1, 0, 0]}
    join: slip
    slip: 40
    pattern: line
    pitch: 90
    bores: [1, 2]
length: {target: 354.7, tolerance: 1}
primaries:
  1: [{straight: 80}, {bend: 90, radius: 63.5, rotation: 90}, {straight: 175}]
  2: [{straight: 80}, {bend: 90, radius: 63.5, rotation: 90}, {straight: 175}]
"""
# the same with all that is printed only when asked for
ALL = (
    PAIR.replace("bores: [1, 2]", "bores: [1, 2]\n    half_angle: 20\n    outlet: 60")
    + """\
mock:
  collector: true
  cut_guides: true
  steel_after: [{primary: 1, joint: 2}]
  without_key: [{primary: 2, joint: 1}]
"""
)


def build(spec: Path, out: Path, *more: str) -> Done:
    return run("build", spec, "--out", out, *more)


def build_without_pictures(spec: Path, out: Path, monkeypatch: pytest.MonkeyPatch) -> Done:
    without_pictures(monkeypatch.setattr)
    return called("build", spec, "--out", out)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("mock")
    (out / "pair.yaml").write_text(ALL, encoding="utf-8")
    done = build(out / "pair.yaml", out, "--mock")
    assert done.returncode == 0 and done.stderr == "", done.stdout + done.stderr
    return out / "pair"


@pytest.mark.slow
def test_every_file_is_in_the_manifest(folder: Path) -> None:
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    made = {path.relative_to(folder).as_posix() for path in (folder / "mock").rglob("*") if path.is_file()}
    assert made == {name for name in manifest["files"] if name.startswith("mock/")}
    for name in made:
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == manifest["files"][name]
    assert {"mock/mock.md", "mock/plate_1.3mf", "mock/coupon_1.3mf", "mock/parts/F1.stl", "mock/parts/P1-1.stl"} <= made
    assert {"mock/primary_1.png", "mock/L1.dxf", "mock/L2.dxf", "mock/parts/L1.stl"} <= made
    assert {f"mock/parts/{name}.stl" for name in ("C1", "G1-1", "G1-2", "J1-2")} <= made
    sheet = (folder / "mock" / "mock.md").read_text(encoding="utf-8")
    assert "mock/together.png" in made
    assert 0 < sheet.index("](together.png)") < sheet.index("](primary_1.png)")
    assert "](primary_2.png)" in sheet and "# Collector main: locating plates L1 and L2" in sheet
    assert manifest["not_made"] == []


@pytest.mark.slow
def test_plates_hold_every_part_once(folder: Path) -> None:
    parts = {path.stem: path for path in (folder / "mock" / "parts").iterdir()}
    seen: list[str] = []
    for path in sorted((folder / "mock").glob("*.3mf")):
        model = lib3mf.get_wrapper().CreateModel()
        reader = model.QueryReader("3mf")
        reader.SetStrictModeActive(True)
        reader.ReadFromFile(str(path))
        assert reader.GetWarningCount() == 0
        assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
        meshes = model.GetMeshObjects()
        while meshes.MoveNext():
            mesh = meshes.GetCurrentMeshObject()
            assert mesh.IsManifoldAndOriented()
            seen += [mesh.GetName()] if not path.name.startswith("coupon") else []
    assert sorted(seen) == sorted(parts)
    for path in parts.values():
        assert trimesh.load_mesh(path).is_watertight, path.name


@pytest.mark.slow
def test_same_bytes_in_another_process_folder_and_hash_seed(folder: Path, tmp_path: Path) -> None:
    """Every file, the manifest too; the first build ran with a random hash seed, and nothing of it is kept for the
    other. The demos: test_commands.py."""
    (tmp_path / "pair.yaml").write_text(ALL, encoding="utf-8")
    other = {"PYTHONHASHSEED": "7", "XDG_CACHE_HOME": str(tmp_path / "cache")}
    done = run("build", "pair.yaml", "--out", ".", "--mock", cwd=tmp_path, **other)
    assert done.returncode == 0, done.stderr
    refuse_difference(folder, tmp_path / "pair")


@pytest.mark.slow
def test_a_build_without_a_mock_keeps_the_earlier_one(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The spec has changed since: the old mock is there to the last byte of its parts, and nobody takes it for new."""
    spec = tmp_path / "pair.yaml"
    spec.write_text(PAIR.replace("revision: A", "revision: B"), "utf-8")
    out = tmp_path / "out"
    shutil.copytree(folder, out / "pair")
    done = build_without_pictures(spec, out, monkeypatch)
    assert done.returncode == 0, done.stderr
    assert (
        "Note: mock_earlier/ is from an earlier build, made from another state of the spec or by another version."
        in done.stderr
    )
    kept = out / "pair" / "mock_earlier"
    assert not (out / "pair" / "mock").exists()
    for path in (folder / "mock").rglob("*.*"):
        if path.suffix != ".md":
            assert (kept / path.relative_to(folder / "mock")).read_bytes() == path.read_bytes()
    assert "**EARLIER: made from another state" in (kept / "mock.md").read_text(encoding="utf-8").splitlines()[2]
    manifest = json.loads((out / "pair" / "manifest.json").read_text(encoding="utf-8"))
    old = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["kept"] == {"folder": "mock_earlier", "made_from": old["made_from"]}
    assert "mock_earlier/plate_1.3mf" in manifest["files"]


@pytest.mark.slow
def test_the_spec_asks_for_it_and_a_slim_tube_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec = tmp_path / "slim.yaml"
    spec.write_text(PAIR.replace("outside_diameter: 42.4", "outside_diameter: 12") + "mock: {gap: 0.3}\n", "utf-8")
    done = build_without_pictures(spec, tmp_path / "out", monkeypatch)
    assert done.returncode == 4, done.stderr
    assert "not made: fit mock (primary 1: a spigot at" in done.stderr and "would be too slim)" in done.stderr
    assert not (tmp_path / "out" / "slim" / "mock").exists()
    assert (tmp_path / "out" / "slim" / "primary_1.step").is_file()
    manifest = json.loads((tmp_path / "out" / "slim" / "manifest.json").read_text(encoding="utf-8"))
    assert [each["what"] for each in manifest["not_made"]] == ["fit mock"]


@pytest.fixture
def wrong(tmp_path: Path) -> Path:
    """The Bogbean with more asked between its tubes than there is, and with all that is printed when asked for."""
    text = (ROOT / "specs" / "bogbean.yaml").read_text(encoding="utf-8").replace("../shared", f"{ROOT}/shared")
    spec = tmp_path / "wrong.yaml"
    assert text.count("between_tubes: 6") == 1
    text = text.replace("between_tubes: 6", "between_tubes: 7")  # three pairs come nearer beside the collector
    asked = "flange: false, collector: true, cut_guides: true, steel_after: [{primary: 2, joint: 2}]"
    spec.write_text(text + f"mock: {{{asked}, without_key: [{{primary: 1, joint: 3}}]}}\n", "utf-8")
    return spec


def says_so(mock: Path) -> None:
    sheet = (mock / "mock.md").read_text(encoding="utf-8")
    assert "NOT CLEARED: this header has 3 error findings." in sheet
    assert "Free to turn: joint 3 of primary 1." in sheet and "F plates" not in sheet
    assert "- G1-1: the mitre of all 4 tubes of collector main, 46.0 mm (1.811 in), 5.00° from square." in sheet
    assert "| G1-2 | " in sheet and (mock / "parts" / "G1-2.stl").exists()
    assert "Steel after plastic: J2-2." in sheet and "| J2-2 | primary 2 |" in sheet
    assert "The collector goes on last (C1.1, C1.2)" in sheet  # with its outlet it is taller than the bed
    assert (mock / "parts" / "C1.1.stl").exists() and (mock / "parts" / "C1.2.stl").exists()


@pytest.mark.slow
def test_a_header_with_errors_says_so(wrong: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The mock alone, without pictures: most of the time of a build goes into those."""
    result = check(wrong).result
    settings = result.header.draft.mock
    assert settings is not None
    monkeypatch.setattr("headergen.jobs.mock.users_folder", lambda name: tmp_path / "cache" / name)
    first, *_ = mock_steps(result, settings, frozenset(), tmp_path, lambda *_: None)
    work, inputs = first.begin({})
    facts = work(*inputs, lambda *_: None)
    not_made = finish_mock({MOCK: facts, MOCK_AGAIN: None, GUIDE: None}, tmp_path, (result.header, settings))
    assert [missing.what for missing in not_made] == ["pictures of the fit mock"]
    says_so(tmp_path / "mock")


@pytest.mark.slow
def test_a_build_of_a_header_with_errors_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    spec = tmp_path / "wrong.yaml"
    assert PAIR.count("target: 354.7") == 1
    spec.write_text(PAIR.replace("target: 354.7", "target: 360"), "utf-8")
    without_pictures(monkeypatch.setattr)
    done = called("build", spec, "--out", tmp_path / "out", "--mock")
    assert done.returncode == 1, done.stderr
    sheet = (tmp_path / "out" / "wrong" / "mock" / "mock.md").read_text(encoding="utf-8")
    assert "NOT CLEARED: this header has 2 error findings." in sheet
