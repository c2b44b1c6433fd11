"""Loads chassis meshes: reads, scales, places and checks them, so that an unusable mesh never counts as clear."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.index import Corners, TriangleIndex, build_index, distance_to_index, index_of, placed
from headergen.geometry.mesh.seams import closes_once
from headergen.model import Draft, FileFacts, MeshFacts, MeshRef, Vec
from headergen.spec.complaint import Complaint, SpecError, Trouble, path_text
from headergen.spec.files import read_file, shown_path
from headergen.spec.mesh.cache import store_index, stored_index
from headergen.spec.mesh.file import read_mesh
from headergen.spec.mesh.place import PlacementError, check_near, place, z_up
from headergen.spec.mesh.raw import MOST_BYTES, BrokenMeshError, RawMesh
from headergen.spec.mesh.shell import surface
from headergen.spec.scalars import ScalarError
from headergen.spec.text import LARGEST, complaint_at, read_text

WELDED = 50_000  # triangles; a larger mesh is a scan: it is left as it is, and its index is cached
BLOCK = 500_000  # triangles processed at once
NEIGHBOURS = 2_000  # points of a cloud whose nearest neighbour distance is measured
NINE_IN_TEN = 0.9


@dataclass(frozen=True, eq=False)
class Taken:
    """A mesh as read: its index in the file's own numbers, and its arrays if it will be welded."""

    index: TriangleIndex
    facts: FileFacts
    raw: RawMesh | None


def load_meshes(source_file: Path, draft: Draft) -> tuple[Mapping[str, TriangleIndex], tuple[MeshFacts, ...]]:
    """The meshes of the draft's chassis by item name, in engine axes and millimetres, and the facts known of them.

    Mesh paths are relative to the folder of `source_file`, the spec. Raises SpecError with a complaint for each mesh
    that is broken, empty, implausibly large or small, in unknown units, mirrored or scaled against its points, or
    nowhere near the header.
    """
    header = header_points(draft)
    meshes: dict[str, TriangleIndex] = {}
    facts: list[MeshFacts] = []
    complaints: list[Complaint] = []
    for number, item in enumerate(draft.chassis):
        if not isinstance(item.shape, MeshRef):
            continue
        file = source_file.parent / item.shape.path
        try:
            meshes[item.name], known = _load(file, item.shape, header, draft.units)
            known = replace(known, item=item.name)
            facts.append(known)
        except BrokenMeshError as broken:
            complaints.append(replace(broken_text(file, broken), named_at=_named_at(source_file, number)))
        except ScalarError as refused:
            trouble = Trouble(("chassis", number, "mesh"), refused.message, refused.hint)
            complaints.append(_in_spec(source_file, trouble))
        except PlacementError as judged:
            trouble = Trouble(("chassis", number, *judged.at), f"{shown_path(file)} {judged.message}", judged.hint)
            complaints.append(_in_spec(source_file, trouble))
    if complaints:
        raise SpecError(complaints)
    return meshes, tuple(facts)


def header_points(draft: Draft) -> Array:
    """(n, 3) centres of all ports and bores: where the header is, before any path is known."""
    frames = [port.frame for port in draft.ports]
    frames += [bore.frame for collector in draft.collectors for bore in collector.bores]
    return np.array([frame.origin for frame in frames])


def _load(file: Path, ref: MeshRef, header: Array, job: str) -> tuple[TriangleIndex, MeshFacts]:
    kept = stored_index(ref.sha256)
    taken = Taken(*kept, raw=None) if kept else take(file, ref.sha256)
    size = taken.index.size
    ref = z_up(ref) if taken.facts.y_up else ref
    found = place(ref, taken.index, taken.facts, header, job)
    index = _in_millimetres(taken, found.scale)
    index = placed(index, 1.0 if taken.raw is not None else found.scale, found.frame)
    away = float(distance_to_index(header, index).min())
    check_near(away, job)
    millimetres: Vec = tuple((size * found.scale).tolist())
    known = MeshFacts("", Path(ref.path).name, taken.facts, found.units, found.units_from, millimetres, away)
    spacing = taken.facts.spacing * found.scale
    return index, replace(
        known,
        spacing=spacing,
        residuals=found.residuals,
        spread=found.spread,
        within=ref.within,
        tells_mirror=found.tells_mirror,
        closed=index.closed,
        others=found.others,
        measured=ref.extent is not None or bool(ref.pairs),
        placed="points" if ref.pairs else "file" if ref.placement == WORLD else "spec",
    )


def take(file: Path, sha256: str = "") -> Taken:
    """A mesh file as an index in its own numbers; the index of a large file is cached if its hash is given.

    Raises BrokenMeshError, and ScalarError if the file does not have this hash any more.
    """
    raw = read_mesh(_content(file, sha256), file.suffix.lower())
    corners = raw.corners
    squashed = 0 if raw.points_only else _squashed(corners)
    if squashed == len(corners):
        raise BrokenMeshError("all triangles from here on are squashed: none has an area", raw.body)
    facts = FileFacts(
        triangles=len(corners) + raw.left_out,
        left_out=raw.left_out,
        no_area=squashed,
        points_only=raw.points_only,
        spacing=_spacing(raw) if raw.points_only else 0.0,
        units=raw.units,
        assumed=raw.assumed,
        doubts=raw.doubts,
        y_up=raw.y_up,
    )
    index = replace(build_index(corners), spacing=facts.spacing)
    if raw.numbers is not None:
        index = replace(index, order=raw.numbers[index.order].astype(np.int32))
    if len(corners) <= WELDED and not raw.points_only:
        return Taken(index, facts, raw)
    if not raw.points_only:
        index = replace(index, closed=closes_once(index))
    if len(corners) > WELDED and sha256:
        store_index(sha256, index, facts)
    return Taken(index, facts, None)


def _content(file: Path, sha256: str) -> bytes:
    content = read_file(file, MOST_BYTES)
    if sha256 and hashlib.sha256(content).hexdigest() != sha256:
        raise ScalarError(f"{shown_path(file)} was changed while it was read", "run again once it is written whole")
    return content


def _squashed(corners: Corners) -> int:
    """The number of triangles without area, counted in blocks to bound the memory."""
    count = 0
    for low in range(0, len(corners), BLOCK):
        a, b, c = (corners[low : low + BLOCK, k] for k in range(3))
        count += int((np.cross(b - a, c - a) == 0).all(axis=1).sum())
    return count


def tells_sides(taken: Taken) -> bool:
    """Whether a mesh has a known inside; some only do once they are welded and oriented."""
    return _in_millimetres(taken, 1.0).closed


def _in_millimetres(taken: Taken, scale: float) -> TriangleIndex:
    """A mesh small enough for it is welded and turned outward; a larger one keeps the index it was read with."""
    if taken.raw is None:
        return taken.index
    faces = taken.raw.faces
    if faces is None:
        faces = np.arange(len(taken.raw.vertices)).reshape(-1, 3)
    index = index_of(surface(taken.raw.vertices.astype(float) * scale, faces.astype(np.int64)))
    if taken.raw.numbers is not None:
        index = replace(index, order=taken.raw.numbers[index.order].astype(np.int32))
    return replace(index, closed=index.closed and closes_once(index))


def _spacing(raw: RawMesh) -> float:
    """The distance within which 90 % of a cloud's points have a neighbour, from a few thousand evenly picked points."""
    from scipy.spatial import cKDTree  # imported here: only a point cloud needs it

    points = raw.corners[:, 0].astype(float)
    if len(points) < 2:
        raise BrokenMeshError("the file holds a single point", 0)
    picked = points[:: max(1, len(points) // NEIGHBOURS)]
    nearest = cKDTree(points).query(picked, k=2)[0][:, 1]
    return float(np.quantile(nearest, NINE_IN_TEN))


def broken_text(file: Path, broken: BrokenMeshError) -> Complaint:
    """What is wrong with a mesh file, with its line or byte."""
    byte = None if broken.line else broken.byte
    return Complaint(shown_path(file), broken.line, None, "", broken.message, hint=broken.hint, byte=byte)


def _named_at(source_file: Path, number: int) -> str:
    """The place in the spec that names the mesh of an item, counted from 0."""
    found = _in_spec(source_file, Trouble(("chassis", number, "mesh"), ""))
    place = "" if found.line is None else f":{found.line}:{found.column}"
    return f"{shown_path(source_file)}{place} {found.path}"


def _in_spec(source_file: Path, trouble: Trouble) -> Complaint:
    """A complaint with its place in the spec, which is read again to find it."""
    try:
        return complaint_at(read_text(read_file(source_file, LARGEST), str(source_file)), trouble)
    except (ScalarError, SpecError):
        path = path_text(trouble.path)
        return Complaint(str(source_file), None, None, path, trouble.message, hint=trouble.hint)
