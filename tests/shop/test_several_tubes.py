"""A stock list of several tubes: each stretch is planned, marked and judged by the stock of its own size."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from headergen.checks.rules.bends import bend_on_shelf
from headergen.checks.rules.stock import stock_tube
from headergen.model import Fit, Header, Plan, Shop, Stock, StockBend, StockStraight, StockTube, Straight, Tube
from headergen.outputs.shop.order import order_list
from headergen.pipeline import settle
from headergen.shop.course import courses_of
from headergen.shop.plan import plan_of
from headergen.shop.shelf import Shelf, shelf_of
from headergen.shop.sizes import piece_tube, sized_courses
from headergen.shop.stage import pieces_of, shop_of
from headergen.solve.narrowing import within_stock

SPEC = Path(__file__).resolve().parents[2] / "specs" / "bulrush.yaml"
SIZES = (38.1, 42.4, 60.3)


@cache
def made() -> tuple[Header, Shop]:
    header = settle(SPEC)
    return header, shop_of(header)


def with_stock(header: Header, stock: Stock) -> Header:
    return replace(header, draft=replace(header.draft, stock=stock))


def stock() -> Stock:
    found = made()[0].draft.stock
    assert found is not None
    return found


def of_size(wide: float) -> Stock:
    """The list with nothing but one size."""
    bends, straights = (
        tuple(each for each in listed if each.tube is not None and each.tube.outside_diameter == wide)
        for listed in (stock().bends, stock().straights)
    )
    return replace(stock(), bends=bends, straights=straights)  # type: ignore[arg-type]


def test_every_piece_is_cut_from_stock_of_its_own_tube() -> None:
    header, shop = made()
    seen = set()
    for piece in shop.plan.pieces:
        tube = piece_tube(header.run(piece.run), piece)
        assert tube is not None and piece.item is not None
        item = shop.plan.items[piece.item - 1]
        listed = stock().bends if item.kind == "bend" else stock().straights
        of = listed[item.index].tube
        assert of is not None and of.outside_diameter == tube.outside_diameter
        seen.add((item.kind, of.outside_diameter))
    assert seen == {(kind, wide) for kind in ("bend", "straight") for wide in SIZES}
    assert shop.plan.figures.missing == 0 and not any("no stock" in note for note in shop.notes)


def test_items_are_counted_through_and_hold_their_pieces() -> None:
    plan = made()[1].plan
    assert [item.number for item in plan.items] == list(range(1, len(plan.items) + 1))
    listed = [(name, item.number) for item in plan.items for name in item.pieces]
    assert sorted(listed) == sorted(((each.run, each.number), each.item) for each in plan.pieces)


def test_the_whole_is_as_good_as_the_sizes_planned_alone() -> None:
    """Nothing is shared between tubes, so every figure of the plan is the sum of those of each size."""
    header = made()[0]
    settings = header.draft.shop
    sized = sized_courses(header, courses_of(header, settings, stock()), settings)
    alone = []
    for wide in SIZES:
        courses = [each.course for each in sized if each.tube is not None and each.tube.outside_diameter == wide]
        alone.append(plan_of(courses, of_size(wide), settings).figures)
    whole: Plan = plan_of(
        [each.course for each in sized],
        stock(),
        settings,
        [shelf_alone(each.tube) for each in sized],
    )
    for name in ("missing", "broken", "arc_cuts", "unclampable"):
        assert getattr(whole.figures, name) == sum(getattr(each, name) for each in alone)
    assert whole.figures.joints == sum(each.joints for each in alone)
    assert whole.figures.cost == pytest.approx(sum(each.cost for each in alone), abs=1e-4)


def shelf_alone(tube: Tube | None) -> Shelf:
    return shelf_of(stock(), tube, made()[0].draft.tube)


def test_arc_cuts_are_marked_by_the_tube_of_the_bend() -> None:
    """Outside and inside differ from the middle by θ times half the flattened width of that tube."""
    header, shop = made()
    ovals = {38.1: 0.03, 42.4: 0.03, 60.3: 0.04}
    seen = set()
    for mark in (each for each in shop.cuts if each.chords is not None):
        piece = next(each for each in shop.plan.of_run(mark.run) if each.number == mark.piece)
        tube = piece_tube(header.run(mark.run), piece)
        assert tube is not None
        wide = tube.outside_diameter
        half = wide / 2 * (1 - ovals[wide] / 2)
        assert mark.outside - mark.middle == pytest.approx(half * mark.angle, abs=1e-6)
        assert mark.middle - mark.inside == pytest.approx(half * mark.angle, abs=1e-6)
        seen.add(wide)
    assert seen == set(SIZES)


def test_the_order_list_says_the_tube_where_it_is_another() -> None:
    lines = [line for line in order_list(*made()) if line.what in ("bend", "straight")]
    named = {wide for wide in SIZES[1:] for line in lines if f", tube {wide}" in line.size}
    assert named == set(SIZES[1:]) and not any("tube 38.1" in line.size for line in lines)
    assert not any("not in the stock list" in line.what for line in order_list(*made()))


def test_a_size_that_is_not_there_is_bought_and_said() -> None:
    header = made()[0]
    fewer = replace(
        stock(),
        bends=tuple(each for each in stock().bends if each.tube and each.tube.outside_diameter != 42.4),
        straights=tuple(each for each in stock().straights if each.tube and each.tube.outside_diameter != 42.4),
    )
    shelved = with_stock(header, fewer)
    for piece in pieces_of(shelved).pieces:
        tube = piece_tube(shelved.run(piece.run), piece)
        assert tube is not None and (piece.item is None) == (tube.outside_diameter == 42.4)
    said = [note for note in shop_of(shelved).notes if note.startswith("There is no stock of tube")]
    assert len(said) == 1 and "42.4 mm × 1.5 mm" in said[0] and "primary 4" in said[0]


def test_stock_of_a_wall_is_for_that_wall() -> None:
    tube = StockTube(42.4, 1.5)
    assert tube.is_for(Tube(42.4, 1.5, "")) and not tube.is_for(Tube(42.4, 2.0, ""))
    assert StockTube(41.3).is_for(Tube(41.275, 1.65, "")) and not StockTube(41.3).is_for(Tube(42.4, 1.65, ""))


def test_each_bend_is_judged_by_the_stock_of_its_tube() -> None:
    """Bends of CLR 60 in tube 42.4 only: those of 38.1 are then the ones without their radius."""
    header = made()[0]
    bends = tuple(
        replace(each, radius=57.0) if each.tube and each.tube.outside_diameter == 38.1 else each
        for each in stock().bends
    )
    found = list(bend_on_shelf(with_stock(header, replace(stock(), bends=bends))))
    assert {each.where for each in found} == {f"primary {n}" for n in range(1, 5)}
    assert len(found) == 5  # before the steps: one each, and two in primary 2
    assert all(each.limit == 57.0 for each in found)


def test_a_free_angle_is_held_to_the_largest_bend_of_its_tube() -> None:
    header = made()[0]
    run = header.run("primary 1")
    steps = [k for k, step in enumerate(run.steps, 1) if not isinstance(step, Straight)]
    fits = tuple(Fit(number, "angle", 0.1, math.pi) for number in steps)
    held = within_stock(replace(run, fits=fits), header.draft)
    largest = [math.radians(180), math.radians(90), math.radians(90)]  # of 38.1, then of 42.4
    assert [fit.high for fit in held.fits] == pytest.approx(largest)


def test_a_list_for_none_of_the_tubes_is_refused() -> None:
    header = made()[0]
    assert not list(stock_tube(header))
    assert not list(stock_tube(with_stock(header, replace(of_size(42.4), outside_diameter=None))))
    tube = StockTube(48.3)
    other = Stock((StockBend(72.0, 1.5, tube=tube),), (StockStraight(1000.0, tube=tube),), outside_diameter=48.3)
    (found,) = stock_tube(with_stock(header, other))
    assert found.level == "error" and "48.3 mm" in found.message and "38.1 mm" in found.message
