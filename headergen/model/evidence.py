"""What a report shows beside the Survey: the gap all along each run, and how one bank lies over the other."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.path import Plane, Vec
from headergen.model.results import Header
from headergen.model.shop import Shop


@dataclass(frozen=True)
class GapAlong:
    """The gap of a run along its length, to the chassis or to the other runs.

    `at`: lengths from its start. At each of them, of what leaves least to spare: `gap`, the gap that is `required`,
    and its name in `against`, empty where nothing is within `reach`, as the gap then reads. `least`: the smallest gap
    there to anything, which is `gap` but where something farther off asks for more room, as the part of a tube does
    that does not converge yet. All in mm.
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
    """`lengths`: run, first and second developed length. `collectors`: name in each, how far the second stands
    from the mirror image of the first along x, y and z, and the angle between the two axes so mirrored. `gap`: the
    smallest between the tubes of both, with the two runs. `unlike`: run, and how far its centreline deviates
    from the mirror image of its counterpart. `plane`: what they are mirrored across."""

    lengths: tuple[tuple[str, float, float], ...]
    collectors: tuple[tuple[str, str, Vec, float], ...]
    gap: tuple[float, str, str]
    unlike: tuple[tuple[str, float], ...]
    plane: Plane
    units: str  # of the first job
    alone: tuple[tuple[str, str], ...]  # what has no fellow, and whether it is in the first or the second


@dataclass(frozen=True)
class Banks:
    """The bank that a header mirrors, in its file `name`, and how the two compare: the other first, this one second."""

    name: str
    other: Header
    found: Comparison


@dataclass(frozen=True)
class Evidence:
    """`along`: each run to the chassis, then to the other runs. `banks`: None where no other bank is mirrored. `shop`:
    None where the bench is not planned."""

    along: tuple[GapAlong, ...]
    banks: Banks | None = None
    shop: Shop | None = None
