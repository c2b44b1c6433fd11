"""Plates that hold tube ends where their collector will be."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.path import Vec2


@dataclass(frozen=True)
class PlateHole:
    at: Vec2
    diameter: float
    run: str | None  # its name; None: a hole for a rod that keeps two plates apart, or for a reference point
    datum: str = ""  # the reference point
    mark: str = ""  # of the run


@dataclass(frozen=True)
class LocatingPlate:
    """One plate as seen from the tubes' side, in the axes of its collector's plane with y turned over.

    `downstream`: how far its downstream face stands past the collector plane, negative before it.
    """

    name: str
    collector: str
    outline: tuple[Vec2, ...]
    holes: tuple[PlateHole, ...]
    thickness: float
    downstream: float


@dataclass(frozen=True)
class DatumHole:
    """A reference point that a pair of plates has a hole for.

    `spacer`: mm from the nearest face of the plate named to the point, along the tubes; 0 within the plate.
    """

    name: str
    plate: str
    spacer: float
    is_past: bool  # the point stands downstream of that plate


@dataclass(frozen=True)
class PlatePair:
    """The plates of one collector. `add`: what every tube end must be longer to come flush with the second plate.

    `lean`: radians by which a tube can stand out of line between the two, at most; `apart` between facing faces;
    `tilt`: radians from square to the table, if they stand on one. `stand_in`: parts of the mock that go through both
    plates until a printed collector takes their place; none where the last part of each primary is itself that long.
    """

    plates: tuple[LocatingPlate, LocatingPlate]
    apart: float
    add: float
    lean: float
    has_feet: bool
    datums: tuple[DatumHole, ...] = ()
    tilt: float = 0.0
    stand_in: tuple[str, ...] = ()
