"""The shelf: bends and straight lengths as sold, and as measured by the shop."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeVar

from headergen.model.tube import Tube

Item = TypeVar("Item", "StockBend", "StockStraight")


@dataclass(frozen=True)
class MeasuredBend:
    """The shop's measurements of bends as delivered; None for those not taken.

    `oval`: outside diameters across the middle of the bend, the larger one first.
    """

    radius: float | None = None
    angle: float | None = None
    oval: tuple[float, float] | None = None
    legs: tuple[float, float] | None = None


SAME_RADIUS = 0.05  # mm; shelf radii are named to a tenth or as an inch fraction
SAME_TUBE = 0.15  # mm between outside diameters named in inches and in millimetres: 1-5/8 in is sold as 41.3
SAME_WALL = 0.05  # mm, of walls named in gauges, inches or millimetres


@dataclass(frozen=True)
class StockTube:
    """The tube that a bend or a straight is of.

    `wall`: None if its list does not say. `oval`: (largest − smallest diameter) / nominal, of bends not measured.
    """

    outside_diameter: float
    wall: float | None = None
    oval: float = 0.03

    def is_for(self, tube: Tube) -> bool:
        """Whether it is this tube, as far as it is known."""
        if abs(self.outside_diameter - tube.outside_diameter) > SAME_TUBE:
            return False
        return self.wall is None or abs(self.wall - tube.wall) <= SAME_WALL


@dataclass(frozen=True)
class StockBend:
    """A bend on the shelf: `angle` is the largest angle that can be cut from it, `legs` are its straights.

    `count`: how many are on hand; None if not counted. More can be bought if it has a price or is not counted. `tube`:
    None if the list does not say of which, which is then that of the header.
    """

    radius: float
    angle: float
    legs: tuple[float, float] = (0.0, 0.0)
    price: float | None = None
    count: int | None = None
    measured: MeasuredBend | None = None
    tube: StockTube | None = None

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
    """A straight length of tube; `count` and `tube` as for a bend."""

    length: float
    price: float | None = None
    count: int | None = None
    tube: StockTube | None = None

    @property
    def can_be_bought(self) -> bool:
        return self.count is None or self.price is not None


@dataclass(frozen=True)
class Stock:
    """The bends and straights on the shelf, of one tube or of several.

    `oval`: (largest − smallest diameter) / nominal, of bends that were not measured and whose tube is not said.
    `outside_diameter`: of the tube that the list as a whole is of.
    """

    bends: tuple[StockBend, ...]
    straights: tuple[StockStraight, ...]
    currency: str = ""
    file: str = ""  # as in the spec
    outside_diameter: float | None = None
    oval: float = 0.03

    @property
    def tubes(self) -> tuple[StockTube | None, ...]:
        """The tubes that there is stock of, each once; None: that of the header."""
        return tuple(dict.fromkeys([*(each.tube for each in self.bends), *(each.tube for each in self.straights)]))

    @property
    def diameters(self) -> tuple[float, ...]:
        """The outside diameters (mm) that the list names, in order."""
        named = {each.outside_diameter for each in self.tubes if each is not None}
        return tuple(sorted(named | ({self.outside_diameter} if self.outside_diameter is not None else set())))

    def is_for(self, tube: Tube, header: Tube) -> bool:
        """Whether the list is of this tube, or, as far as it does not say of which, of the header's."""
        if self.outside_diameter is not None and StockTube(self.outside_diameter).is_for(tube):
            return True
        if tube == header and (None in self.tubes or not self.diameters):
            return True
        return any(each.is_for(tube) for each in self.tubes if each is not None)

    def bends_of(self, tube: Tube, header: Tube) -> tuple[tuple[int, StockBend], ...]:
        """The bends of a tube, each with its index in the list. `header`: the tube of the header."""
        return _of(self.bends, tube, header)

    def straights_of(self, tube: Tube, header: Tube) -> tuple[tuple[int, StockStraight], ...]:
        """The straights of a tube, each with its index in the list."""
        return _of(self.straights, tube, header)

    def oval_of(self, bend: StockBend) -> float:
        """Of a bend that was not measured."""
        return self.oval if bend.tube is None else bend.tube.oval


def _of(listed: Iterable[Item], tube: Tube, header: Tube) -> tuple[tuple[int, Item], ...]:
    return tuple(
        (index, each)
        for index, each in enumerate(listed)
        if (tube == header if each.tube is None else each.tube.is_for(tube))
    )


def stock_radius(of: StockBend | StockStraight, header: float) -> float:
    """The radius of its tube (mm). `header`: that of the header's tube, with which stock of that tube is drawn."""
    if of.tube is None or abs(of.tube.outside_diameter - 2 * header) <= SAME_TUBE:
        return header
    return of.tube.outside_diameter / 2
