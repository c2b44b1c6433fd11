"""Straight pieces in straight lengths of tube: the least to buy first, then the least tube taken off the shelf.

An integer programme, solved to the optimum. A bar holds the pieces as they are sawn, with a kerf between two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from headergen.model import StockStraight
from headergen.shop.integer_programme import HALF, Model, solve


@dataclass(frozen=True)
class Bar:
    """A straight of the stock list, by its index, and the pieces cut from it, by their indices."""

    stock: int
    pieces: tuple[int, ...]


def bars_for(lengths: Sequence[float], straights: Sequence[StockStraight], kerf: float) -> tuple[Bar, ...]:
    """Bars for pieces of these sawn lengths (mm).

    A piece that fits in no bar, or whose bar is neither on hand nor for sale, is in none of them. Raises PlanError as
    `solve` does.
    """
    fits = [k for k, length in enumerate(lengths) if any(length <= each.length for each in straights)]
    if not fits:
        return ()
    model = Model(levels=("left", "price", "length"))
    left = {k: model.variable(1, left=1.0) for k in fits}
    bars: list[tuple[int, dict[int, int]]] = []
    for index, straight in enumerate(straights):
        mine = [k for k in fits if lengths[k] <= straight.length]
        opened: list[int] = []
        for number in range(_most(straight, len(mine))):
            bar = model.variable(1, length=straight.length)
            holds = {k: model.variable(1) for k in mine[number:]}  # a bar is named by its first piece: one order
            room = {variable: lengths[k] + kerf for k, variable in holds.items()}
            model.row({**room, bar: -straight.length - kerf}, most=0.0)
            for variable in holds.values():
                model.row({variable: 1.0, bar: -1.0}, most=0.0)
            if opened:
                model.row({bar: 1.0, opened[-1]: -1.0}, most=0.0)
            opened.append(bar)
            bars.append((index, holds))
        if straight.price and opened:
            free = float(straight.count or 0)
            bought = model.variable(len(opened), price=straight.price)
            model.row({**dict.fromkeys(opened, 1.0), bought: -1.0}, most=free)
    for k in fits:
        model.row({left[k]: 1.0, **{holds[k]: 1.0 for _, holds in bars if k in holds}}, 1.0, 1.0)
    _, solved = solve(model)
    taken = [(index, tuple(k for k, v in holds.items() if solved[v] > HALF)) for index, holds in bars]
    return tuple(Bar(index, pieces) for index, pieces in taken if pieces)


def _most(straight: StockStraight, pieces: int) -> int:
    """The largest useful number of bars of a kind."""
    return pieces if straight.can_be_bought else min(pieces, straight.count or 0)
