"""The facts a customer signs for, as numbers, and the hash that ties a sheet to its spec."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.path import Vec

# a hash of letters alone is never read as a number; without vowels it makes no words
HASH_LETTERS = "bcdfghjkmnpqrtvw"
HASH_LENGTH = 12


@dataclass(frozen=True)
class OutletPlace:
    """The end of a collector: its centre, from the centre of the first port, the direction of the gas, its width."""

    collector: str
    place: Vec
    way: Vec
    diameter: float  # outside


@dataclass(frozen=True)
class SensorPlace:
    """A boss on its tube, measured from the centre of the first port."""

    name: str
    host: str
    place: Vec


@dataclass(frozen=True)
class LeastGap:
    """The smallest gap of the header to something, and its part there; negative if they cross."""

    item: str
    part: str
    value: float


@dataclass(frozen=True)
class SignOff:
    """`size`: length along x, y and z; `grams`: mass; both None as long as nothing is made.

    `ground` is the gap to the plane below the header; None if the spec has none. `gaps`: the smallest to each item,
    smallest first; `between`: the smallest between two tubes away from their collectors; None if there are no two.
    """

    hash: str
    title: str
    revision: str
    date: str
    customer: str
    finish: str
    tube: str
    clear: bool
    outlets: tuple[OutletPlace, ...]
    sensors: tuple[SensorPlace, ...]
    lengths: tuple[tuple[str, float], ...]
    gaps: tuple[LeastGap, ...]
    between: LeastGap | None
    ground: LeastGap | None
    included: tuple[str, ...]
    excluded: tuple[str, ...]
    size: Vec | None = None
    grams: float | None = None
    workshop: str = ""
