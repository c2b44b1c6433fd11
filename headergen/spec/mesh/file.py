"""Mesh files of every supported format, as plain vertices and faces."""

from __future__ import annotations

from headergen.spec.mesh.gltf import read_glb
from headergen.spec.mesh.obj import read_obj
from headergen.spec.mesh.off import read_off
from headergen.spec.mesh.ply import read_ply
from headergen.spec.mesh.raw import BrokenMeshError, RawMesh, check_count, finite_only
from headergen.spec.mesh.stl import read_stl
from headergen.spec.mesh.text import is_text
from headergen.spec.mesh.threemf import read_3mf

READERS = {
    ".ply": read_ply,
    ".obj": read_obj,
    ".off": read_off,
    ".glb": read_glb,
    ".3mf": read_3mf,
}
STARTS = {  # first bytes of the formats that identify themselves
    b"ply\n": "PLY",
    b"ply\r": "PLY",
    b"OFF\n": "OFF",
    b"OFF\r": "OFF",
    b"glTF": "GLB",
    b"PK\x03\x04": "3MF",
}
FIRST_WORDS = {"STL": (b"solid",), "OBJ": (b"#", b"v ", b"o ", b"g ", b"f ", b"mtllib", b"s ", b"vn ", b"vt ")}


def read_mesh(content: bytes, suffix: str) -> RawMesh:
    """Vertices and faces of a mesh file by its suffix (`.stl` and so on); z up where the format defines an up axis.

    Every format has its own reader here rather than one library for all: the counts in a file's header must be compared
    with its content, and memory must stay bounded. Raises BrokenMeshError.
    """
    name = suffix.lstrip(".").upper()
    if not content:
        raise BrokenMeshError("the file is empty", 0)
    _check_kind(content, name)
    if suffix == ".stl":
        return read_stl(content)
    try:
        mesh = READERS[suffix](content)
    except (ArithmeticError, LookupError, TypeError, ValueError):  # damage that no reader has a message for
        raise BrokenMeshError(f"the file cannot be read as {name}", 0, "export it again, as STL if need be") from None
    check_count(len(mesh.vertices if mesh.faces is None else mesh.faces), "triangles")
    return finite_only(mesh, lambda k: mesh.body)


def _check_kind(content: bytes, name: str) -> None:
    """Raises BrokenMeshError if the first bytes show another format than the file's name."""
    looks = next((kind for start, kind in STARTS.items() if content.startswith(start)), None)
    if looks is not None and looks != name:
        message = f"the file is called {name} and begins as {looks} does"
        raise BrokenMeshError(message, 0, f"rename it to end in .{looks.lower()}, if that is what it is")
    if not is_text(content):
        return
    first = content.lstrip()[:60].split(b"\n")[0].strip()
    said = first[:40].decode("ascii", "replace")
    if name in ("GLB", "3MF"):
        raise BrokenMeshError(f'the file is text and no mesh of the kind {name}; it begins with "{said}"', 0)
    if name in FIRST_WORDS and not first.lower().startswith(FIRST_WORDS[name]):
        hint = "is it the right file? A mesh is exported as STL by most programs" if name == "STL" else ""
        raise BrokenMeshError(f'the file is text and no mesh; it begins with "{said}"', 0, hint)
