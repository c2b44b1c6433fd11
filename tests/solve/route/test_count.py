"""Bends on hand: what cannot be cut from them is told, and costs more than any way round it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice, product
from pathlib import Path

import pytest
from wanted import job

from headergen.model import Bend, Draft, Header, PlanError, Stock, StockBend, Straight
from headergen.shop.on_hand import is_limited, kept_to_count, without_stock
from headergen.solve.closing import close
from headergen.solve.route import count
from headergen.solve.route.count import not_on_hand, say_on_hand
from headergen.solve.route.problem import problem_of
from headergen.solve.route.search import search


def bend(angle: float, count: int | None, price: float | None = 9.0) -> StockBend:
    return StockBend(63.5, math.radians(angle), (80.0, 80.0), price, count)


def header(folder: Path, angles: tuple[float, ...], *bends: StockBend) -> Header:
    """A header whose first tube has these bends, with straights between, and whose second has none."""
    draft = job(folder)[1]
    steps = tuple(step for angle in angles for step in (Straight(50.0), Bend(math.radians(angle), 63.5, 0.0)))
    paths = ((*steps, Straight(60.0)), (Straight(300.0),))
    runs = tuple(replace(run, steps=path, to_find=False) for run, path in zip(draft.runs, paths, strict=True))
    return close(replace(draft, runs=runs, stock=kept_to_count(Stock(bends, ()))))


@pytest.mark.parametrize(
    ("angles", "on_hand", "missing"),
    [
        ((90, 90), {90: 2}, 0),
        ((90, 90), {90: 1}, 1),
        ((40, 40), {90: 1}, 0),  # both from one: 80° and the saw
        ((45, 45), {90: 1}, 1),  # the saw takes its width
        ((30, 30, 30), {90: 1, 45: 1}, 0),
        ((60, 60, 60), {90: 2, 60: 1}, 0),
        ((60, 60, 60), {90: 1, 60: 1}, 1),
        ((100,), {180: 1}, 0),
    ],
)
def test_fewest_bends_without_stock(
    angles: tuple[float, ...], on_hand: dict[int, int], missing: int, tmp_path: Path
) -> None:
    shelf = [bend(angle, count) for angle, count in on_hand.items()]
    assert len(list(without_stock(header(tmp_path, angles, *shelf)))) == missing


def test_kinds_without_a_count_are_enough_and_those_counted_are_not_bought(tmp_path: Path) -> None:
    assert list(without_stock(header(tmp_path, (90, 90, 45), bend(90, None), bend(45, 0)))) == []
    assert kept_to_count(Stock((bend(45, 0), bend(90, 2)), ())).bends == (bend(90, 2, None),)
    assert not is_limited(Stock((bend(90, 2), bend(45, None)), ()))  # more can be bought


def test_a_bend_without_stock_is_named_and_costs_more_than_ten_bends(tmp_path: Path) -> None:
    made = header(tmp_path, (90, 60), bend(90, 1))
    [lacking] = without_stock(made)
    assert (lacking.run, lacking.radius) == ("primary 1", 63.5)
    [term] = not_on_hand(made)
    assert term.amount == 1 and term.cost == 300.0
    weights = replace(made.draft.routing.cost_weights, lacking=70.0)
    cheaper = replace(made.draft, routing=replace(made.draft.routing, cost_weights=weights))
    [term] = not_on_hand(replace(made, draft=cheaper))
    assert term.amount == 1 and term.cost == 70.0


def test_what_the_solver_cannot_tell_is_counted_quickly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer whose bends could not be counted exactly must not look better than others."""

    def stops(_: Header) -> Iterator[None]:
        raise PlanError("the solver stopped")
        yield

    monkeypatch.setattr(count, "without_stock", stops)
    [term] = not_on_hand(header(tmp_path, (90, 60), bend(90, 1)))
    assert term.amount == 1


def limited(folder: Path, *bends: StockBend) -> Draft:
    return replace(job(folder)[1], stock=kept_to_count(Stock(bends, ())))


@pytest.mark.slow
def test_a_search_prefers_what_can_be_cut_from_the_bends_on_hand(tmp_path: Path) -> None:
    shelf = bend(60, 3), bend(30, 2)
    free = next(islice(search(problem_of(limited(tmp_path, bend(180, None)), {}), 0), 30, None)).best
    few = next(islice(search(problem_of(limited(tmp_path, *shelf), {}), 0), 30, None)).best
    enough = next(islice(search(problem_of(limited(tmp_path, bend(90, 2), bend(60, 2)), {}), 0), 12, None)).best
    assert free is not None and few is not None and enough is not None
    as_if = close(replace(free.draft, stock=few.draft.stock))
    assert len(list(without_stock(few.survey.header))) < len(list(without_stock(as_if)))
    [said] = say_on_hand([enough])
    assert said.value == 0.0 and "are enough" in said.message


@pytest.mark.slow
def test_a_search_steered_by_the_bends_on_hand_lacks_fewer_and_never_more(tmp_path: Path) -> None:
    """Each beside the search that may buy the same kinds, whose answer is then counted against what is on hand."""
    steered = free = 0
    for seed, on_hand in product(range(2), ({60: 3, 30: 2}, {60: 2, 45: 2}, {90: 1, 45: 4})):
        few = limited(tmp_path, *(bend(angle, number) for angle, number in on_hand.items()))
        more = replace(few, stock=Stock(tuple(bend(angle, None) for angle in on_hand), ()))
        lacks = [
            len(list(without_stock(close(replace(best.draft, stock=few.stock)))))
            for draft in (few, more)
            if (best := next(islice(search(problem_of(draft, {}), seed), 30, None)).best) is not None
        ]
        assert lacks[0] <= lacks[1]
        steered, free = steered + lacks[0], free + lacks[1]
    assert steered < free


def test_what_is_not_enough_is_said_with_the_bend(tmp_path: Path) -> None:
    best = next(islice(search(problem_of(limited(tmp_path, bend(90, 1)), {}), 0), 12, None)).best
    assert best is not None
    [said] = say_on_hand([best])
    assert said.level == "warning" and "are not enough for" in said.message and "primary 2, step" in said.message
