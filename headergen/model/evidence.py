"""What a report shows besides the Survey: the gap along each run, and the comparison of two banks."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.path import Plane, Vec
from headergen.model.results import Header
from headergen.model.shop import Shop


@dataclass(frozen=True)
class GapAlong:
    """The gap of a run along its length, to the chassis or to the other runs.

    `at`: lengths from its start. For the gap with the smallest margin at each length: `gap` is its value, `required`
    its requirement, and `against` the other thing, empty where nothing is within `reach` (the gap then reads `reach`).
    `least`: the smallest gap there to anything. It differs from `gap` only where something farther away needs more
    room, such as the part of a tube that does not converge yet. All in mm.
    """

    run: str
    to_tubes: bool
    reach: float
    at: tuple[float, ...]
    gap: tuple[float, ...]
    required: tuple[float, ...]
    against: tuple[str, ...]
    least: tuple[float, ...]


@dataclass(frozen=True)
class Comparison:
    """Two banks compared.

    `lengths`: run, first and second developed length. `collectors`: its name in each bank, the offset of the second
    from the mirror image of the first along x, y and z, and the angle between the two axes so mirrored. `gap`: the
    smallest gap between the tubes of both, with the two runs. `unlike`: run, and how far its centreline deviates from
    the mirror image of its counterpart. `plane`: the mirror plane.
    """

    lengths: tuple[tuple[str, float, float], ...]
    collectors: tuple[tuple[str, str, Vec, float], ...]
    gap: tuple[float, str, str]
    unlike: tuple[tuple[str, float], ...]
    plane: Plane
    units: str  # of the first job
    alone: tuple[tuple[str, str], ...]  # things without a counterpart, and whether each is in the first or the second


@dataclass(frozen=True)
class Banks:
    """The bank that a header mirrors, in the file `name`, and the comparison: the other bank first, this one second."""

    name: str
    other: Header
    found: Comparison


@dataclass(frozen=True)
class Evidence:
    """`along`: each run to the chassis, then to the other runs.

    `banks`: None if no other bank is mirrored. `shop`: None if the bench is not planned.
    """

    along: tuple[GapAlong, ...]
    banks: Banks | None = None
    shop: Shop | None = None
