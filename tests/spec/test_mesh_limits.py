"""Small files that would grow are refused before they do, and the largest that are read need less than 2 GB."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from large_meshes import KINDS, TRIANGLES
from small_spec import changed
from test_cut_meshes import glb, mesh_3mf, model_3mf, ply_head, zipped

from headergen.spec.mesh.file import read_mesh
from headergen.spec.mesh.raw import MOST_BYTES, MOST_TRIANGLES, BrokenMeshError
from headergen.spec.reader import read_spec

MOST_MEMORY = 2e9  # bytes
TOO_MANY = MOST_TRIANGLES + 1


def doubled(times: int, inner: str) -> str:
    """Objects that each hold the one before twice: 2^times of the first."""
    part = '<component objectid="{0}"/>'
    objects = (
        f'<object id="{k + 1}"><components>{2 * part.format(k)}</components></object>' for k in range(1, times + 1)
    )
    return inner + "".join(objects)


def lying_zip() -> bytes:
    """An archive whose directory says that its model has 900 bytes, which it has not."""
    whole = bytearray(zipped(model_3mf(mesh_3mf(1))))
    at = whole.rindex(b"PK\x01\x02")
    whole[at + 24 : at + 28] = struct.pack("<I", 900)
    return bytes(whole)


def many_nodes(count: int) -> dict[str, object]:
    return {"nodes": [{"mesh": 0} for _ in range(count)], "scenes": [{"nodes": list(range(count))}]}


GROWING: dict[str, tuple[bytes, str, str]] = {
    "stl": (bytes(80) + struct.pack("<I", TOO_MANY) + bytes(50), ".stl", "5000001 triangles, but the file has room"),
    "ply": (ply_head("binary_little_endian", TOO_MANY) + bytes(99), ".ply", "5000001 triangles; at most"),
    "text ply": (ply_head("ascii", TOO_MANY) + b"1 2 3\n", ".ply", "5000001 triangles; at most 5000000 are read"),
    "ply of corners": (
        ply_head("ascii", 1, 10**9) + b"1 2 3\n",
        ".ply",
        "1000000000 corners; at most 15000000 are read",
    ),
    "off": (b"OFF\n9 99999999 0\n0 0 0\n", ".off", "99999999 triangles; at most"),
    "glb": (
        glb(accessors=[{"bufferView": 0, "componentType": 5126, "count": 10**9, "type": "VEC3"}] * 2),
        ".glb",
        "333333333 triangles; at most",
    ),
    "glb that shows its mesh often": (glb(**many_nodes(20_000)), ".glb", "5760000 triangles; at most"),
    "3mf of doubled parts": (
        zipped(model_3mf(doubled(40, mesh_3mf(1)), '<item objectid="41"/>')),
        ".3mf",
        f"{288 * 2**40} triangles; at most",
    ),
    "3mf that holds itself": (
        zipped(model_3mf('<object id="1"><components><component objectid="1"/></components></object>')),
        ".3mf",
        "object 1 holds itself",
    ),
    "3mf of doubled nothing": (
        zipped(model_3mf(doubled(60, '<object id="1"/>'), '<item objectid="61"/>')),
        ".3mf",
        "no triangle",
    ),
    "3mf with a document type": (
        zipped(b'<!DOCTYPE a [<!ENTITY b "' + 99 * b"c" + b'">]>' + model_3mf(mesh_3mf(1)).split(b"?>")[1]),
        ".3mf",
        "declares a document type",
    ),
    "3mf that says less than it unpacks": (lying_zip(), ".3mf", "damaged or cut short|no whole XML"),
}


@pytest.mark.parametrize("name", GROWING)
def test_what_would_grow_is_refused_at_once(name: str) -> None:
    content, suffix, words = GROWING[name]
    assert len(content) < 1_500_000
    with pytest.raises(BrokenMeshError, match=words):
        read_mesh(content, suffix)


def test_an_archive_is_added_up_before_it_is_unpacked(tmp_path: Path) -> None:
    """Its directory names more than a gigabyte, of which nothing is there: it is refused before it is looked for."""
    written = BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", model_3mf(mesh_3mf(1)))
        archive.writestr("Metadata/picture.png", b"")
    whole = bytearray(written.getvalue())
    at = whole.rindex(b"PK\x01\x02")
    whole[at + 24 : at + 28] = struct.pack("<I", MOST_BYTES)
    with pytest.raises(
        BrokenMeshError, match=rf"the file has \d{{10}} bytes once it is unpacked; at most {MOST_BYTES} are read"
    ):
        read_mesh(bytes(whole), ".3mf")


def test_the_message_names_file_figure_and_limit(tmp_path: Path) -> None:
    (tmp_path / "big.stl").touch()
    os.truncate(tmp_path / "big.stl", MOST_BYTES + 1)  # sparse: it takes no room
    path = tmp_path / "spec.yaml"
    path.write_text(changed(end="chassis: [{name: a, mesh: big.stl, units: mm, clearance: 10}]\n"))
    with pytest.raises(Exception, match=rf"big\.stl has {MOST_BYTES + 1} bytes; none of its kind needs more than"):
        read_spec(path)


# on Linux, what `resource` says of a process begins with the size of the one that started it
MEASURED = """
import re, resource, sys
from pathlib import Path
from headergen.commands import main
sys.argv = ["headergen", "check", sys.argv[1]]
try:
    main()
finally:
    status = Path("/proc/self/status")
    if status.exists():
        peak = 1024 * int(re.search(r"VmHWM:\\s+(\\d+) kB", status.read_text())[1])
    else:
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print("PEAK", peak)
"""


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.skipif(sys.platform == "win32", reason="resource is not there")
@pytest.mark.parametrize("kind", KINDS)
def test_a_check_of_the_largest_scan_stays_below_2_gb(kind: str, tmp_path: Path) -> None:
    """In a process of its own, with an empty cache; the scan is written by another, whose memory must not count."""
    script = Path(__file__).with_name("large_meshes.py")
    subprocess.run([sys.executable, script, kind, tmp_path / f"scan.{kind}"], check=True)
    units = "" if kind == "glb" else ", units: mm"
    path = tmp_path / "spec.yaml"
    path.write_text(changed(end=f"chassis: [{{name: scan, mesh: scan.{kind}, clearance: 10{units}, role: surface}}]\n"))
    env = os.environ | {"XDG_CACHE_HOME": str(tmp_path / "cache")}
    done = subprocess.run([sys.executable, "-c", MEASURED, path], capture_output=True, text=True, env=env, check=False)
    assert done.returncode == 0, done.stderr
    peak = int(done.stdout.split("PEAK")[1])
    assert TRIANGLES == MOST_TRIANGLES and 300e6 < peak < MOST_MEMORY, f"{peak / 1e9:.2f} GB"
