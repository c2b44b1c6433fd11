"""The solids, with every file that is made of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import tube_mesh
from headergen.jobs.outcome import FOR_SOLIDS, Missing, NotMade, Report, WorkError, buildable, paired_arrays
from headergen.jobs.process import Failure, run, words_of
from headergen.model import Header, Overlap, Part
from headergen.parts.kind import file_stem
from headergen.parts.table import parts_of

GLB_FILE = "header.glb"


@dataclass(frozen=True, eq=False)
class Made:
    """Solids that were made: the parts, where two share metal, the meshes of parts that are not tubes, by name."""

    parts: tuple[Part, ...]
    overlaps: tuple[Overlap, ...]
    skins: Mapping[str, TriangleMesh]
    not_made: NotMade


def make_solids(header: Header, without: frozenset[str], folder: Path, report: Report) -> Made:
    """Make every file of a checked header but its picture and reports, in `folder`.

    `without` names the primaries of which no legal solid exists. A legal part that fails is left out and said to be
    missing. Raises WorkError when none could be made, OSError where the disk is full.
    """
    header, not_made = buildable(header, without), _without_solid(without)
    if not header.primaries:
        return Made((), (), {}, not_made)
    scratch = folder / ".parts.npz"
    try:
        (parts, overlaps, names), failed = _parts_that_come(header, (folder, scratch), report)
        meshes = [TriangleMesh(*pair, closed=True) for pair in paired_arrays(scratch)]
    finally:
        scratch.unlink(missing_ok=True)
    not_made += _not_possible(header) + tuple(Missing(what, why, failed=True) for what, why in failed.items())
    return Made(parts, overlaps, dict(zip(names, meshes, strict=True)), not_made)


def _parts_that_come(header: Header, places: tuple[Path, Path], report: Report) -> tuple[Any, dict[str, str]]:
    """What _make_parts answers, and the parts that failed, with why: also those at which the kernel took its process
    down, which is started again without them."""
    fatal: dict[str, str] = {}
    while True:
        under_way = [""]

        def heard(stage: str, done: int, total: int, name: str, under_way: list[str] = under_way) -> None:
            under_way[0] = name
            report(stage, done, total)

        answer = run((_make_parts, (header, *places, frozenset(fatal))), heard)
        if not isinstance(answer, Failure):
            made, failed = answer
            return made, {**fatal, **failed}
        if answer.lacks_library:
            raise WorkError(f"the CAD library cannot be loaded: {answer.why}; a slim Debian needs `{FOR_SOLIDS}`")
        if not answer.ended or not under_way[0]:
            raise WorkError(answer.why)
        fatal[under_way[0]] = answer.why


def _without_solid(names: frozenset[str]) -> NotMade:
    return tuple(Missing(f"solid of {name}", "no legal solid: see the findings") for name in sorted(names))


def _not_possible(header: Header) -> NotMade:
    impossible = [part for part in parts_of(header) if part.why_not]
    found = {f"solid of {part.name}": part.why_not for part in impossible}
    found |= {f"{file_stem(part.name)}.dxf": part.why_not for part in impossible if part.kind.is_drawn}
    return tuple(Missing(what, f"{why}: see the findings") for what, why in found.items())


def _make_parts(
    header: Header, folder: Path, skins: Path, without: frozenset[str], report: Callable[..., None]
) -> tuple[tuple[tuple[Part, ...], tuple[Overlap, ...], tuple[str, ...]], dict[str, str]]:
    """Every part in its files but those in `without`, where two share metal, and the names of those whose meshes are
    put into `skins`; and what failed, with why."""
    from headergen.outputs.cad_script import write_cad_script
    from headergen.outputs.dxf import write_drawings
    from headergen.outputs.gltf import write_glb
    from headergen.outputs.stl import write_stl
    from headergen.solids.build import make_parts

    draft, written, others, parts, failed = header.draft, {}, {}, [], dict[str, str]()

    def on_failure(name: str, error: Exception) -> None:
        failed[name] = words_of(error).removeprefix(f"{name}: ")

    solids, overlaps = make_parts(header, folder, report, on_failure, without)
    if not solids:
        raise WorkError("; ".join(f"{name}: {why}" for name, why in failed.items()))
    drawings = write_drawings(folder, draft, [(solid.part, Path(solid.files[0]).stem) for solid in solids])
    for solid in solids:
        mesh = solid.mesh
        if mesh is None:
            assert solid.line is not None and solid.tube is not None
            radii = solid.tube.radius, solid.tube.radius - solid.tube.wall
            mesh = tube_mesh(solid.line, *radii, draft.limits.chord_error)
        if not solid.part.kind.is_run:
            others[solid.name] = mesh
        stl = Path(solid.files[0]).with_suffix(".stl").name
        volume = write_stl(folder / stl, mesh, solid.name, draft.limits.chord_error)
        more = (drawings[solid.name],) if solid.name in drawings else ()
        files = (*solid.files, stl, GLB_FILE, *more)
        parts.append(Part(solid.name, solid.role, files, solid.volume, volume, solid.closed, solid.centre))
        written[solid.name] = mesh
    write_glb(folder / GLB_FILE, written)
    write_cad_script(folder, header, [solid.name for solid in solids])
    np.savez(skins, *(array for mesh in others.values() for array in (mesh.vertices, mesh.faces)))
    return (tuple(parts), overlaps, tuple(others)), failed
