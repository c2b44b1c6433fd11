"""Mesh files that were cut off, or hold something else than they say: refused in every format."""

from __future__ import annotations

import json
import random
import struct
import zipfile
from io import BytesIO

import numpy as np
import pytest

from headergen.spec.mesh.file import read_mesh
from headergen.spec.mesh.raw import BrokenMeshError, RawMesh

N = 12  # squares along each side of a sheet
X, Y = (axis.ravel() for axis in np.meshgrid(np.arange(N + 1.0), np.arange(N + 1.0)))
POINTS = np.column_stack([X, Y, np.sin(X) / 4]).round(2) * 25.0
_A = (np.arange(N)[:, None] * (N + 1) + np.arange(N)).ravel()
FACES = np.concatenate([np.column_stack([_A, _A + 1, _A + N + 2]), np.column_stack([_A, _A + N + 2, _A + N + 1])])
QUADS = np.column_stack([_A, _A + 1, _A + N + 2, _A + N + 1])


def rows(table: np.ndarray, before: str = "", number: str = "g") -> str:
    return "".join(before + " ".join(format(value, number) for value in row) + "\n" for row in table)


def ply_head(form: str, faces: int, points: int = len(POINTS), kind: str = "float") -> bytes:
    axes = "".join(f"property {kind} {axis}\n" for axis in "xyz")
    listed = "property list uchar int vertex_indices\n"
    return (
        f"ply\nformat {form} 1.0\ncomment made\nelement vertex {points}\n{axes}element face {faces}\n{listed}"
        "end_header\n"
    ).encode()


def ply_binary(order: str, faces: np.ndarray) -> bytes:
    form = "binary_little_endian" if order == "<" else "binary_big_endian"
    records = b"".join(struct.pack(f"{order}B{len(face)}i", len(face), *face) for face in faces)
    return ply_head(form, len(faces)) + POINTS.astype(order + "f4").tobytes() + records


def ply_text(faces: np.ndarray) -> bytes:
    return ply_head("ascii", len(faces)) + (rows(POINTS) + rows(faces, f"{len(faces[0])} ", "d")).encode()


def off(faces: np.ndarray) -> bytes:
    counts = f"OFF\n# made\n{len(POINTS)} {len(faces)} 0\n"
    return (counts + rows(POINTS) + rows(faces, f"{len(faces[0])} ", "d")).encode()


def obj(faces: np.ndarray) -> bytes:
    return ("o sheet\n" + rows(POINTS, "v ") + "s off\n" + rows(faces + 1, "f ", "d")).encode()


def glb(points: np.ndarray = POINTS, faces: np.ndarray = FACES, **changes: object) -> bytes:
    where = points.astype("<f4").tobytes()
    data = where + faces.astype("<u4").tobytes()
    head = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": [0]}],
        "scene": 0,
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(points), "type": "VEC3"},
            {"bufferView": 1, "componentType": 5125, "count": faces.size, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": len(where)},
            {"buffer": 0, "byteOffset": len(where), "byteLength": len(data) - len(where)},
        ],
        "buffers": [{"byteLength": len(data)}],
    } | changes
    text = json.dumps(head).encode()
    text += b" " * (-len(text) % 4)
    whole = 12 + 8 + len(text) + 8 + len(data)
    return (
        struct.pack("<4sII", b"glTF", 2, whole)
        + struct.pack("<I4s", len(text), b"JSON")
        + text
        + struct.pack("<I4s", len(data), b"BIN\0")
        + data
    )


def model_3mf(middle: str, build: str = '<item objectid="1"/>', unit: str = "millimeter") -> bytes:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<model unit="{unit}"><resources>{middle}</resources>'
        f"<build>{build}</build></model>"
    ).encode()


def mesh_3mf(number: int, points: np.ndarray = POINTS, faces: np.ndarray = FACES) -> str:
    corners = "".join(f'<vertex x="{x:g}" y="{y:g}" z="{z:g}"/>' for x, y, z in points)
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces)
    return (
        f'<object id="{number}"><mesh><vertices>{corners}</vertices><triangles>{triangles}</triangles></mesh></object>'
    )


def zipped(model: bytes) -> bytes:
    written = BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", model)
    return written.getvalue()


def stl_text() -> bytes:
    corners = ("".join(f"vertex {x:g} {y:g} {z:g}\n" for x, y, z in POINTS[face]) for face in FACES)
    facets = (f"facet normal 0 0 0\nouter loop\n{of_face}endloop\nendfacet\n" for of_face in corners)
    return f"solid sheet\n{''.join(facets)}endsolid sheet\n".encode()


def stl_binary() -> bytes:
    records = np.zeros(len(FACES), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
    records["c"] = POINTS[FACES]
    return bytes(80) + struct.pack("<I", len(FACES)) + records.tobytes()


WHOLE: dict[str, tuple[bytes, str]] = {
    "stl": (stl_binary(), ".stl"),
    "text stl": (stl_text(), ".stl"),
    "ply": (ply_binary("<", FACES), ".ply"),
    "ply of squares": (ply_binary("<", QUADS), ".ply"),
    "ply, high bytes first": (ply_binary(">", FACES), ".ply"),
    "text ply": (ply_text(FACES), ".ply"),
    "text ply of squares": (ply_text(QUADS), ".ply"),
    "text ply with carriage returns": (ply_text(FACES).replace(b"\n", b"\r\n"), ".ply"),
    "off": (off(FACES), ".off"),
    "off of squares": (off(QUADS), ".off"),
    "off on one line": (off(FACES).replace(b"OFF\n# made\n", b"OFF "), ".off"),
    "obj": (obj(FACES), ".obj"),
    "obj of squares": (obj(QUADS), ".obj"),
    "glb": (glb(), ".glb"),
    "3mf": (zipped(model_3mf(mesh_3mf(1))), ".3mf"),
}


def triangles_of(mesh: RawMesh) -> np.ndarray:
    corners = mesh.corners.astype(float)
    return corners @ np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]]) if mesh.y_up else corners  # as the file has them


def as_set(triangles: np.ndarray) -> set[tuple[tuple[float, ...], ...]]:
    return {tuple(sorted(tuple(np.round(corner, 3) + 0.0) for corner in each)) for each in triangles.tolist()}


@pytest.mark.parametrize("name", WHOLE)
def test_whole_files_bring_the_sheet(name: str) -> None:
    mesh = read_mesh(*WHOLE[name])
    assert mesh.left_out == 0 and not mesh.doubts and mesh.y_up == (name == "glb")
    assert as_set(triangles_of(mesh)) == as_set(POINTS[FACES])


@pytest.mark.parametrize("name", [name for name in WHOLE if "obj" not in name])
def test_a_file_cut_anywhere_is_refused(name: str) -> None:
    """Of text, much of the last kilobyte: also where the cut leaves whole lines, or a number with a digit less."""
    content, suffix = WHOLE[name]
    ends = len(content.rstrip()) if content[-1:] == b"\n" else len(content)
    last = content.rfind(b" ", 0, ends) if "text" in name or "off" in name else ends  # the last number may lose digits
    for length in {*range(1, last, 397), *range(max(last - 1200, 1), last, 7)}:
        with pytest.raises(BrokenMeshError):
            read_mesh(content[:length], suffix)


@pytest.mark.parametrize("name", ["obj", "obj of squares"])
def test_an_obj_that_was_cut_is_refused_or_doubted(name: str) -> None:
    """It promises nothing, so that a cut cannot show once each corner has a face; all before does."""
    content, suffix = WHOLE[name]
    lines = content.splitlines(keepends=True)
    faces = FACES if name == "obj" else QUADS
    used = [len(np.unique(faces[:k])) for k in range(len(faces) + 1)]
    last = len(lines) - len(faces) + used.index(len(POINTS))  # lines up to the face that uses the last unused corner
    for length in range(1, len(content)):
        if content[length - 1 : length] != b"\n":
            with pytest.raises(BrokenMeshError, match=r"no end|text and no mesh"):
                read_mesh(content[:length], suffix)
    for count in range(1, last):
        try:
            mesh = read_mesh(b"".join(lines[:count]), suffix)
        except BrokenMeshError as broken:
            assert "no face" in broken.message or "no triangle" in broken.message
        else:
            assert mesh.doubts and "belong to no face" in mesh.doubts[0]


@pytest.mark.parametrize(
    ("name", "promised", "came"),
    [("text ply", 288, 200), ("ply", 288, 200), ("off", 288, 200), ("text ply of squares", 144, 100)],
)
def test_what_was_promised_and_what_came_is_said(name: str, promised: int, came: int) -> None:
    content, suffix = WHOLE[name]
    if name == "ply":
        cut = content[: len(content) - 13 * (promised - came)]
    else:
        cut = b"".join(content.splitlines(keepends=True)[: came - promised])
    with pytest.raises(
        BrokenMeshError, match=f"the header promises {promised} faces, but the file ends after {came}"
    ) as said:
        read_mesh(cut, suffix)
    assert said.value.line == (None if name == "ply" else cut.count(b"\n"))


@pytest.mark.parametrize("name", ["text ply", "ply", "off"])
def test_more_than_was_promised_is_refused_too(name: str) -> None:
    content, suffix = WHOLE[name]
    with pytest.raises(BrokenMeshError, match="goes on"):
        read_mesh(content + b"3 0 1 2\n", suffix)
    if name != "ply":
        assert len(read_mesh(content + b"\n \n", suffix).corners) == len(FACES), "an empty line is nothing"


@pytest.mark.parametrize(
    ("content", "suffix", "line", "words"),
    [
        (ply_text(FACES).replace(b"\n3 0 1 14\n", b"\n3 0 1\n"), ".ply", 180, "promises 3 corners and has 2"),
        (off(FACES).replace(b"3 0 1 14\n", b"3 0 1 x\n"), ".off", 173, "no number"),
        (off(FACES).replace(b"\n25 0 5.25\n", b"\n25 0\n"), ".off", 5, "2 numbers here, and 3"),
        (obj(FACES).replace(b"f 1 2 15\n", b"f 0 2 15\n"), ".obj", 172, "corner 0"),
        (obj(FACES).replace(b"v 25 0 5.25\n", b"v 25 0 5,25\n"), ".obj", 3, "is where a number should be"),
        (obj(FACES).replace(b"s off\n", b"surf 0 1 0 1 1 2\n"), ".obj", 171, "belongs to a curved surface"),
        (obj(FACES).replace(b"s off\n", b"fin\n"), ".obj", 171, "should begin"),
    ],
)
def test_damage_within_a_text_is_named_with_its_line(content: bytes, suffix: str, line: int, words: str) -> None:
    with pytest.raises(BrokenMeshError, match=words) as said:
        read_mesh(content, suffix)
    assert said.value.line == line


@pytest.mark.parametrize("name", WHOLE)
def test_damage_brings_a_mesh_or_words_of_its_own(name: str) -> None:
    """100 seeded mutants: bytes changed, dropped or put in, in an archive before it is packed."""
    dice = random.Random(name)
    content, suffix = WHOLE[name]
    content = model_3mf(mesh_3mf(1)) if name == "3mf" else content
    for _ in range(100):
        mutant = bytearray(content)
        for _ in range(dice.randint(1, 4)):
            at = dice.randrange(700 if name in ("ply", "glb") and dice.random() < 0.5 else len(mutant) - 9)
            cut = dice.choice((0, 1, 1, dice.randint(2, 9)))
            mutant[at : at + cut] = bytes(dice.choice(b"0123456789 -.e/\n\xff\0") for _ in range(dice.randint(0, 3)))
        try:
            mesh = read_mesh(zipped(bytes(mutant)) if name == "3mf" else bytes(mutant), suffix)
        except BrokenMeshError as broken:
            assert "cannot be read as" not in broken.message
        else:
            assert len(mesh.corners) and np.isfinite(mesh.corners).all()


def test_corners_beyond_any_count_are_refused_and_not_wrapped() -> None:
    for text in (
        off(FACES).replace(b"3 0 1 14\n", b"3 4294967296 1 14\n"),
        off(FACES).replace(b"3 0 1 14", b"3 -1 1 14"),
    ):
        with pytest.raises(BrokenMeshError, match="names a corner"):
            read_mesh(text, ".off")
    with pytest.raises(BrokenMeshError, match="names a corner"):
        read_mesh(obj(FACES).replace(b"f 1 2 15\n", b"f 4294967297 2 15\n"), ".obj")


def test_obj_counts_from_the_end_and_carries_textures() -> None:
    head = rows(POINTS[:3], "v ") + "vt 0 0\nvn 0 0 1\n"
    first = read_mesh((head + "f 1/1/1 2/1 3//1\n").encode(), ".obj")
    second = read_mesh((head + "f -3 -2 -1\n" + rows(POINTS[3:6], "v ") + "f -3 -2 -1\n").encode(), ".obj")
    assert first.corners.tolist() == POINTS[[[0, 1, 2]]].tolist()
    assert second.corners.tolist() == POINTS[[[0, 1, 2], [3, 4, 5]]].tolist()


def test_glb_nodes_are_placed_turned_and_scaled() -> None:
    """A quarter turn about y, twice as large and 1 m up, under a node moved 3 m along x."""
    half = float(np.sqrt(0.5))
    nodes = [
        {"translation": [3, 0, 0], "children": [1]},
        {"mesh": 0, "rotation": [0, half, 0, half], "scale": [2, 2, 2], "translation": [0, 1, 0]},
    ]
    mesh = read_mesh(glb(nodes=nodes), ".glb")
    x, y, z = (POINTS[:, axis] for axis in range(3))
    in_file = np.column_stack([2 * z + 3, 2 * y + 1, -2 * x])  # turned about y: z goes to x, x to −z
    ours = np.column_stack([in_file[:, 0], -in_file[:, 2], in_file[:, 1]])
    assert mesh.corners == pytest.approx(ours[FACES], abs=1e-4)


def test_glb_strips_and_fans() -> None:
    ends = np.array([0, 1, 2, 3, 4])
    for mode, triangles in ((5, [[0, 1, 2], [1, 3, 2], [2, 3, 4]]), (6, [[0, 1, 2], [0, 2, 3], [0, 3, 4]])):
        primitive = {"attributes": {"POSITION": 0}, "indices": 1, "mode": mode}
        mesh = read_mesh(glb(POINTS, ends, meshes=[{"primitives": [primitive]}]), ".glb")
        assert triangles_of(mesh) == pytest.approx(POINTS[triangles], abs=1e-4)


def test_3mf_components_are_placed() -> None:
    """An object that holds the sheet twice, the second moved; the build moves both."""
    holder = (
        '<object id="2"><components><component objectid="1"/>'
        '<component objectid="1" transform="0 1 0 -1 0 0 0 0 1 100 0 0"/></components></object>'
    )
    model = model_3mf(mesh_3mf(1) + holder, '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0 7"/>', "inch")
    mesh = read_mesh(zipped(model), ".3mf")
    turned = np.column_stack([100 - POINTS[:, 1], POINTS[:, 0], POINTS[:, 2]])
    assert mesh.units == "in"
    assert as_set(mesh.corners) == as_set(np.concatenate([POINTS[FACES], turned[FACES]]) + np.array([0, 0, 7]))
