"""What the stock list has of one tube, each with its index in the list."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model import Stock, StockBend, StockStraight, Tube
from headergen.model.stock import SAME_RADIUS


@dataclass(frozen=True)
class Shelf:
    """Bends and straights of one tube."""

    bends: tuple[tuple[int, StockBend], ...] = ()
    straights: tuple[tuple[int, StockStraight], ...] = ()

    def of_radius(self, radius: float) -> tuple[tuple[int, StockBend], ...]:
        """Its bends of a radius."""
        return tuple((index, bend) for index, bend in self.bends if abs(bend.radius - radius) <= SAME_RADIUS)


def whole_shelf(stock: Stock | None) -> Shelf:
    """All that the list has, as if it were of one tube."""
    return Shelf() if stock is None else Shelf(tuple(enumerate(stock.bends)), tuple(enumerate(stock.straights)))


def shelf_of(stock: Stock | None, tube: Tube | None, header: Tube) -> Shelf:
    """What the list has of a tube; of a cone (None) nothing. `header`: the tube of the header."""
    if stock is None or tube is None:
        return Shelf()
    return Shelf(stock.bends_of(tube, header), stock.straights_of(tube, header))
