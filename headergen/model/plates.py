"""Plates that hold tube ends in the collector's place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from headergen.model.path import Vec2


@dataclass(frozen=True)
class PlateHole:
    at: Vec2
    diameter: float
    run: str | None  # its name; None for the hole of a spacer rod or of a reference point
    datum: str = ""  # the reference point
    mark: str = ""  # of the run
    slot: Vec2 = (0.0, 0.0)  # from its middle to either end, where a tube that leans to the plate makes it a slot


@dataclass(frozen=True)
class LocatingPlate:
    """One plate seen from the tubes' side, in the axes of its collector's plane with y reversed.

    `downstream`: how far its downstream face is past the collector plane; negative before it.
    """

    name: str
    collector: str
    outline: tuple[Vec2, ...]
    holes: tuple[PlateHole, ...]
    thickness: float
    downstream: float


@dataclass(frozen=True)
class DatumHole:
    """A reference point for which a pair of plates has a hole.

    `spacer`: mm from the named plate's nearest face to the point, along the tubes; 0 within the plate.
    """

    name: str
    plate: str
    spacer: float
    is_past: bool  # the point is downstream of that plate


@dataclass(frozen=True)
class PlatePair:
    """The plates of one collector. `add`: extra length of every tube end, to be flush with the second plate.

    `lean`: the largest angle (rad) of a tube in the two plates; `apart`: the distance between facing faces; `tilt`:
    radians from square to the table, if they stand on one. `stand_in`: parts of the mock that go through both plates
    until a printed collector replaces them; none if the last part of each tube is long enough itself. `tubes`: what
    goes through. `run`: not empty if they hold the end of that run to a place of its own, where there is no collector.
    `leaning`: radians between each tube and the plates' normal.
    """

    plates: tuple[LocatingPlate, LocatingPlate]
    apart: float
    add: float
    lean: float
    has_feet: bool
    datums: tuple[DatumHole, ...] = ()
    tilt: float = 0.0
    stand_in: tuple[str, ...] = ()
    tubes: Literal["primary", "secondary"] = "primary"
    run: str = ""
    leaning: float = 0.0
