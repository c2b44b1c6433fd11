"""Every primary of a header as a checked solid in its own STEP file, and all of them together in one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from OCP.Standard import Standard_Failure

from headergen.model import Centreline, Header, Tube
from headergen.solids.inspect import SolidError, measure, refuse_unsound, tube_volume
from headergen.solids.step import write_assembly, write_part
from headergen.solids.tube import tube_solid

HEADER_FILE = "header.step"
Report = Callable[[str, int, int], None]  # stage, done, total


@dataclass(frozen=True)
class MadeSolid:
    """A solid that passed its checks: what it is called, the kernel's facts of it, and the files it stands in."""

    name: str
    volume: float
    closed: bool
    files: tuple[str, ...]


def make_primaries(header: Header, folder: Path, report: Report) -> tuple[MadeSolid, ...]:
    """Makes, checks and writes the tube of every centreline in `header`, in its order.

    `folder` must exist; it gets primary_N.step for each and header.step with all of them, listed as "primary N".
    Raises ValueError for a bend tighter than the tube and SolidError for a tube of which no sound solid came, both
    naming the primary, and OSError when a file cannot be written. A tube that crosses itself is the caller's to refuse.
    """
    draft, total = header.draft, len(header.centrelines)
    named: list[tuple[str, Any]] = []
    made: list[MadeSolid] = []
    for done, centreline in enumerate(header.centrelines):
        report("solids", done, total)
        solid, facts = _make(centreline, draft.tube)
        write_part(folder / facts.files[0], (facts.name, solid), draft.job.date)
        named.append((facts.name, solid))
        made.append(facts)
    write_assembly(folder / HEADER_FILE, draft.job.title, named, draft.job.date)
    report("solids", total, total)
    return tuple(made)


def _make(centreline: Centreline, tube: Tube) -> tuple[Any, MadeSolid]:
    name = f"primary {centreline.primary}"
    radii = tube.radius, tube.radius - tube.wall
    try:
        solid = tube_solid(centreline, *radii)
    except Standard_Failure as error:
        raise SolidError(f"{name}: the CAD kernel gave up on this tube ({error})") from error
    facts = measure(solid)
    refuse_unsound(facts, name, tube_volume(centreline, *radii))
    files = (f"primary_{centreline.primary}.step", HEADER_FILE)
    return solid, MadeSolid(name, facts.volume, facts.closed, files)
