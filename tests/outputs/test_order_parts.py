"""The order for collectors and for what is fitted; expected values are by hand, or by another formula."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.measures import Merge, tube_cut
from headergen.model import Header
from headergen.outputs.shop.order import order_list
from headergen.outputs.shop.order_line import OrderLine
from headergen.outputs.shop.order_parts import _ruled_area, cone_area
from tests.demos import cut_once, settled_once

SPECS = Path(__file__).parents[2] / "specs"


def ordered(name: str) -> dict[str, OrderLine]:
    return {line.what: line for line in order_list(settled_once(name), cut_once(name))}


@pytest.fixture(scope="module")
def bogbean() -> Header:
    return settled_once("bogbean")


def test_sleeves_and_merge_are_of_straight_tube(bogbean: Header) -> None:
    """Four tubes that slide over 42.4 with 0.3 mm on each side and a wall of 1.5: 46.0. Each is as long as from its
    mouth to the last place of its end, with two cuts of 1.0 mm and three faces to dress by 1.0 mm."""
    [collector] = bogbean.draft.collectors
    merge = possible_merge(bogbean.draft.tube, collector)
    assert isinstance(merge, Merge)
    far = max(tube_cut(merge, 23.0, math.radians(k / 4)) for k in range(1440))
    each = collector.slip + merge.mitre + far + 2 * 1.0 + 3 * 1.0
    line = ordered("bogbean")["tube for the sleeves and merge of main"]
    assert line.size == f"46.0 mm × 1.5 mm, 4 of {each:.1f} mm"
    assert (line.needed, line.on_hand, line.unit) == (4, 0, "mm")
    assert line.quantity == pytest.approx(4 * each, abs=1.5) and line.quantity >= 4 * each - 0.2


def test_outlet_ring_tabs_and_boss_are_ordered(bogbean: Header) -> None:
    """The outlet is 80 mm of 63.5, with a cut and two faces to dress; the ring a disc of 102 mm; eight tabs."""
    lines, [collector] = ordered("bogbean"), bogbean.draft.collectors
    outlet = lines["tube for the outlet of main"]
    assert outlet.size == "63.5 mm × 1.5 mm" and outlet.quantity == collector.outlet_length + 1.0 + 2 * 1.0
    ring = lines["plate for the outlet ring of main"]
    wide = getattr(collector.end, "outside_diameter")  # noqa: B009
    assert ring.quantity == math.ceil(math.pi * wide**2 / 4 / 100) and ring.size.startswith("9.0 mm thick")
    assert lines["plate for tabs"].needed == 8
    assert (lines["boss"].size, lines["boss"].quantity) == ("M18x1.5, 28.0 mm across, 14.0 mm high", 1)
    assert lines["spike for main"].quantity == 1


def test_a_ruled_strip_between_circles_is_a_frustum() -> None:
    """Lateral area pi (R + r) s."""
    turns = np.linspace(0.0, 2 * math.pi, 2001)
    ring = np.column_stack([np.cos(turns), np.sin(turns)])
    found = _ruled_area(40.0 * ring, 25.0 * ring, 20.0)
    assert found == pytest.approx(math.pi * 65.0 * math.hypot(15.0, 20.0), rel=1e-5)


def test_the_cone_is_larger_than_one_between_its_circles(bogbean: Header) -> None:
    """From lobes to outlet it is longer round than the outlet all the way, and shorter than the lobes' crests."""
    [collector] = bogbean.draft.collectors
    merge = possible_merge(bogbean.draft.tube, collector)
    assert isinstance(merge, Merge)
    high, crest = merge.cone_end - merge.cut, merge.cut_ring + merge.outer / math.cos(merge.half_angle)
    assert 2 * math.pi * merge.outlet_outer * high < cone_area(merge) < 4 * math.pi * crest * high


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    ("spec", "what", "size"),
    [
        ("guide_merges", "cone for the outlet of last", "from 70.0 mm to 88.9 mm, 120.0 mm long"),
        ("guide_fittings", "plate for brackets", "3.0 mm thick, before cutting out"),
        ("sedge_turbine", "sheet for transitions", "1.6 mm thick, before cutting out"),
        ("sedge_turbine", "plate for outlet dividers", "6.0 mm thick, before cutting out"),
        ("withybed", "tube for the outlet of aft", "2.250 in × 0.065 in"),
    ],
)
def test_other_headers_order_their_parts(spec: str, what: str, size: str) -> None:
    assert ordered(spec)[what].size == size


def test_tubes_of_two_sizes_have_lines_of_their_own() -> None:
    header = settled_once("guide_merges")
    lines = [
        o for o in order_list(header, cut_once("guide_merges")) if o.what == "tube for the sleeves and merge of last"
    ]
    assert [line.size.split(",")[0] for line in lines] == ["63.9 mm × 1.5 mm", "54.4 mm × 1.5 mm"]
