"""What is on the shelf: bends and straight lengths as they are sold, and as the shop measured them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class MeasuredBend:
    """What the shop measured on bends as they came in; None where it did not.

    `oval`: outside diameters across the middle of the bend, the long one first.
    """

    radius: float | None = None
    angle: float | None = None
    oval: tuple[float, float] | None = None
    legs: tuple[float, float] | None = None


@dataclass(frozen=True)
class StockBend:
    """A bend on the shelf: `angle` is the largest angle that can be cut from it, `legs` the straights it carries.

    `count`: how many are on hand; None where nobody counted. What is not on hand can be bought where it has a price,
    and where nobody counted.
    """

    radius: float
    angle: float
    legs: tuple[float, float] = (0.0, 0.0)
    price: float | None = None
    count: int | None = None
    measured: MeasuredBend | None = None

    @property
    def real_angle(self) -> float:
        """As measured, else as sold."""
        return self.angle if self.measured is None or self.measured.angle is None else self.measured.angle

    @property
    def real_radius(self) -> float:
        """As measured, else as sold."""
        return self.radius if self.measured is None or self.measured.radius is None else self.measured.radius

    @property
    def real_legs(self) -> tuple[float, float]:
        """As measured, else as sold."""
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

    `oval`: (largest − smallest diameter) / nominal, of bends that nobody measured.
    """

    bends: tuple[StockBend, ...]
    straights: tuple[StockStraight, ...]
    currency: str = ""
    file: str = ""  # as the spec names it
    outside_diameter: float | None = None  # of its tube; None where the list does not say
    oval: float = 0.03
