"""The small facts that records hold besides measurements, each computed in one place."""

from __future__ import annotations

import math
from dataclasses import dataclass

from headergen.geometry.curves.stepped import is_stepped, metal_area, tube_spans, wall_spans
from headergen.geometry.frames import cross, norm, subtract
from headergen.model import Bend, Gap, Header, Part, Result, Run, Tube, Vec
from headergen.model.lengths import required_length
from headergen.model.materials import material_called


def bends(run: Run) -> tuple[int, float]:
    """The number of bends of a run, and their total angle (radians)."""
    angles = [step.angle for step in run.steps if isinstance(step, Bend)]
    return len(angles), sum(angles)


def target(header: Header, run: Run) -> float | None:
    """The required length of a run: its own; for a primary into a collector, else the header's; else none."""
    return required_length(run, header.draft)


def density(material: str) -> float | None:
    """kg/m³ of a known material, else None."""
    known = material_called(material)
    return None if known is None else known.density


def mass(tube: Tube, length: float) -> float | None:
    """Grams of a tube of `length` mm along its centreline: π(OD − t)·t·L·ρ, exact in bends too (Pappus–Guldinus).

    Bends are taken at nominal wall. None when the material's density is not known.
    """
    rho = density(tube.material)
    if rho is None:
        return None
    area = math.pi * (tube.outside_diameter - tube.wall) * tube.wall
    return area * length * rho * 1e-6


def run_mass(run: Run, length: float) -> float | None:
    """Grams of a run `length` mm long: each of its tubes from end to end, and its cones, by Pappus–Guldinus."""
    rho = density(run.tube.material)
    if not is_stepped(run) or rho is None:
        return mass(run.tube, length)
    tubes = sum(metal_area(span.tube) * (span.end - span.start) for span in tube_spans(run))
    cones = sum(wall.volume for wall in wall_spans(run) if wall.outer[0] != wall.outer[1])
    return (tubes + cones) * rho * 1e-6


GRAVITY = 9.80665  # m/s²; standard gravity, ISO 80000-3


@dataclass(frozen=True)
class TotalWeight:
    """The total mass of the parts (g), their centre of mass (mm), and the moment of their weight at the flange (N·m).

    With several flanges the moment is unknown: how they share the weight depends on the stiffness of tubes and heads.
    """

    grams: float
    centre: Vec
    moment: float | None


def part_mass(tube: Tube, part: Part) -> float | None:
    """Grams; all parts are assumed to be of the tubes' material. None if its density is not known."""
    rho = density(tube.material)
    return None if rho is None else part.volume * rho * 1e-6


def weight(result: Result) -> TotalWeight | None:
    """All parts together; None if there are none, or if their material is not known.

    The moment is that of the weight about the centre of the ports on the flange's face, with the engine as installed
    and the header held by nothing else: |r × m·g|.
    """
    draft = result.header.draft
    masses = [part_mass(draft.tube, part) for part in result.parts]
    known = [(mass, part.centre) for mass, part in zip(masses, result.parts, strict=True) if mass is not None]
    if not known or len(known) < len(masses):
        return None
    grams = sum(mass for mass, _ in known)
    x, y, z = (sum(mass * centre[k] for mass, centre in known) / grams for k in range(3))
    if len(draft.flanges) > 1:
        return TotalWeight(grams, (x, y, z), None)
    ports = draft.ports
    middle = [sum(port.frame.origin[k] for port in ports) / len(ports) for k in range(3)]
    off = subtract((x, y, z), (middle[0], middle[1], middle[2]))
    arm = norm(cross(off, draft.up))
    return TotalWeight(grams, (x, y, z), grams * 1e-3 * GRAVITY * arm * 1e-3)


def smallest_gap(result: Result, run: str, to_tubes: bool) -> Gap | None:
    """The smallest gap of a run to other tubes, or to the chassis; None if none was measured.

    Gaps of tubes that converge on their collector are left out.
    """
    mine = [
        gap
        for gap in result.survey.gaps
        if not gap.together and gap.is_between_runs == to_tubes and run in (gap.a, gap.b)
    ]
    return min(mine, key=lambda gap: round(gap.value, 6), default=None)
