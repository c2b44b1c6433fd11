"""Scans as chassis: formats, units told, placed by points, odd files taken with a word or refused, and kept."""

from __future__ import annotations

import re
import struct
import zipfile
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import trimesh
from small_spec import changed

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.frames import axes_matrix, frame_from_normal
from headergen.geometry.mesh.index import TriangleIndex, distance_to_index
from headergen.model import MeshFacts
from headergen.model.finding import Finding
from headergen.pipeline import check
from headergen.solve.closing import close
from headergen.spec.complaint import SpecError
from headergen.spec.mesh import load as meshes_module
from headergen.spec.mesh.cache import cache_folder
from headergen.spec.mesh.load import load_meshes
from headergen.spec.reader import read_spec
from tests.benchmarks.made_scan import scan


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("platformdirs.user_cache_path", lambda name: tmp_path / "cache" / name)


def stl(triangles: np.ndarray, title: bytes = b"scan", count: int | None = None) -> bytes:
    records = np.zeros(len(triangles), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
    records["c"] = triangles
    return title.ljust(80) + struct.pack("<I", len(triangles) if count is None else count) + records.tobytes()


def stl_text(triangles: np.ndarray, number: str = "{:.4f}") -> bytes:
    def corner(p: np.ndarray) -> str:
        return "vertex " + " ".join(number.format(v) for v in p)

    facets = "".join(
        f"facet normal 0 0 0\nouter loop\n{corner(a)}\n{corner(b)}\n{corner(c)}\nendloop\nendfacet\n"
        for a, b, c in triangles
    )
    return f"solid scan\n{facets}endsolid scan\n".encode()


SHEET = scan(400) + np.float32(0)  # 3 m × 1.6 m, in mm, about 260 mm below the ports


def exported(kind: str, triangles: np.ndarray = SHEET) -> bytes:
    made = trimesh.Trimesh(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3), process=False)
    written = made.export(file_type=kind)
    return written if isinstance(written, bytes) else written.encode()


def points_ply(points: np.ndarray) -> bytes:
    return trimesh.PointCloud(points).export(file_type="ply")


def spec_with(folder: Path, content: bytes, name: str, keys: str) -> Path:
    (folder / name).write_bytes(content)
    path = folder / "spec.yaml"
    path.write_text(changed(end=f"chassis:\n  - {{name: floor scan, mesh: {name}, clearance: 10{keys}}}\n"))
    return path


def taken(
    folder: Path, content: bytes, name: str = "scan.stl", keys: str = ", role: surface"
) -> tuple[TriangleIndex, MeshFacts]:
    path = spec_with(folder, content, name, keys)
    found, [facts] = load_meshes(path, read_spec(path)[1])
    return found["floor scan"], facts


def said(folder: Path, content: bytes, name: str = "scan.stl", keys: str = ", role: surface") -> list[Finding]:
    path = spec_with(folder, content, name, keys)
    draft = read_spec(path)[1]
    found, facts = load_meshes(path, draft)
    return [f for f in judge(survey(close(draft), found, facts)) if "mesh" in f.rule or f.where == "floor scan"]


@pytest.mark.parametrize("kind", ["stl", "ply", "obj", "off", "glb", "3mf"])
def test_every_format_brings_the_same_surface(tmp_path: Path, kind: str) -> None:
    own = SHEET[..., [0, 2, 1]] * np.float32([1, 1, -1]) if kind == "glb" else SHEET  # y is up in a GLB
    index, facts = taken(tmp_path, exported(kind, own), f"scan.{kind}", ", units: mm, role: surface")
    assert facts.content.triangles == len(SHEET) == len(index)
    probes = np.random.default_rng(0).uniform(-300, 300, (20, 3))
    truth, _ = taken(tmp_path, stl(SHEET), keys=", units: mm, role: surface")
    assert distance_to_index(probes, index) == pytest.approx(distance_to_index(probes, truth), abs=1e-3)


@pytest.mark.parametrize(("unit", "size"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("in", 25.4), ("ft", 304.8)])
def test_units_are_told_by_size_and_place(tmp_path: Path, unit: str, size: float) -> None:
    """Its largest dimension by tape tells; without it only millimetres can be told of 2.4 m."""
    content = stl(SHEET * np.float32(0.8) / np.float32(size))  # 2.4 m
    keys = ", role: surface" if unit == "mm" else ", role: surface, extent: 2450"
    _, facts = taken(tmp_path, content, keys=keys)
    assert (facts.units, facts.units_from) == (unit, "size" if unit == "mm" else "extent")
    assert facts.size[0] == pytest.approx(2400, rel=1e-5)
    [note] = [f for f in said(tmp_path, content, keys=keys) if f.rule == "mesh-units"]
    assert f"Write units: {unit}" in note.message and note.level == "info"


def test_units_that_cannot_be_told_are_asked_for(tmp_path: Path) -> None:
    """A plate of 400 mm, or of 10 m: both are by the header."""
    with pytest.raises(SpecError, match=r"cannot be told: in mm it would be 400 mm long.*in in it would be 10\.16 m"):
        taken(tmp_path, stl(SHEET * np.float32(400 / 3000)))


def test_gltf_is_in_metres_and_3mf_says_its_unit(tmp_path: Path) -> None:
    _, facts = taken(tmp_path, exported("glb", SHEET / np.float32(1000)), "scan.glb")
    assert (facts.units, facts.units_from) == ("m", "format")
    made = BytesIO(exported("3mf", SHEET / np.float32(25.4)))
    written = BytesIO()
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(written, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b'unit="millimeter"', b'unit="inch"'))
    _, facts = taken(tmp_path, written.getvalue(), "scan.3mf")
    assert (facts.units, facts.units_from) == ("in", "format")


FRAME = frame_from_normal((512.3, -210.4, 88.8), (0.3, -0.5, 0.8), (0.9, 0.3, 0.0))
PLACES = np.array([(-200.0, 100, -250), (400, -300, -240), (900, 500, -260), (0, 0, 120), (-600, 300, 60)])
RNG = np.random.default_rng(2)


def placed_by(places: np.ndarray, scans: np.ndarray, more: str = "") -> str:
    pairs = ", ".join(
        f"{{name: mark {n}, scan: [{', '.join(f'{v:.6f}' for v in s)}], engine: [{', '.join(f'{v:.6f}' for v in p)}]}}"
        for n, (p, s) in enumerate(zip(places, scans, strict=True), 1)
    )
    return f", role: surface, placement: {{points: [{pairs}]{more}}}"


def by_scanner(points: np.ndarray) -> np.ndarray:
    return (points - np.array(FRAME.origin)) @ axes_matrix(FRAME).T


def test_pairs_of_points_place_a_scan_and_tell_its_unit(tmp_path: Path) -> None:
    scans = by_scanner(PLACES) / 25.4
    own = (by_scanner(SHEET.reshape(-1, 3).astype(float)) / 25.4).reshape(-1, 3, 3)
    index, facts = taken(tmp_path, stl(own), keys=placed_by(PLACES, scans))
    assert (facts.units, facts.units_from) == ("in", "points") and max(pair.distance for pair in facts.residuals) < 1e-3
    truth, _ = taken(tmp_path, stl(SHEET), keys=", units: mm, role: surface")
    probes = np.random.default_rng(0).uniform(-300, 300, (20, 3))
    assert distance_to_index(probes, index) == pytest.approx(distance_to_index(probes, truth), abs=2e-3)


def test_residuals_are_shown_and_a_slip_of_the_pen_is_an_error(tmp_path: Path) -> None:
    own = stl(by_scanner(SHEET.reshape(-1, 3).astype(float)).reshape(-1, 3, 3))
    noisy = by_scanner(PLACES) + RNG.normal(0, 0.3, PLACES.shape)
    [note] = [f for f in said(tmp_path, own, keys=placed_by(PLACES, noisy)) if f.rule == "mesh-placed"]
    assert note.level == "info" and all(f"mark {n}" in note.message for n in range(1, 6))
    slipped = PLACES.copy()
    slipped[2, 0] += 9.0
    [note] = [f for f in said(tmp_path, own, keys=placed_by(slipped, noisy)) if f.rule == "mesh-placed"]
    assert note.level == "error" and "measure it again" in note.message
    flat = placed_by(PLACES[:3], noisy[:3])
    notes = {f.rule: f for f in said(tmp_path, own, keys=flat)}
    assert notes["mesh-mirror"].level == "warning" and "Add a fourth point" in notes["mesh-mirror"].message
    assert "each was assumed to be within 2.0 mm" in notes["mesh-placed"].message


def test_a_mirrored_scan_on_three_points_is_not_taken_in_silence(tmp_path: Path) -> None:
    """Mirrored in the plane of its three points it fits them as well as the true one: only a fourth can tell."""
    own = by_scanner(SHEET.reshape(-1, 3).astype(float) * (1, -1, 1)).reshape(-1, 3, 3)
    scans = by_scanner(PLACES * (1, -1, 1)) + RNG.normal(0, 0.2, PLACES.shape)
    notes = {f.rule: f for f in said(tmp_path, stl(own), keys=placed_by(PLACES[:3], scans[:3]))}
    assert notes["mesh-placed"].level == "info" and "mirrored scan" in notes["mesh-mirror"].message
    with pytest.raises(SpecError, match="is mirrored"):
        taken(tmp_path, stl(own), keys=placed_by(PLACES[:4], scans[:4]))


@pytest.mark.parametrize("count", [3, 4, 5])
def test_what_is_said_of_the_header_is_what_uncertain_gaps_use(tmp_path: Path, count: int) -> None:
    own = stl(by_scanner(SHEET.reshape(-1, 3).astype(float)).reshape(-1, 3, 3))
    noisy = by_scanner(PLACES) + np.random.default_rng(5).normal(0, 0.3, PLACES.shape)
    path = spec_with(tmp_path, own, "scan.stl", placed_by(PLACES[:count], noisy[:count], ", within: 1.5"))
    result = check(path).result
    [gap], [facts] = result.survey.gaps, result.survey.meshes
    assert facts.error == gap.uncertainty > 0 and facts.spread is not None
    assert facts.spread.assumed == (1.5 if count == 3 else 0.0)
    [note] = [f for f in result.findings if f.rule == "mesh-placed"]
    assert f"off by up to {facts.error:.1f} mm (95 %)" in note.message


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda scans: scans * (1, -1, 1), "is mirrored"),
        (lambda scans: scans * 0.95, "is scaled"),
        (lambda scans: scans * 7.0, "which is no unit"),
    ],
)
def test_mirrored_and_scaled_scans_are_refused(tmp_path: Path, change: object, words: str) -> None:
    keys = placed_by(PLACES, change(by_scanner(PLACES)))  # type: ignore[operator]
    with pytest.raises(SpecError, match=words):
        taken(tmp_path, stl(SHEET), keys=keys)


@pytest.mark.parametrize(("times", "words"), [((1, -1, 1), r"miss by \d+\.\d{3} in, mirrored by"),
                                             ((0.95, 0.95, 0.95), r"miss by \d+\.\d{3} in, but 1\.05"),
                                             ((7, 7, 7), "are 0.005624 in apart")])  # fmt: skip
def test_an_inch_job_is_told_of_its_points_in_inches(tmp_path: Path, times: tuple[float, ...], words: str) -> None:
    """1/7 mm is 0.005624 in."""
    path = spec_with(tmp_path, stl(SHEET), "scan.stl", placed_by(PLACES, by_scanner(PLACES) * times))
    with pytest.raises(SpecError, match=words) as caught:
        load_meshes(path, replace(read_spec(path)[1], units="in"))
    assert not re.search(r"\d mm", str(caught.value))


def test_points_on_a_line_and_a_wrong_unit_are_refused(tmp_path: Path) -> None:
    line = np.outer(np.arange(1.0, 4.0), (100.0, 20.0, -30.0))
    with pytest.raises(SpecError, match="they lie on a line"):
        taken(tmp_path, stl(SHEET), keys=placed_by(line, line))
    with pytest.raises(SpecError, match="said to be in in, but its points are as far apart as they would be in mm"):
        taken(tmp_path, stl(SHEET / np.float32(25)), keys=", units: in" + placed_by(PLACES, by_scanner(PLACES)))


NAN = SHEET.copy()
NAN[7, 1, 2] = np.nan
FLAT = SHEET.copy()
FLAT[5] = FLAT[5, 0]
LINES = SHEET.copy()
LINES[:, 2] = (LINES[:, 0] + LINES[:, 1]) / 2

ODD: dict[str, tuple[bytes, str, str]] = {  # content, file name, the rule that says what was assumed
    "binary titled solid": (stl(SHEET, b"solid scan"), "a.stl", ""),
    "decimal commas": (stl_text(SHEET, "{:.3f}").replace(b".", b","), "a.stl", "mesh-read"),
    "upper case text": (stl_text(SHEET).upper(), "a.stl", ""),
    "one corner is no number": (stl(NAN), "a.stl", "mesh-read"),
    "one triangle has no area": (stl(FLAT), "a.stl", "mesh-read"),
    "only points": (points_ply(SHEET.reshape(-1, 3)), "a.ply", "mesh-points"),
    "every triangle twice": (stl(np.concatenate([SHEET, SHEET])), "a.stl", ""),
    "sides mixed up": (stl(np.concatenate([SHEET[:200], SHEET[200:, ::-1]])), "a.stl", ""),
    "numbers with exponents": (stl_text(SHEET, "{:.6e}"), "a.stl", ""),
}
BROKEN: dict[str, tuple[bytes, str, str]] = {  # content, file name, what is said
    "empty": (b"", "a.stl", "empty"),
    "cut in its header": (b"scan".ljust(60, b"\0"), "a.stl", "ends here"),
    "text called stl": (b"Dear Sir,\nthe frame is ready\n", "a.stl", 'is text and no mesh; it begins with "Dear Sir,"'),
    "ply called stl": (exported("ply"), "a.stl", "begins as PLY does"),
    "stl called ply": (stl_text(SHEET), "a.ply", "does not begin with ply"),
    "cut short": (stl(SHEET)[:-210], "a.stl", "cut short"),
    "text cut short": (stl_text(SHEET)[:-300], "a.stl", "ends here"),
    "goes on": (stl(SHEET) + b"more", "a.stl", "goes on"),
    "count of another file": (stl(SHEET, count=99999), "a.stl", "count says"),
    "no triangle": (stl(SHEET[:0]), "a.stl", "no triangle"),
    "all squashed": (stl(LINES * np.float32(1) * 0 + 300), "a.stl", "none has an area"),
    "a third no numbers": (stl(np.where(np.arange(400)[:, None, None] % 3, SHEET, np.nan)), "a.stl", "of 400"),
    "commas and points": (stl_text(SHEET).replace(b".", b",", 7), "a.stl", "is where a number should be"),
    "ply cut short": (exported("ply")[:-3000], "a.ply", "the header promises 400 faces, but the file ends after 169"),
    "ply that is text": (b"hello", "a.ply", "does not begin with ply"),
    "obj of nonsense": (b"v 1 2\nf 1 1 9\n", "a.obj", "a corner has 2 of its three numbers"),
    "obj without faces": (b"# nothing\n", "a.obj", "no triangle"),
    "glb cut short": (exported("glb")[:400], "a.glb", "but the file ends after 400"),
    "glb that is none": (b"glTF" + bytes(40), "a.glb", "it is glTF of version 0"),
    "3mf that is no zip": (b"PK nothing", "a.3mf", "the file is text and no mesh of the kind 3MF"),
    "giant": (stl(SHEET * np.float32(1e5)), "a.stl", "cannot be told"),
    "speck": (stl(SHEET * np.float32(1e-6)), "a.stl", "cannot be told"),
    "far away": (stl(SHEET + np.float32(3e4)), "a.stl", "cannot be told"),
}
assert len(ODD) + len(BROKEN) >= 25


@pytest.mark.parametrize("name", ODD)
def test_odd_files_are_taken_with_a_word(tmp_path: Path, name: str) -> None:
    content, file, rule = ODD[name]
    index, facts = taken(tmp_path, content, file, ", units: mm, role: surface")
    assert len(index) > 0 and facts.content.triangles > 0
    rules = {finding.rule for finding in said(tmp_path, content, file, ", units: mm, role: surface")}
    assert rule in rules or not rule
    probe = np.array([[0.0, 0.0, 0.0]])
    truth, _ = taken(tmp_path, stl(SHEET), keys=", units: mm, role: surface")
    slack = 40.0 if facts.content.points_only else 2e-3
    assert distance_to_index(probe, index)[0] == pytest.approx(distance_to_index(probe, truth)[0], abs=slack)


@pytest.mark.parametrize("name", BROKEN)
def test_broken_files_end_in_words(tmp_path: Path, name: str) -> None:
    content, file, words = BROKEN[name]
    with pytest.raises(SpecError) as complaint:
        taken(tmp_path, content, file)
    assert words in str(complaint.value) and file in str(complaint.value)


def test_gaps_to_points_are_no_surer_than_their_spacing(tmp_path: Path) -> None:
    """A grid of points 4 mm apart, 30 mm below the tube's skin: it holds 28 mm, but not by the spacing."""
    x, y = np.meshgrid(np.arange(-400, 401, 4.0), np.arange(-100, 601, 4.0))
    cloud = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, -21.2 - 30.0)])
    _, facts = taken(tmp_path, points_ply(cloud), "cloud.ply", ", units: mm")
    assert facts.spacing == pytest.approx(4.0, abs=1e-3) and facts.content.points_only


def big(folder: Path) -> Path:
    path = folder / "spec.yaml"
    (folder / "big.stl").write_bytes(stl(scan(60_000)))
    path.write_text(changed(end="chassis:\n  - {name: scan, mesh: big.stl, units: mm, clearance: 10, role: surface}\n"))
    return path


def test_results_are_the_same_with_without_and_with_a_broken_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = big(tmp_path)
    first = check(path).result
    [kept] = cache_folder().glob("*.npz")
    reads: list[Path] = []
    honest = meshes_module.take

    def counted(file: Path, sha256: str = "") -> object:
        reads.append(file)
        return honest(file, sha256)

    monkeypatch.setattr(meshes_module, "take", counted)
    assert check(path).result == first and not reads, "the second run does not read the scan"
    whole = kept.read_bytes()
    for broken in (b"", whole[: len(whole) // 2], whole[:9000] + b"xyz" + whole[9003:], b"no zip at all"):
        reads.clear()
        kept.write_bytes(broken)
        assert check(path).result == first
        assert reads, "what is not whole is read again"
        assert kept.read_bytes() == whole or check(path).result == first


def test_a_header_that_moves_finds_the_rest_of_a_kept_scan(tmp_path: Path) -> None:
    """The whole scan is kept, so that a header far from where it was is measured as without a cache."""
    path = big(tmp_path)
    check(path)
    moved = path.read_text().replace("origin: [0, 0, 0]", "origin: [900, 300, 0]")
    path.write_text(moved)
    with_cache = check(path).result.survey.gaps
    for kept in cache_folder().glob("*.npz"):
        kept.unlink()
    assert check(path).result.survey.gaps == with_cache


def test_a_cache_that_cannot_be_written_is_not_missed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = big(tmp_path)
    first = check(path).result
    (tmp_path / "plain file").write_text("in the way")
    monkeypatch.setattr("platformdirs.user_cache_path", lambda name: tmp_path / "plain file" / name)
    assert check(path).result == first
