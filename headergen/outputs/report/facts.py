"""The small facts that every form of the report states, each worked out in one place."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from headergen.geometry.frames import cross, norm, subtract
from headergen.model import Bend, Draft, Gap, Header, MeshFacts, Part, Place, Result, Run, Tube, Vec
from headergen.model.finding import LEVELS, Finding
from headergen.model.materials import material_called

INCH = 25.4
ALONE = "tubes only; nothing around them was given"
NOUNS = {"error": ("error", "errors"), "warning": ("warning", "warnings"), "info": ("note", "notes")}


def counts(findings: Iterable[Finding]) -> dict[str, int]:
    """How many findings there are of each level, worst level first."""
    levels = [finding.level for finding in findings]
    return {level: levels.count(level) for level in LEVELS}


def verdict(findings: Iterable[Finding], draft: Draft) -> str:
    """One line: NOT CLEAR as soon as there is an error, how many findings of each level, and of what it is said."""
    number = counts(findings)
    said = [f"{n} {NOUNS[level][n != 1]}" for level, n in number.items() if n]
    of = "" if draft.chassis else f" ({ALONE})"
    if number["error"]:
        return f"NOT CLEAR{of}: " + ", ".join(said)
    return f"Clear{of}: " + ", ".join(["no errors", *said] if said else ["no findings"])


def bends(run: Run) -> tuple[int, float]:
    """How many bends a run has, and through how much they turn in all (radians)."""
    angles = [step.angle for step in run.steps if isinstance(step, Bend)]
    return len(angles), sum(angles)


def target(header: Header, run: Run) -> float | None:
    """The length wanted of a run: its own, else, of a primary, the header's, else none."""
    return header.draft.length.target if run.target is None and run.is_primary else run.target


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


GRAVITY = 9.80665  # m/s²; standard gravity, ISO 80000-3


@dataclass(frozen=True)
class Weight:
    """What the parts weigh together (g), where their centre is (mm), and what their weight does at the flange (N·m)."""

    grams: float
    centre: Vec
    moment: float


def part_mass(tube: Tube, part: Part) -> float | None:
    """Grams; all parts are taken to be of the tubes' material. None when its density is not known."""
    rho = density(tube.material)
    return None if rho is None else part.volume * rho * 1e-6


def weight(result: Result) -> Weight | None:
    """All parts together; None when there are none, or their material is not known.

    The moment is that of the weight about the middle of the ports on the flange's face, with the engine as installed
    and the header held by nothing else: |r × m·g|.
    """
    draft = result.header.draft
    masses = [part_mass(draft.tube, part) for part in result.parts]
    known = [(mass, part.centre) for mass, part in zip(masses, result.parts, strict=True) if mass is not None]
    if not known or len(known) < len(masses):
        return None
    grams = sum(mass for mass, _ in known)
    x, y, z = (sum(mass * centre[k] for mass, centre in known) / grams for k in range(3))
    ports = draft.flange.ports
    middle = [sum(port.frame.origin[k] for port in ports) / len(ports) for k in range(3)]
    off = subtract((x, y, z), (middle[0], middle[1], middle[2]))
    arm = norm(cross(off, draft.up))
    return Weight(grams, (x, y, z), grams * 1e-3 * GRAVITY * arm * 1e-3)


def in_units(millimetres: float, units: str, digits: int = 1, sign: str = "") -> str:
    """A length as a number in `units`: to `digits` decimals in millimetres, to three in inches; `sign` may be "+"."""
    value, digits = (millimetres / INCH, 3) if units == "in" else (millimetres, digits)
    return f"{round(value, digits) + 0.0:{sign}.{digits}f}"


UNITS_FROM = {
    "spec": "as stated",
    "format": "as its format says",
    "points": "told by its points",
    "size": "told by its size and place",
    "extent": "told by its extent",
}


def mesh_line(result: Result, known: MeshFacts, size: str, away: str) -> str:
    """What a chassis mesh was taken for; `size` and `away`, its distance from the header, as they are written."""
    axes = {
        "file": "in its own place" if known.content.y_up else "axes and place as in the file",
        "spec": "placed as the spec says",
        "points": f"placed by {len(known.residuals)} points",
    }[known.placed]
    if known.content.y_up:
        axes = f"turned from y up to z up, {axes}"
    distance = f"{away} from the header" if result.survey.from_header(known) > 0 else "it meets the header"
    told = f"is in {known.units}, {UNITS_FROM[known.units_from]}"
    return f"{known.item}: {known.file} {told}; {size}; {axes}; {distance}."


def against(gap: Gap) -> str:
    """What a gap is measured to, in shop words."""
    if not gap.is_between_runs:
        return gap.b
    return gap.b + (", at the collector" if gap.together else "")


def step_word(header: Header, place: Place) -> str:
    """The step a place falls in, with its kind."""
    steps = header.run(place.run).steps
    return f"step {place.step} ({'bend' if isinstance(steps[place.step - 1], Bend) else 'straight'})"


def gap_word(gap: Gap) -> str:
    """What is wrong with a gap, in words; empty when nothing is."""
    if not gap.is_too_small:
        return ""
    if gap.runs_through:
        return "RUNS THROUGH"
    return "CROSSES" if gap.value < 0 else "TOO NEAR"


def worst_first(gaps: Iterable[Gap]) -> list[Gap]:
    """The gaps by what they have to spare, least first; equal ones keep their order.

    Where tubes close up on their collector they are meant to be near: those gaps are here only if something is wrong.
    """
    shown = [gap for gap in gaps if not gap.together or gap.is_too_small]
    return sorted(shown, key=lambda gap: round(gap.value - gap.required, 6))


def short_name(header: Header, name: str) -> str:
    """What a run is called in a column of runs: a primary's number, else its name."""
    run = header.run(name)
    return str(run.number) if run.is_primary else name


def smallest_gap(result: Result, run: str, to_tubes: bool) -> Gap | None:
    """The smallest gap of a run to other tubes, or to the chassis; None when none was measured.

    Where tubes close up on their collector is left out.
    """
    mine = [
        gap
        for gap in result.survey.gaps
        if not gap.together and gap.is_between_runs == to_tubes and run in (gap.a, gap.b)
    ]
    return min(mine, key=lambda gap: round(gap.value, 6), default=None)
