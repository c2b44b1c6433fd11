"""The bench of the demos: complete, and with lengths that are never mixed up."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from headergen.model import Header, Shop
from headergen.shop.course import courses_of
from tests.shop.greedy import greedy_figures
from tests.shop.test_plan import assert_can_be_cut


@pytest.fixture(scope="module", params=["bogbean", "withybed", "glasswort_left"])
def bench(request: pytest.FixtureRequest, planned: Callable[[str], tuple[Header, Shop]]) -> tuple[Header, Shop]:
    return planned(request.param)


def test_every_piece_of_a_demo_can_be_cut(bench: tuple[Header, Shop]) -> None:
    header, shop = bench
    if header.draft.stock is not None:
        courses = courses_of(header, header.draft.shop, header.draft.stock)
        assert_can_be_cut(shop.plan, courses, header.draft.stock, header.draft.shop)
        assert shop.plan.figures.missing == 0


def test_a_run_has_a_centreline_a_cut_and_a_sawn_length(bench: tuple[Header, Shop]) -> None:
    """Setback (2 mm) and transition (40 mm, from the plate on) are not cut; 0.4 mm a weld, 3 to trim and 1 to dress
    each sawn face are left on."""
    header, shop = bench
    lead = max(header.draft.flanges[0].finished - 2.0, 0.0)
    for lengths, (run, line) in zip(shop.lengths, header.tubes, strict=True):
        begins = 2.0 + (run.port.transition + lead if run.port.transition else 0.0)
        assert lengths.centreline == pytest.approx(line.starts[-1])
        assert lengths.cut == pytest.approx(lengths.centreline - begins)
        joints = len(shop.plan.joints_of(run.name))
        faces = sum(end.cut != "bought" for piece in shop.plan.of_run(run.name) for end in piece.ends)
        assert lengths.sawn == pytest.approx(lengths.cut + 0.4 * joints + 3.0 + 1.0 * faces)


def test_choosing_together_beats_the_hurried_plan(bench: tuple[Header, Shop]) -> None:
    """On the demos by every figure, though the hurried one is not charged for all that it breaks."""
    header, shop = bench
    draft = header.draft
    assert draft.stock is not None
    hurried = greedy_figures(courses_of(header, draft.shop, draft.stock), draft.stock, draft.shop)
    chosen = shop.plan.figures
    assert chosen.missing == hurried.missing == 0
    assert chosen.broken <= hurried.broken and chosen.joints < hurried.joints
    assert chosen.arc_cuts <= hurried.arc_cuts and chosen.unclampable < hurried.unclampable
    assert chosen.cost < hurried.cost
