"""The gap all along a tube: closed forms, the Survey's smallest gap, and what is not measured."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from headergen.checks.along import REACH, STEP, gaps_along
from headergen.model import Box, ChassisItem, Cylinder, Straight
from headergen.model.evidence import GapAlong
from headergen.pipeline import evidence
from tests.checks.small_header import FACE, draft, measured, moved
from tests.demos import checked_once

ROOT = Path(__file__).parents[2]
RADIUS = 42.4 / 2
ROD = Cylinder((50.0, 200.0, -300.0), (50.0, 200.0, 300.0), 20.0)  # across the tube, which runs along y


def along(*items: ChassisItem, tubes: int = 1) -> tuple[GapAlong, ...]:
    survey = measured(draft(*([Straight(400.0)] for _ in range(tubes)), chassis=items))
    return gaps_along(survey.header, {}, survey.gaps)


def test_it_follows_the_closed_form_past_a_rod() -> None:
    found, others = along(ChassisItem("rod", ROD, 12.0))
    assert (found.run, found.to_tubes, others.to_tubes) == ("primary 1", False, True)
    assert max(b - a for a, b in zip(found.at, found.at[1:], strict=False)) <= STEP
    for at, gap, required, name in zip(found.at, found.gap, found.required, found.against, strict=True):
        true = math.hypot(50.0, at - 200.0) - RADIUS - 10.0
        assert gap == pytest.approx(min(true, REACH), abs=1e-6)
        assert (name, required) == (("rod", 12.0) if true < REACH else ("", 0.0))
    assert min(found.gap) == pytest.approx(50.0 - RADIUS - 10.0), "the smallest gap is among the places"


def test_what_leaves_least_to_spare_is_named_though_another_is_nearer() -> None:
    far = Cylinder((-60.0, 200.0, -300.0), (-60.0, 200.0, 300.0), 20.0)
    found, _ = along(ChassisItem("rod", ROD, 5.0), ChassisItem("fuel line", far, 38.0))
    middle = found.at.index(200.0)
    assert (found.against[middle], found.required[middle]) == ("fuel line", 38.0)
    assert found.gap[middle] == pytest.approx(60.0 - RADIUS - 10.0)
    assert found.least[middle] == pytest.approx(50.0 - RADIUS - 10.0)


def test_a_box_is_measured_as_the_survey_has_it_and_is_deep_within() -> None:
    box = Box(moved(FACE, (40.0, 200.0, 0.0)), (60.0, 60.0, 60.0))
    crossing = Box(moved(FACE, (0.0, 200.0, 0.0)), (60.0, 60.0, 60.0))
    for shape in (box, crossing):
        survey = measured(draft(chassis=(ChassisItem("box", shape, 8.0),)))
        found, _ = gaps_along(survey.header, {}, survey.gaps)
        assert min(found.gap) == pytest.approx(survey.gaps[0].value, abs=1e-9)
    assert min(found.gap) < -RADIUS, "the middle of the tube is inside"


def test_the_free_length_is_not_measured() -> None:
    found, _ = along(ChassisItem("rod", ROD, 12.0, free_from_flange=150.0))
    named = [at for at, name in zip(found.at, found.against, strict=True) if name]
    assert min(named) >= 150.0


def test_a_tube_beside_another_is_as_far_all_along() -> None:
    _, first, _, second = along(tubes=2)
    for each, other in ((first, "primary 2"), (second, "primary 1")):
        assert each.least == pytest.approx([90.0 - 42.4] * len(each.at))
        assert set(each.against) == {other}
        assert set(each.required) == {5.0}, "their bores leave the full gap"


def test_where_tubes_come_together_less_is_required_the_nearer_the_collector() -> None:
    """Bores 45.4 mm apart leave 3 mm, of which ends may take 1: from 5 mm at 110 mm before the collector down to 2."""
    survey = measured(draft([Straight(400.0)], [Straight(400.0)], pitch=45.4))
    first = next(each for each in gaps_along(survey.header, {}, survey.gaps) if each.to_tubes)
    assert {r for at, r in zip(first.at, first.required, strict=True) if at < 290.0} == {5.0}
    half = first.at.index(345.0)
    assert (first.required[half], first.required[-1]) == pytest.approx((3.5, 2.0))


@pytest.mark.parametrize(("name", "folder"), [("glasswort_right", "specs"), ("ten_troubles", "tests/bad_demo")])
def test_its_smallest_is_the_surveys(name: str, folder: str) -> None:
    checked = checked_once(name, folder)
    for each in evidence(ROOT / folder / f"{name}.yaml", checked).along:
        mine = [
            gap.value if gap.smallest is None else gap.smallest
            for gap in checked.result.survey.gaps
            if gap.is_between_runs == each.to_tubes and each.run in (place.run for place in gap.places)
        ]
        assert min(each.least) == pytest.approx(min([*mine, REACH]), abs=1e-9)


def test_only_a_mirrored_bank_has_another_beside_it() -> None:
    for name, mirrors in (("glasswort_left", None), ("glasswort_right", "glasswort_left.yaml")):
        banks = evidence(ROOT / "specs" / f"{name}.yaml", checked_once(name)).banks
        assert (None if banks is None else banks.name) == mirrors
