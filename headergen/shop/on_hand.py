"""Whether the bends of a header can be cut from those on hand, by the rules of the plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from headergen.model import Header, Stock
from headergen.shop.choose_stock import fewest_missing
from headergen.shop.course import bare_courses
from headergen.shop.shelf import shelf_of
from headergen.shop.sizes import sized_courses
from headergen.shop.ways import options_of, required_bends


@dataclass(frozen=True)
class Without:
    """A bend for which nothing is left on the shelf: its run, its step from 1, its angle (rad) and radius (mm)."""

    run: str
    step: int
    angle: float
    radius: float


def kept_to_count(stock: Stock) -> Stock:
    """The stock list of a shop that buys no bend of a kind that it counts; kinds without a count are enough."""
    bends = (bend if bend.count is None else replace(bend, price=None) for bend in stock.bends if bend.count != 0)
    return replace(stock, bends=tuple(bends))


def is_limited(stock: Stock | None) -> bool:
    """Whether the list has bends of which there are only so many."""
    return stock is not None and any(not bend.can_be_bought for bend in stock.bends)


def without_stock(header: Header) -> Iterator[Without]:
    """The bends of a closed header that cannot be cut from its stock list, as few as can be.

    Raises PlanError if the solver stops before it knows.
    """
    draft = header.draft
    sized = sized_courses(header, bare_courses(header, draft.stock), draft.shop)
    listed = [(each, shelf_of(draft.stock, each.tube, draft.tube)) for each in sized]
    listed = [(each, shelf) for each, shelf in listed if shelf.bends]  # other tubes have no stock list
    required = required_bends([each.course for each, _ in listed], draft.shop)
    bends = [listed[each.key[0]][1].of_radius(each.bend.radius) for each in required]
    missing = fewest_missing(options_of(required, bends, draft.shop.between))
    for each in required:
        if each.key in missing:
            yield Without(listed[each.key[0]][0].run, each.bend.step, each.bend.angle, each.bend.radius)
