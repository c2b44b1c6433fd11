"""Mesh files whose surface does not tell the side: never silence, whatever their size."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh
from small_spec import changed

from headergen import pipeline
from headergen.model import Gap
from headergen.model.finding import Finding
from headergen.pipeline import check
from headergen.spec.mesh import load as meshes
from headergen.spec.mesh.look import look_at, said_of

MIDDLE = np.array([0.0, 100.0, 0.0])  # of the only tube, 200 long
DICE = np.random.default_rng(8)


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("platformdirs.user_cache_path", lambda name: tmp_path / "cache" / name)


@pytest.fixture(autouse=True)
def no_advice(monkeypatch: pytest.MonkeyPatch) -> None:
    """What would help a tube in a mesh is not asked here; to look for it takes longer than to check."""
    monkeypatch.setattr(pipeline, "helps_of", lambda *_: ())
    monkeypatch.setattr(pipeline, "with_hints", lambda found, *_: found)


def stl(triangles: np.ndarray) -> bytes:
    records = np.zeros(len(triangles), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
    records["c"] = triangles
    return bytes(80) + struct.pack("<I", len(triangles)) + records.tobytes()


def checked(folder: Path, triangles: np.ndarray, role: str = "obstacle") -> tuple[Gap, list[Finding]]:
    (folder / "bay.stl").write_bytes(stl(triangles))
    path = folder / "spec.yaml"
    extent = float(np.ptp(triangles.reshape(-1, 3), axis=0).max())  # so that nothing is in doubt but the side
    item = f"{{name: bay, mesh: bay.stl, units: mm, clearance: 10, extent: {extent:.1f}, role: {role}}}"
    path.write_text(changed(end=f"chassis:\n  - {item}\n"))
    result = check(path).result
    [gap] = result.survey.gaps
    return gap, [f for f in result.findings if f.where == "bay" or f.rule.startswith(("gap", "mesh"))]


def ball(fine: int, middle: np.ndarray = MIDDLE) -> np.ndarray:
    made = trimesh.creation.icosphere(fine, 400.0)
    return (np.asarray(made.vertices)[made.faces] + middle).astype(np.float32)


@pytest.fixture(params=["welded", "as large ones"])
def size(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Large ones are kept as they were read; where that begins is moved down, which saves every test a large file."""
    if request.param != "welded":
        monkeypatch.setattr(meshes, "WELDED", 100)


def some_flipped(triangles: np.ndarray) -> np.ndarray:
    out, some = triangles.copy(), DICE.random(len(triangles)) < 0.5
    out[some] = out[some][:, ::-1]
    return out


SPOILT = {
    "closed": lambda whole: whole,
    "inside out": lambda whole: whole[:, ::-1],
    "there twice": lambda whole: np.r_[whole, whole],
    "there both ways": lambda whole: np.r_[whole, whole[:, ::-1]],
    "turned at random": some_flipped,
    "twice and turned at random": lambda whole: np.r_[whole, some_flipped(whole)],
    "one triangle missing": lambda whole: whole[:-1],
    "both ways and one triangle missing": lambda whole: np.r_[whole, whole[:-1, ::-1]][1:],
}
SURE = ("closed", "inside out", "there twice", "one triangle missing")


@pytest.mark.parametrize("name", SPOILT)
def test_a_tube_wholly_inside_is_never_silently_clear(
    tmp_path: Path, name: str, size: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    gap, said = checked(tmp_path, SPOILT[name](ball(2)))  # as far to all of them: more take long and tell no more
    if name in SURE:
        assert gap.runs_through and any(f.level == "error" for f in said)
    else:
        assert gap.runs_through or any(f.rule == "mesh-side" and f.level == "warning" for f in said)
        assert gap.runs_through != gap.side_unknown


@pytest.mark.parametrize("name", SPOILT)
def test_beside_its_box_no_side_is_asked(tmp_path: Path, name: str, size: None) -> None:
    gap, said = checked(tmp_path, SPOILT[name](ball(3, MIDDLE + np.array([480.0, 0, 0]))))
    assert gap.value == pytest.approx(80.0 - 21.2, abs=2.0) and not gap.side_unknown
    assert not [f for f in said if f.level != "info"]


@pytest.mark.quick(5)
@pytest.mark.parametrize("name", SPOILT)
def test_outside_of_an_enclosure_is_never_silently_clear(
    tmp_path: Path, name: str, size: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    gap, said = checked(tmp_path, SPOILT[name](ball(3, MIDDLE + np.array([900.0, 0, 0]))), "enclosure")
    assert (gap.runs_through and gap.value < 0) or (
        gap.side_unknown and any(f.rule == "mesh-side" and "enclosure" not in f.message for f in said)
    )
    if name in ("closed", "inside out"):
        assert any(f.level == "error" for f in said)


@pytest.mark.parametrize("name", ["there both ways", "turned at random"])
def test_nor_in_one_of_its_true_size(tmp_path: Path, name: str) -> None:
    spoilt = SPOILT[name](ball(6))
    assert len(spoilt) > meshes.WELDED
    gap, said = checked(tmp_path, spoilt)
    assert gap.side_unknown and any(f.rule == "mesh-side" for f in said)


@pytest.mark.slow
def test_a_large_closed_enclosure_with_the_header_outside_is_an_error(tmp_path: Path) -> None:
    made = trimesh.creation.box((800.0, 800.0, 800.0)).subdivide_loop(0)
    for _ in range(7):
        made = made.subdivide()
    triangles = np.asarray(made.triangles)
    assert len(triangles) == 196_608
    away, _ = checked(tmp_path, triangles + np.array([900.0, 100.0, 0.0]), "enclosure")
    assert away.value == pytest.approx(-(500.0 + 21.2), abs=1e-3)
    inside, said = checked(tmp_path, triangles + np.array([0.0, 100.0, 0.0]), "enclosure")
    assert inside.value == pytest.approx(300.0, abs=1e-3) and not [f for f in said if f.level != "info"]


@pytest.mark.parametrize("fine", [2, 6])  # 320 and 81920 triangles
@pytest.mark.parametrize("corners", [[0, 0, 1], [0, 1, 1], [0, 1, 2]])
def test_triangles_without_area_are_measured_in_every_size(tmp_path: Path, corners: list[int], fine: int) -> None:
    """A squashed triangle from 50 to 90 mm off the tube's line, and a body far away; the gap is to the squashed one."""
    ends = np.array([[50.0, 100, 0], [90.0, 100, 0], [70.0, 100, 0]])
    gap, said = checked(tmp_path, np.r_[ball(fine, MIDDLE + np.array([700.0, 0, 0])), [ends[corners]]])
    assert gap.value == pytest.approx(50.0 - 21.2, abs=1e-4)
    assert gap.triangle == 20 * 4**fine and any("measured as lines and points" in f.message for f in said)


@pytest.mark.quick(5)
@pytest.mark.parametrize("name", SPOILT)
def test_the_mesh_command_says_whether_sides_can_be_told(
    tmp_path: Path, name: str, size: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As check takes it: what it calls closed has no doubtful side, and what it does not has one."""
    gap, _ = checked(tmp_path, SPOILT[name](ball(3, MIDDLE + np.array([900.0, 0, 0]))), "enclosure")
    file = tmp_path / "bay.stl"
    said = "\n".join(said_of(file, look_at(file)))
    assert ("inside can be told from outside" in said) == (not gap.side_unknown)
    assert ("cannot be told" in said or "not which side" in said) == gap.side_unknown
