"""What a plan has to say: what is missing, where a joint is awkward, what a small change would save."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headergen.model import Header, MeasuredBend, Stock, StockBend, StockStraight
from headergen.shop.stage import shop_of
from tests.outputs.sample_result import header as sample_header

# the sample's paths have bends of 75° and 40°, CLR 63.5; its slip is 40 long, and its last straight 150
FITS = StockBend(63.5, math.radians(180), (200.0, 200.0))


def notes_for(*bends: StockBend, units: str = "mm") -> tuple[str, ...]:
    header: Header = sample_header()
    stock = Stock(bends, (StockStraight(1000.0),))
    return shop_of(replace(header, draft=replace(header.draft, stock=stock, units=units))).notes  # type: ignore[arg-type]


def test_nothing_is_said_of_a_plan_that_works() -> None:
    assert notes_for(FITS) == ()


def test_a_bend_that_none_holds_is_named_in_the_unit_of_the_job() -> None:
    small = StockBend(63.5, math.radians(45), (90.0, 90.0))
    other = StockBend(76.2, math.radians(180), (90.0, 90.0))
    assert notes_for(other)[0] == "primary 1, piece 2: no bend in the stock list holds 75.0° of CLR 63.5 mm."
    assert notes_for(other, units="in")[0].endswith("75.0° of CLR 2.500 in.")
    assert not [note for note in notes_for(small) if "no bend" in note], "75° is made of two of 37.5°"


def test_without_a_stock_list_none_is_spoken_of() -> None:
    header = sample_header()
    found = shop_of(replace(header, draft=replace(header.draft, stock=None))).notes
    assert "primary 1, piece 2: no stock list is given, so a bend of 75.0° of CLR 63.5 mm is assumed." in found
    assert not [note for note in found if "in the stock list" in note]


@pytest.mark.parametrize(("degrees", "said"), [(75.2, "0.20° less"), (74.75, "0.25° more"), (75.4, ""), (75.0, "")])
def test_what_is_nearly_a_shelf_angle_is_worth_a_word(degrees: float, said: str) -> None:
    found = [note for note in notes_for(FITS, StockBend(63.5, math.radians(degrees), (90.0, 90.0))) if "step 2" in note]
    assert len(found) == 2 * bool(said) and all(said in note and f"written as {degrees:g}," in note for note in found)


def test_a_measured_radius_that_is_not_the_paths() -> None:
    off = replace(FITS, measured=MeasuredBend(radius=64.1))
    found = [note for note in notes_for(off) if "measured" in note]
    assert len(found) == 2 and "CLR 63.5 mm, and 64.1 mm was measured" in found[0]
    assert notes_for(replace(FITS, measured=MeasuredBend(radius=63.7))) == ()


def test_a_joint_beside_another_tube_is_named() -> None:
    """The sample's two tubes are nowhere nearer than 57.6 mm to each other; a cup of 200 mm has room nowhere."""
    header = sample_header()
    draft = replace(header.draft, stock=Stock((FITS,), (StockStraight(1000.0),)))
    tight = replace(header, draft=replace(draft, shop=replace(draft.shop, cup=200.0)))
    joints = shop_of(tight).plan.joints
    named = [note for note in shop_of(tight).notes if "the torch has no room beside another tube" in note]
    assert len(named) == len(joints) > 0


def test_walls_that_miss_each_other_at_an_oval_joint() -> None:
    """A bend of 10 % is long by 2.1 mm in half its diameter: against a round face half of that, over a quarter wall."""
    oval = replace(FITS, measured=MeasuredBend(oval=(44.5, 40.3)))
    said = [note for note in notes_for(oval) if "oval" in note]
    assert said and all("miss each other by up to" in note and "within 0.4 mm" in note for note in said)
