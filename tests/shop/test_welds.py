"""The welds of a header by their lengths: all of them by hand, or by integrals that know nothing of its code."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from scipy.integrate import quad
from scipy.special import ellipe

from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.measures import Merge
from headergen.model import Header, Weld
from headergen.outputs.shop.order import order_list
from tests.demos import cut_once, settled_once

SPECS = Path(__file__).parents[2] / "specs"


def welds(name: str) -> dict[str, Weld]:
    return {weld.what: weld for weld in cut_once(name).welds}


def merge_of(header: Header) -> Merge:
    merge = possible_merge(header.draft.tube, header.draft.collectors[0])
    assert isinstance(merge, Merge)
    return merge


@pytest.fixture(scope="module")
def bogbean() -> Header:
    return settled_once("bogbean")


def test_welds_of_tubes_and_parts_by_hand(bogbean: Header) -> None:
    """Tube of 42.4, an outlet of 63.5 with a ring, one boss of 28, eight tabs of 14 x 3; springs hold the slip joints,
    so that nothing is welded at their mouths."""
    found = welds("bogbean")
    joints = len(cut_once("bogbean").plan.joints)
    by_hand = {
        "joints of pieces": (joints, joints * math.pi * 42.4),
        "tubes on the flange": (4, 4 * math.pi * 42.4),
        "end of the outlet of main": (1, math.pi * 63.5),
        "bosses": (1, math.pi * 28.0),
        "tabs": (8, 8 * 2 * (14.0 + 3.0)),
    }
    for what, (count, length) in by_hand.items():
        assert (found[what].count, found[what].length) == (count, pytest.approx(length)), what
    assert not any("mouths" in what for what in found)


def test_mitres_are_ellipses(bogbean: Header) -> None:
    """Semi-axes r/cos of half the tubes' angle, and r = 23.0; the perimeter by the complete elliptic integral."""
    long = 23.0 / math.cos(merge_of(bogbean).half_angle / 2)
    around = 4 * long * ellipe(1 - (23.0 / long) ** 2)
    mitres = welds("bogbean")["mitres of main"]
    assert mitres.count == 4 and mitres.length == pytest.approx(4 * around, rel=1e-4)


def test_a_spike_is_welded_round_the_opening_that_it_fills(bogbean: Header) -> None:
    """Four circles of 23 on a ring of R: on the ray halfway to its neighbour, a circle is nearest to the axis at
    R·cos 45° − √(r² − R²·sin² 45°); from there to the place that faces the axis it is an arc of r, twice for each."""
    merge, half = merge_of(bogbean), math.radians(45.0)
    near = merge.ring * math.cos(half) - math.sqrt(23.0**2 - (merge.ring * math.sin(half)) ** 2)
    arc = math.acos((merge.ring - near * math.cos(half)) / 23.0)
    spike = welds("bogbean")["spike of main"]
    assert spike.count == 1 and spike.length == pytest.approx(8 * 23.0 * arc)


def test_the_seam_of_two_tubes_is_an_arc_of_an_ellipse() -> None:
    """In the plane between them, a cylinder that leans by h is an ellipse of r across and r/sin h along, round where
    its axis meets the plane; the seam is the part of it before the cut."""
    merge = merge_of(settled_once("sedge"))
    r, lean = merge.outer, merge.half_angle
    middle, long = merge.mitre + merge.ring / math.tan(lean), r / math.sin(lean)
    until = math.acos(max((middle - merge.cut) / long, -1.0))  # from the ellipse's lowest place, on either side
    half, _ = quad(lambda t: math.hypot(r * math.cos(t), long * math.sin(t)), 0.0, until)
    seam = welds("sedge")["seams between the tubes of main"]
    assert seam.count == 1 and seam.length == pytest.approx(2 * half, rel=2e-3)


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    ("spec", "what", "count", "length"),
    [
        ("guide_fittings", "brackets", 1, 2 * 2 * (40.0 + 3.0)),
        ("bulrush", "tubes in the mouths of tail", 1, math.pi * 60.3),
        ("withybed", "tubes in the mouths of fore", 3, 3 * math.pi * 38.1),
        ("guide_crossover", "tubes on y", 2, 2 * math.pi * 45.0),
    ],
)
def test_other_headers_have_their_welds(spec: str, what: str, count: int, length: float) -> None:
    found = welds(spec)[what]
    assert (found.count, found.length) == (count, pytest.approx(length))


def test_a_transition_is_welded_at_both_ends_and_along_two_seams() -> None:
    """Both rims at mid wall, then two seams: longer than the transition, and shorter than its length and its widest
    step together."""
    header = settled_once("glasswort_right")
    [first, *_] = header.primaries
    long, found = first.port.transition, welds("glasswort_right")["transitions"]
    tube = math.pi * (42.4 - 1.5)
    assert found.count == 3
    assert 3 * (2 * tube * 0.9 + 2 * long) < found.length < 3 * (2 * tube * 1.3 + 2 * (long + 15.0))


def test_an_outlet_that_goes_on_in_a_transition_is_welded_to_it_once() -> None:
    """Its plate is at the other end of the transition."""
    found = welds("sedge_turbine")
    assert found["transitions"].count == 1 and "end of the outlet of main" not in found


def test_a_plain_end_of_a_run_is_welded_to_nothing() -> None:
    header = settled_once("guide_crossover")
    assert {each.mouth for each in header.draft.collectors if each.name == "tail"} == {"plain"}
    assert not any("tail" in what for what in welds("guide_crossover"))


def test_each_weld_is_a_line_of_the_order(bogbean: Header) -> None:
    shop = cut_once("bogbean")
    lines = {line.what: line for line in order_list(bogbean, shop)}
    for weld in shop.welds:
        line = lines[f"filler rod for {weld.what}"]
        assert (line.size, line.needed, line.unit) == ("ER308L", weld.count, "mm of weld")
        assert line.quantity == math.ceil(weld.length)
