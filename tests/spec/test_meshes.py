"""Chassis meshes: what is read of them, where they come to lie, and what is refused."""

from __future__ import annotations

import itertools
import random
import struct
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import trimesh
from small_spec import changed

from headergen.geometry.mesh.index import TriangleIndex, index_of
from headergen.geometry.mesh.seams import closes_once
from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh, enclosed_volume
from headergen.spec.complaint import SpecError
from headergen.spec.mesh.load import load_meshes
from headergen.spec.mesh.shell import surface
from headergen.spec.reader import read_spec

SIZE = (600.0, 400.0, 300.0)
VOLUME = 600.0 * 400.0 * 300.0
FLOAT32 = 1e-6  # an STL holds seven digits


def box(size: tuple[float, ...] = SIZE) -> tuple[Points, Faces]:
    """The corners and the twelve outward triangles of a box with one corner at zero."""
    corners = np.array(list(itertools.product((0.0, 1.0), repeat=3))) * size
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    return corners, np.array([tri for a, b, c, d in quads for tri in ((a, b, c), (a, c, d))])


def soup(vertices: Points, faces: Faces) -> tuple[Points, Faces]:
    """Every triangle with corners of its own, as an STL has them."""
    return vertices[faces].reshape(-1, 3), np.arange(faces.size).reshape(-1, 3)


def stl(vertices: Points, faces: Faces) -> bytes:
    records = b"".join(struct.pack("<12fH", 0, 0, 0, *vertices[face].ravel(), 0) for face in faces)
    return b"box".ljust(80) + struct.pack("<I", len(faces)) + records


def stl_text(vertices: Points, faces: Faces) -> str:
    corner = "      vertex {:.6e} {:.6e} {:.6e}\n"
    facets = ("".join(corner.format(*vertices[k]) for k in face) for face in faces)
    middle = "".join(f"  facet normal 0 0 0\n    outer loop\n{c}    endloop\n  endfacet\n" for c in facets)
    return f"solid box\n{middle}endsolid box\n"


def loaded(folder: Path, content: bytes, suffix: str = ".stl", units: str = "mm", more: str = "") -> TriangleMesh:
    (folder / f"frame{suffix}").write_bytes(content)
    item = f"chassis:\n  - {{name: frame, mesh: frame{suffix}, units: {units}, clearance: 10{more}}}\n"
    path = folder / "spec.yaml"
    path.write_text(changed(end=item))
    _, draft = read_spec(path)
    meshes, [facts] = load_meshes(path, draft)
    assert list(meshes) == ["frame"] and facts.item == "frame"
    return surface_of(meshes["frame"])


def surface_of(index: TriangleIndex) -> TriangleMesh:
    """The mesh of an index with its corners joined again, as the reader had them."""
    loose = index.mesh()
    vertices, places = np.unique(loose.vertices, axis=0, return_inverse=True)
    return TriangleMesh(vertices, places.reshape(-1, 3).astype(np.int64), loose.closed)


def test_a_binary_stl_comes_out_welded_and_closed(tmp_path: Path) -> None:
    mesh = loaded(tmp_path, stl(*box()))
    assert (mesh.vertices.shape, mesh.faces.shape, mesh.closed) == ((8, 3), (12, 3), True)
    assert enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(VOLUME, rel=FLOAT32)
    assert not mesh.vertices.flags.writeable


def test_a_text_stl_is_the_same(tmp_path: Path) -> None:
    for content in (stl_text(*box()), stl_text(*box()).upper().replace("\n", "\r\n")):
        mesh = loaded(tmp_path, content.encode())
        assert mesh.closed and enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(VOLUME, rel=FLOAT32)


def test_a_binary_stl_may_be_titled_solid(tmp_path: Path) -> None:
    content = b"solid box".ljust(80) + stl(*box())[80:]
    assert loaded(tmp_path, content).closed


def test_several_solids_in_one_text_stl(tmp_path: Path) -> None:
    vertices, faces = box()
    content = stl_text(vertices, faces) + stl_text(vertices + np.array([1000, 0, 0]), faces)
    mesh = loaded(tmp_path, content.encode())
    assert mesh.closed and len(mesh.faces) == 24


@pytest.mark.parametrize("suffix", [".ply", ".obj", ".off", ".glb"])
def test_other_formats_hold_the_same_box(tmp_path: Path, suffix: str) -> None:
    written = trimesh.Trimesh(*box(), process=False).export(file_type=suffix[1:])
    mesh = loaded(tmp_path, written if isinstance(written, bytes) else written.encode(), suffix)
    assert mesh.closed and enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(VOLUME, rel=FLOAT32)


def test_a_scene_puts_its_meshes_where_it_says(tmp_path: Path) -> None:
    scene = trimesh.Scene()
    for x in (0.0, 2000.0):
        scene.add_geometry(
            trimesh.Trimesh(*box(), process=False), transform=trimesh.transformations.translation_matrix([x, 0, 0])
        )
    mesh = loaded(tmp_path, scene.export(file_type="glb"), ".glb")
    assert len(mesh.faces) == 24 and float(np.ptp(mesh.vertices[:, 0])) == pytest.approx(2600)


@pytest.mark.parametrize(("units", "factor"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("in", 25.4)])
def test_units_are_applied(tmp_path: Path, units: str, factor: float) -> None:
    vertices, faces = box()
    mesh = loaded(tmp_path, stl(vertices / factor, faces), units=units)
    assert mesh.vertices.max(axis=0) == pytest.approx(SIZE, rel=FLOAT32)


def test_placement_moves_the_meshs_own_axes(tmp_path: Path) -> None:
    """Its x goes to engine y and its z to engine x, so that its y goes to engine z; its zero to the origin."""
    mesh = loaded(tmp_path, stl(*box()), more=", placement: {origin: [10, 20, 30], x: [0, 1, 0], z: [1, 0, 0]}")
    assert mesh.vertices.min(axis=0) == pytest.approx((10, 20, 30))
    assert mesh.vertices.max(axis=0) == pytest.approx((10 + 300, 20 + 600, 30 + 400))
    assert enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(VOLUME, rel=FLOAT32)


def test_extent_outweighs_what_is_plausible(tmp_path: Path) -> None:
    small = stl(*box((60, 40, 30)))
    with pytest.raises(SpecError, match="too small to be true"):
        loaded(tmp_path, small)
    assert loaded(tmp_path, small, more=", extent: 60").closed
    assert loaded(tmp_path, small, more=", extent: 62.9").closed  # 4.6 % off
    with pytest.raises(SpecError, match="extent says 64 mm"):
        loaded(tmp_path, small, more=", extent: 64")  # 6.3 % off


def test_an_open_mesh_says_so(tmp_path: Path) -> None:
    vertices, faces = box()
    mesh = loaded(tmp_path, stl(vertices, faces[:-1]))
    assert not mesh.closed and len(mesh.faces) == 11


def test_corners_within_the_weld_are_one_wherever_they_lie() -> None:
    """Corners scattered by up to 0.05 µm each way, over places that fall anywhere on a grid of that size."""
    dice = np.random.default_rng(1)
    for _ in range(50):
        vertices, faces = soup(*box())
        mesh = surface(vertices + dice.uniform(-1, 1, 3) + dice.uniform(-4.9e-5, 4.9e-5, vertices.shape), faces)
        assert mesh.closed and len(mesh.vertices) == 8


def test_corners_farther_apart_stay_apart() -> None:
    vertices, faces = soup(*box())
    vertices[0] += [0, 0, 0.001]
    assert not surface(vertices, faces).closed


def test_a_mesh_inside_out_is_turned() -> None:
    vertices, faces = box()
    mesh = surface(vertices, faces[:, ::-1])
    assert mesh.closed and enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(VOLUME)


def test_triangles_that_turn_differently_are_turned_alike() -> None:
    vertices, faces = box()
    for seed in range(20):
        flipped = np.random.default_rng(seed).random(12) < 0.5
        mixed = np.where(flipped[:, None], faces[:, ::-1], faces)
        mesh = surface(vertices, mixed)
        assert mesh.closed and enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(VOLUME)


def test_of_two_shells_the_wrong_one_is_turned_and_a_hollow_kept() -> None:
    vertices, faces = box()
    beside = surface(np.vstack([vertices, vertices + np.array([1000, 0, 0])]), np.vstack([faces, faces[:, ::-1] + 8]))
    assert enclosed_volume(beside.vertices, beside.faces) == pytest.approx(2 * VOLUME)
    hollow = surface(np.vstack([vertices, vertices / 2 + 50]), np.vstack([faces, faces[:, ::-1] + 8]))
    assert enclosed_volume(hollow.vertices, hollow.faces) == pytest.approx(VOLUME * (1 - 1 / 8))


def test_a_sheet_with_two_sides_encloses_nothing() -> None:
    vertices = np.array([[0.0, 0, 0], [900, 0, 0], [0, 900, 0]])
    assert not surface(vertices, np.array([[0, 1, 2], [2, 1, 0]])).closed


def test_triangles_without_area_stay_and_do_not_open_a_body() -> None:
    vertices, faces = box()
    vertices = np.vstack([vertices, [[300.0, 0, 0], [-900.0, 0, 0]]])
    mesh = surface(vertices, np.vstack([[[9, 9, 0]], faces, [[1, 1, 3], [8, 8, 8]]]))
    assert mesh.closed and len(mesh.faces) == 15
    assert {tuple(point) for point in mesh.triangles[0]} == {(0.0, 0.0, 0.0), (-900.0, 0.0, 0.0)}
    assert (mesh.triangles[14] == (300.0, 0, 0)).all()


@pytest.mark.parametrize("how", ["twice", "both ways", "once more by chance"])
def test_a_body_that_is_there_twice_counts_once(how: str) -> None:
    vertices, faces = box()
    flipped = np.random.default_rng(1).random(12) < {"twice": 0.0, "both ways": 1.0}.get(how, 0.5)
    again = np.where(flipped[:, None], faces[:, ::-1], faces)
    for corners, both in ((vertices, np.vstack([faces, again])), soup(vertices, np.vstack([faces, again]))):
        mesh = surface(corners, both)
        assert mesh.closed and enclosed_volume(mesh.vertices, mesh.faces) == pytest.approx(VOLUME)
        assert len(mesh.faces) == 24 and closes_once(index_of(mesh))


@pytest.mark.slow
def test_every_way_of_cutting_a_file_short_is_noticed(tmp_path: Path) -> None:
    binary, text = stl(*box()), stl_text(*box()).encode().rstrip()
    for content in (binary, text):
        for length in range(0, len(content), 7):
            with pytest.raises(SpecError) as raised:
                loaded(tmp_path, content[:length])
            (complaint,) = raised.value.complaints
            assert complaint.byte is not None and 0 <= complaint.byte <= max(length, 80)


@pytest.mark.parametrize("suffix", [".stl", ".ply", ".obj", ".off", ".glb"])
def test_damaged_files_bring_a_mesh_or_a_complaint(tmp_path: Path, suffix: str) -> None:
    """60 seeded mutants a format; never another error, never a mesh without triangles or with wrong numbers."""
    chooser = random.Random(suffix)
    written = BytesIO()
    trimesh.Trimesh(*box(), process=False).export(written, file_type=suffix[1:])
    for _ in range(60):
        content = bytearray(written.getvalue())
        for _ in range(chooser.randint(1, 5)):
            content[chooser.randrange(len(content))] = chooser.randrange(256)
        if chooser.random() < 0.3:
            del content[chooser.randrange(len(content)) :]
        try:
            mesh = loaded(tmp_path, bytes(content), suffix)
        except SpecError:
            continue
        assert len(mesh.faces) > 0 and np.isfinite(mesh.triangles).all()


def test_a_spec_without_meshes_needs_none(tmp_path: Path) -> None:
    path = tmp_path / "spec.yaml"
    path.write_text(changed())
    assert load_meshes(path, read_spec(path)[1]) == ({}, ())


def test_all_broken_meshes_are_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "a.stl").write_bytes(b"")
    (tmp_path / "b.stl").write_bytes(stl(*box())[:-1])
    items = "".join(f"  - {{name: {n}, mesh: {n}.stl, units: mm, clearance: 10}}\n" for n in "ab")
    path = tmp_path / "spec.yaml"
    path.write_text(changed(end="chassis:\n" + items))
    _, draft = read_spec(path)
    with pytest.raises(SpecError) as raised:
        load_meshes(path, draft)
    assert [Path(complaint.file).name for complaint in raised.value.complaints] == ["a.stl", "b.stl"]


def test_a_mesh_that_went_away_meanwhile_is_a_complaint(tmp_path: Path) -> None:
    (tmp_path / "a.stl").write_bytes(stl(*box()))
    path = tmp_path / "spec.yaml"
    path.write_text(changed(end="chassis: [{name: a, mesh: a.stl, units: mm, clearance: 10}]\n"))
    _, draft = read_spec(path)
    (tmp_path / "a.stl").unlink()
    with pytest.raises(SpecError, match="there is no file"):
        load_meshes(path, draft)
