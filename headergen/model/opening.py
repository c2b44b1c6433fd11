"""Openings in plates: the shapes of ports, bolt holes, and the plate in which an outlet ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class PortShape:
    """The opening in the head; `size` has the dimensions of its kind, in millimetres (round: the diameter)."""

    kind: Literal["round", "oval", "rectangle", "d", "free"]
    size: tuple[float, ...]
    points: tuple[tuple[float, float], ...] = ()  # free: the corners of the opening about its centre
    turn: float = 0.0  # from the flange's x toward its y


@dataclass(frozen=True)
class Bolt:
    at: tuple[float, float]
    hole: float


@dataclass(frozen=True)
class OutletPlate:
    """A plate across the end of an outlet, with an opening for the gas: what a turbine's inlet or a silencer bolts to.

    Its axes have the opening's centre at zero, x that of the collector plane turned by `turn` toward its y, and y up as
    seen from the header, along the gas. Places and shape are in these axes.
    """

    shape: PortShape
    thickness: float
    bolts: tuple[Bolt, ...] = ()
    transition: float = 0.0  # length from the outlet's round to the shape of the opening; 0: none
    divider: float = 0.0  # width of the wall that divides a rectangular opening into two along its width; 0: none
    turn: float = 0.0
    margin: float = 12.0  # of plate around opening and bolt holes
    facing: float = 0.3  # of the thickness, removed by facing it flat after welding
