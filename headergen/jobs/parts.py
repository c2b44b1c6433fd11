"""The job of the solids, with all files made from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import stepped_mesh, tube_mesh
from headergen.jobs.outcome import FOR_SOLIDS, Missing, NotMade, Report, WorkError, buildable, paired_arrays
from headergen.jobs.process import Failure, Work, words_of
from headergen.jobs.schedule import Step
from headergen.model import Header, Overlap, Part
from headergen.parts.kind import file_stem
from headergen.parts.table import parts_of

if TYPE_CHECKING:
    from headergen.solids.build import MadeSolid  # imports the kernel

GLB_FILE = "header.glb"
GLB_CHORD_ERROR = 0.2  # mm: a viewer shows no finer detail, and the file is half as large


KERNEL = "kernel"  # the child that makes solids
PARTS = "parts"  # the step
BODIES, SKINS = "bodies", "skins"  # its milestones: all bodies exist; it is known which parts share metal
SCRATCH = ".parts.npz"


@dataclass(frozen=True, eq=False)
class Made:
    """Solids that were made: the parts, their overlaps, and the meshes of parts that are not tubes, by name."""

    parts: tuple[Part, ...]
    overlaps: tuple[Overlap, ...]
    skins: Mapping[str, TriangleMesh]
    not_made: NotMade


def begin_kernel() -> None:
    """What a child loads before there is work: libraries that are slow to load."""
    import headergen.outputs.cad_script
    import headergen.outputs.dxf.document
    import headergen.outputs.gltf
    import headergen.outputs.stl
    import headergen.solids.build  # noqa: F401


def parts_step(
    header: Header,
    without: frozenset[str],
    folder: Path,
    report: Report,
    chassis: Mapping[str, TriangleMesh] | None = None,
) -> Step:
    """Make every file of a checked header except its picture and reports, in `folder`.

    Made is the milestones BODIES and SKINS, when its parts have no files yet; the step's answer has the parts. The
    meshes of parts that are not tubes stay in SCRATCH there. `without` names the primaries of which no legal solid
    exists. A legal part that fails is left out and reported as missing. `chassis`: the meshes in header.glb besides the
    parts, by name. The step raises WorkError if no part could be made, OSError if the disk is full.
    """
    header, fatal, under_way = buildable(header, without), dict[str, str](), [""]
    there: list[Made] = []  # once there are bodies

    def work(_: Any = None) -> Work:
        return _make_parts, (header, folder, folder / SCRATCH, frozenset(fatal), chassis or {})

    def heard(stage: str, *said: Any) -> tuple[str, Any] | None:
        if stage == BODIES:
            there[:] = [_made(header, _without_solid(without), (folder / SCRATCH, fatal), said)]
            return BODIES, there[0]
        if stage == SKINS:
            overlaps, failed = said
            known = {missing.what for missing in there[0].not_made}
            more = tuple(Missing(what, why, failed=True) for what, why in failed.items() if what not in known)
            return SKINS, replace(there[0], overlaps=overlaps, not_made=there[0].not_made + more)
        done, total, under_way[0] = said
        report(stage, done, total)
        return None

    def again(failure: Failure) -> Work:
        """The same work without the part at which the kernel ended its process."""
        if failure.lacks_library:
            raise WorkError(f"the CAD library cannot be loaded: {failure.why}; a slim Debian needs `{FOR_SOLIDS}`")
        if not failure.ended or not under_way[0]:
            raise WorkError(failure.why)
        fatal[under_way[0]], under_way[0] = failure.why, ""
        return work()

    return Step(PARTS, work, KERNEL, heard=heard, again=again)


def _made(header: Header, not_made: NotMade, places: tuple[Path, Mapping[str, str]], said: tuple[Any, ...]) -> Made:
    """The facts that are known when all bodies exist."""
    (parts, names, failed), (scratch, fatal) = said, places
    meshes = [TriangleMesh(*pair, closed=True) for pair in paired_arrays(scratch)]
    missing = (Missing(what, why, failed=True) for what, why in {**fatal, **failed}.items())
    return Made(parts, (), dict(zip(names, meshes, strict=True)), (*not_made, *_not_possible(header), *missing))


def none_to_make(without: frozenset[str]) -> tuple[Step, ...]:
    """The steps for a header without any primary that has a legal solid."""
    none = Made((), (), {}, _without_solid(without))
    return Step(BODIES, lambda _: none), Step(SKINS, lambda _: none), Step(PARTS, lambda _: ())


def _without_solid(names: frozenset[str]) -> NotMade:
    return tuple(Missing(f"solid of {name}", "no legal solid: see the findings") for name in sorted(names))


def _not_possible(header: Header) -> NotMade:
    impossible = [part for part in parts_of(header) if part.infeasibility]
    found = {f"solid of {part.name}": part.infeasibility for part in impossible}
    found |= {f"{file_stem(part.name)}.dxf": part.infeasibility for part in impossible if part.kind.is_drawn}
    return tuple(Missing(what, f"{why}: see the findings") for what, why in found.items())


def _make_parts(
    header: Header,
    folder: Path,
    skins: Path,
    without: frozenset[str],
    chassis: Mapping[str, TriangleMesh],
    report: Callable[..., None],
) -> tuple[Part, ...]:
    """Every part in its files, except those in `without`.

    As soon as there are bodies, the meshes of those that are not tubes are put into `skins`, and reported with their
    names, the overlaps, and what failed, with why.
    """
    from headergen.outputs.cad_script import write_cad_script
    from headergen.outputs.dxf import write_drawings
    from headergen.outputs.gltf import write_glb
    from headergen.solids.build import make_parts
    from headergen.solids.kept import users_kept_solids

    draft, failed = header.draft, dict[str, str]()

    def on_failure(name: str, error: Exception) -> None:
        failed[name] = words_of(error).removeprefix(f"{name}: ")

    def on_bodies(solids: tuple[MadeSolid, ...], overlaps: tuple[Overlap, ...] | None) -> None:
        if not solids:
            raise WorkError("; ".join(f"{name}: {why}" for name, why in failed.items()))
        if overlaps is not None:
            report(SKINS, overlaps, failed)
            return
        others = {solid.name: solid.mesh for solid in solids if solid.mesh is not None and not solid.part.kind.is_run}
        np.savez(skins, *(array for mesh in others.values() for array in (mesh.vertices, mesh.faces)))
        bare = tuple(Part(s.name, s.role, s.files, s.volume, 0.0, s.closed, s.centre) for s in solids)
        report(BODIES, bare, tuple(others), failed)

    store = users_kept_solids()
    solids, _ = make_parts(header, folder, report, on_failure, without, on_bodies, store)
    store.tidy()
    meshes = {solid.name: _mesh_of(solid, draft.limits.chord_error) for solid in solids}
    drawings = write_drawings(folder, draft, [(solid.part, Path(solid.files[0]).stem) for solid in solids])
    parts = tuple(_written(solid, meshes[solid.name], (folder, drawings), draft.limits.chord_error) for solid in solids)
    coarse = max(GLB_CHORD_ERROR, draft.limits.chord_error)
    shown = {s.name: _mesh_of(s, coarse) for s in solids}
    write_glb(folder / GLB_FILE, shown, chassis, coarse)
    write_cad_script(folder, header, [solid.name for solid in solids])
    return parts


def _mesh_of(solid: MadeSolid, chord_error: float) -> TriangleMesh:
    if solid.mesh is not None:
        return solid.mesh
    assert solid.line is not None and solid.tube is not None
    if solid.walls:
        return stepped_mesh(solid.line, solid.walls, chord_error)
    return tube_mesh(solid.line, solid.tube.radius, solid.tube.radius - solid.tube.wall, chord_error)


def _written(solid: MadeSolid, mesh: TriangleMesh, places: tuple[Path, Mapping[str, str]], chord_error: float) -> Part:
    """The part with its STL, and with all its files."""
    from headergen.outputs.stl import write_stl

    (folder, drawings), stl = places, Path(solid.files[0]).with_suffix(".stl").name
    volume = write_stl(folder / stl, mesh, solid.name, chord_error)
    more = (drawings[solid.name],) if solid.name in drawings else ()
    files = (*solid.files, stl, GLB_FILE, *more)
    return Part(solid.name, solid.role, files, solid.volume, volume, solid.closed, solid.centre)
