"""A mitred joint in the place of a slight bend, against closed forms and plain vectors."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.model import MitreOffer, Plan, PlanFigures, Shop, ShopSettings, Stock, StockBend, StockStraight
from headergen.outputs.shop.offers import said_of_offers
from headergen.shop.course import Course, CourseBend
from headergen.shop.mitre import mitre_offers, ordinates
from headergen.shop.plan import plan_of

SHELF = Stock((StockBend(63.5, math.radians(45), (30.0, 30.0)),), (StockStraight(1000.0),))


def offer_for(degrees: float, radius: float = 63.5) -> MitreOffer:
    course = Course("primary 1", (100.0, 120.0), (CourseBend(math.radians(degrees), radius, 0.0, 2),), 21.2)
    (offer,) = mitre_offers(course, SHELF, ShopSettings(mitre_under=math.radians(100)))
    return offer


def test_a_template_of_the_base_tube() -> None:
    """1-5/8 in tube cut at 22.5°, 16 parts: r·tan α·cos φ, computed independently to four digits."""
    found = ordinates(41.275 / 2, math.radians(22.5))
    assert found[:5] == pytest.approx((8.5483, 7.8976, 6.0446, 3.2713, 0.0), abs=5e-5)
    assert len(found) == 16 and found[8] == pytest.approx(-found[0])


def test_the_highest_ordinate_of_a_template() -> None:
    """r·tan α at r 57.15 and 30°; layout tables of boilermakers print 32.99, from memory."""
    assert ordinates(57.15, math.radians(30))[0] == pytest.approx(32.9956, abs=5e-5)


@pytest.mark.parametrize(("degrees", "tangent"), [(90.0, 61.9125), (45.0, 25.6450)])
def test_the_straights_become_longer_by_the_tangent_length(degrees: float, tangent: float) -> None:
    """Setback R·tan(θ/2) of CLR 61.9125, computed by hand; twice that less the arc is what the centreline gains."""
    offer = offer_for(degrees, 61.9125)
    assert offer.setback == pytest.approx(tangent, abs=5e-5)
    assert offer.longer == pytest.approx(2 * offer.setback - 61.9125 * math.radians(degrees))
    assert offer.cut_angle == pytest.approx(math.radians(degrees) / 2)


@pytest.mark.parametrize("degrees", [4.0, 11.0])
def test_two_straights_meet_at_the_corner(degrees: float) -> None:
    """Plain vectors: along x to the corner, then on at the angle; the arc's end lies on the second straight."""
    offer, angle = offer_for(degrees), math.radians(degrees)
    corner, way = np.array([100.0 + offer.setback, 0.0]), np.array([math.cos(angle), math.sin(angle)])
    arc_end = np.array([100.0 + 63.5 * math.sin(angle), 63.5 * (1 - math.cos(angle))])
    assert corner + offer.setback * way == pytest.approx(arc_end)
    middle_of_arc = np.array([100.0 + 63.5 * math.sin(angle / 2), 63.5 * (1 - math.cos(angle / 2))])
    assert offer.off == pytest.approx(float(np.linalg.norm(corner - middle_of_arc)))


def test_it_saves_a_piece_and_a_weld() -> None:
    """Straight, bend, straight against straight, straight: legs of 30 are too short for either."""
    offer = offer_for(10.0)
    course = Course("primary 1", (100.0, 120.0), (CourseBend(math.radians(10), 63.5, 0.0, 2),), 21.2)
    assert len(plan_of([course], SHELF, ShopSettings()).pieces) == 3
    assert (offer.pieces, offer.joints) == (1, 1)


def test_only_slight_bends_are_offered() -> None:
    """Under 12° unless the spec says otherwise."""
    bends = tuple(CourseBend(math.radians(angle), 63.5, 0.0, 2 * k) for k, angle in enumerate((11.9, 12.1, 40.0), 1))
    course = Course("primary 1", (100.0, 100.0, 100.0, 100.0), bends, 21.2)
    assert [offer.step for offer in mitre_offers(course, SHELF, ShopSettings())] == [2]


def test_an_offer_says_what_it_saves_and_what_it_costs() -> None:
    """10° of CLR 63.5: the corner stands 63.5·(1/cos 5° - 1) = 0.2 mm outside, and 2·63.5·tan 5° - 63.5·0.17453 =
    0.03 mm are added to the centreline. One that saves no weld is not worth a word."""
    offer = MitreOffer("primary 1", 4, math.radians(10), math.radians(5), 5.556, 0.0283, 0.2425, (), 1, 1)
    empty = PlanFigures(0, 0, 0, 0, 0, 0.0)
    shop = Shop(Plan((), (), (), empty), (), mitres=(offer, replace(offer, joints=0)))
    (said,) = said_of_offers(shop, "mm")
    wanted = ("Primary 1, step 4", "10.0°", "cut at 5.0°", "1 piece and 1 weld", "0.2 mm outside", "than 0.1 mm longer")
    assert all(part in said for part in wanted)
