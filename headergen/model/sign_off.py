"""What a customer signs for, as numbers, and the hash that ties a sheet to the spec it was made from."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.path import Vec

# a hash in letters alone is never read as a number, and has no vowels to make words of
HASH_LETTERS = "bcdfghjkmnpqrtvw"
HASH_LENGTH = 12


@dataclass(frozen=True)
class OutletPlace:
    """Where a collector ends: its middle, counted from the middle of the first port, the way of the gas, its width."""

    collector: str
    place: Vec
    way: Vec
    diameter: float  # outside


@dataclass(frozen=True)
class SensorPlace:
    """Where a boss stands on its tube, counted from the middle of the first port."""

    name: str
    host: str
    place: Vec


@dataclass(frozen=True)
class LeastGap:
    """How near the header comes to something, and which of its parts does; negative where they cross."""

    item: str
    part: str
    value: float


@dataclass(frozen=True)
class SignOff:
    """`size`: length along x, y and z, and `grams`, both None as long as nothing is made. `ground` is the gap to the
    plane below the header, None where the spec has none. `gaps`: the smallest to each item, least first; `between`: the
    smallest between two tubes away from their collectors, None where there are no two."""

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
