"""Straights of real tube in the mock: what is sawn, what stands in its ends, and what it weighs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from headergen.geometry.curves.centreline import cut_out, frame_at
from headergen.geometry.curves.stepped import is_stepped, tube_at
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import tube_mesh
from headergen.mock.plan import RunPlan, Twin
from headergen.mock.strength import TubeSection
from headergen.model import Centreline, SteelStraight, Tube
from headergen.model.materials import material_called

CHORD_ERROR = 0.04  # mm
STEP = 10.0  # mm between the sections of a steel straight
STEEL = 7900.0  # kg/m³, of a material that is not known


def adapter_name(letter: str, stem: str, joint: int | None) -> str:
    """Of the one at a joint of the run with this stem: by its number.

    It is 0 where the tube begins on a flange plate or an outlet.
    """
    return f"{letter}J{stem}-{joint or 0}"


def adapter_before(plan: RunPlan, twin: Twin, letter: str) -> str:
    """Of the one that holds a steel straight: by its joint, or with the number of a leg that follows its own bend."""
    if twin.cut.joint is None and twin.start > plan.begins.at:
        return f"{letter}J{twin.name.removeprefix(letter).removeprefix('S')}"
    return adapter_name(letter, plan.stem, twin.cut.joint)


def straights_of(plan: RunPlan, twins: Sequence[Twin], letter: str, collector: str) -> Iterator[SteelStraight]:
    """What to saw for one run; `collector` is the name of what goes on its end, or empty."""
    by_number = {piece.number: piece for piece in plan.pieces}
    for k, twin in enumerate(twins):
        if twin.is_steel:
            piece = by_number[twin.pieces[0]]
            begins = twin.start == plan.begins.at
            yield SteelStraight(
                twin.name,
                plan.run.name,
                piece.number,
                twin.end - twin.start,
                max(twin.start - piece.start, 0.0) if begins else 0.0,
                max(twin.end - piece.end, 0.0),
                adapter_before(plan, twin, letter),
                _after(plan, twins[k + 1 :], letter, collector),
                piece.is_bend,
                _size(tube_at(plan.run, twin.start)) if is_stepped(plan.run) else None,
            )


def _size(tube: Tube) -> tuple[float, float]:
    return tube.outside_diameter, tube.wall


def _after(plan: RunPlan, rest: Sequence[Twin], letter: str, collector: str) -> str:
    """What goes into the far end of a steel straight: the part after it, or the adapter of other steel."""
    if not rest:
        return collector
    return adapter_before(plan, rest[0], letter) if rest[0].is_steel else rest[0].name


def straight_mesh(line: Centreline, twin: Twin, tube: Tube) -> TriangleMesh:
    """In engine axes, for pictures."""
    return tube_mesh(cut_out(line, twin.start, twin.end), tube.radius, tube.radius - tube.wall, CHORD_ERROR)


def steel_sections(line: Centreline, twin: Twin, tube: Tube, density: float) -> tuple[TubeSection, ...]:
    """Sections of a steel straight in engine axes, for the parts that it hangs on; `density`, g/cm³, of the plastic.

    The area is that of plastic which weighs as much.
    """
    known = material_called(tube.material)
    ratio = (STEEL if known is None else known.density) / 1000 / density
    outer, inner = tube.radius, tube.radius - tube.wall
    area, modulus = math.pi * (outer**2 - inner**2), math.pi * (outer**4 - inner**4) / (4 * outer)
    count = max(1, math.ceil((twin.end - twin.start) / STEP))
    step = (twin.end - twin.start) / count
    places = [frame_at(line, twin.start + (k + 0.5) * step)[0] for k in range(count)]
    return tuple(TubeSection(line.run, place, area * ratio, modulus, step) for place in places)


def held_by(
    plans: Sequence[tuple[RunPlan, Sequence[Twin]]], plates: Mapping[str, str], density: float
) -> dict[str, list[TubeSection]]:
    """Sections of steel by the name of the part that holds it; `plates`: the flange plate of each primary.

    What begins on the outlet of a collector is held by none of the parts whose stress is computed, and stands under "".
    """
    found: dict[str, list[TubeSection]] = {}
    for plan, twins in plans:
        holder = plates.get(plan.run.name, "")
        for twin in twins:
            if twin.is_steel:
                found.setdefault(holder, []).extend(
                    steel_sections(plan.line, twin, tube_at(plan.run, twin.start), density)
                )
            else:
                holder = twin.name
    return found
