"""The shelf: bends and straight lengths as sold, and as measured by the shop."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class MeasuredBend:
    """The shop's measurements of bends as delivered; None for those not taken.

    `oval`: outside diameters across the middle of the bend, the larger one first.
    """

    radius: float | None = None
    angle: float | None = None
    oval: tuple[float, float] | None = None
    legs: tuple[float, float] | None = None


@dataclass(frozen=True)
class StockBend:
    """A bend on the shelf: `angle` is the largest angle that can be cut from it, `legs` are its straights.

    `count`: how many are on hand; None if not counted. More can be bought if it has a price or is not counted.
    """

    radius: float
    angle: float
    legs: tuple[float, float] = (0.0, 0.0)
    price: float | None = None
    count: int | None = None
    measured: MeasuredBend | None = None

    @property
    def real_angle(self) -> float:
        """As measured, or as sold if not measured."""
        return self.angle if self.measured is None or self.measured.angle is None else self.measured.angle

    @property
    def real_radius(self) -> float:
        """As measured, or as sold if not measured."""
        return self.radius if self.measured is None or self.measured.radius is None else self.measured.radius

    @property
    def real_legs(self) -> tuple[float, float]:
        """As measured, or as sold if not measured."""
        return self.legs if self.measured is None or self.measured.legs is None else self.measured.legs

    @property
    def can_be_bought(self) -> bool:
        return self.count is None or self.price is not None


@dataclass(frozen=True)
class StockStraight:
    """A straight length of tube; `count` as for a bend."""

    length: float
    price: float | None = None
    count: int | None = None

    @property
    def can_be_bought(self) -> bool:
        return self.count is None or self.price is not None


@dataclass(frozen=True)
class Stock:
    """The bends and straights of one tube.

    `oval`: (largest − smallest diameter) / nominal, of bends that were not measured.
    """

    bends: tuple[StockBend, ...]
    straights: tuple[StockStraight, ...]
    currency: str = ""
    file: str = ""  # as in the spec
    outside_diameter: float | None = None  # of its tube; None if the list does not give it
    oval: float = 0.03
