"""Collectors that may be set elsewhere: a place that works is found within the ranges, written, and repeated."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from wanted import changed, job

from headergen.geometry.frames import add, axes_matrix, determinant, subtract, tilted
from headergen.model import Draft, Move
from headergen.pipeline import check
from headergen.routing import with_found_paths
from headergen.solve.collector_at import with_collector_at
from headergen.solve.effort import Effort
from headergen.solve.route import route
from headergen.solve.route.collector_placement import cost_of_moving, placed, start_of
from headergen.spec.complaint import SpecError
from headergen.spec.reader import read_spec

ROOT = Path(__file__).parents[3]

POST = (
    "chassis:\n  - {name: post, cylinder: {from: [-280, 270, -300], to: [-280, 270, 0], diameter: 30}, clearance: 12}"
)
RANGES = "{x: {min: -40, max: 40}, y: {min: -90, max: 60}, z: {min: -30, max: 30}, lean: 8, turn: {min: -45, max: 45}}"
FIXED = changed(("chassis:", POST))  # the post stands where the tubes must arrive
FLOATING = changed(("chassis:", POST), ("bores: free}", f"bores: free, move: {{main: {RANGES}}}}}"))
SHORT = Effort(rounds=30, places=8)


@pytest.mark.slow
def test_a_place_that_works_is_found_where_the_given_one_cannot(tmp_path: Path) -> None:
    _, stuck, meshes = job(tmp_path, FIXED)
    assert not route(stuck, meshes, SHORT).answers
    path, draft, meshes = job(tmp_path, FLOATING)
    found = route(draft, meshes, SHORT)
    assert found.answers and found.places == 8
    assert found.findings[0].rule == "route-place" and "the best of 8 places tried" in found.findings[0].message

    # what is written is read again by a reader that knows nothing of the search
    target = tmp_path / "routed.yaml"
    target.write_text(with_found_paths(path, found.answers[0].draft, "note;"), encoding="utf-8")
    result = check(target).result
    assert not [finding.message for finding in result.findings if finding.level == "error"]
    assert_within(draft, result.header.draft)

    again = route(draft, meshes, SHORT)
    assert [answer.draft for answer in again.answers] == [answer.draft for answer in found.answers]


def assert_within(given: Draft, moved: Draft) -> None:
    """The one collector's place against the ranges, as they stand in the text above."""
    before, after = given.collectors[0].frame, moved.collectors[0].frame
    shift = subtract(after.origin, before.origin)
    assert shift != (0.0, 0.0, 0.0)
    for by, (low, high) in zip(shift, ((-40, 40), (-90, 60), (-30, 30)), strict=True):
        assert low - 1e-3 <= by <= high + 1e-3
    lean = math.degrees(math.acos(min(1.0, float(np.dot(before.z, after.z)))))
    assert lean <= 8.0 + 1e-3
    # the old x, brought into the leaned plane by the shortest turn, is at most 45 degrees from the new one
    axis, c = np.cross(before.z, after.z), float(np.dot(before.z, after.z))
    x = np.array(before.x) * c + np.cross(axis, before.x) + axis * np.dot(axis, before.x) / (1 + c)
    turn = math.degrees(math.atan2(np.dot(x, after.y), np.dot(x, after.x)))
    assert abs(turn) <= 45.0 + 1e-3


@pytest.mark.parametrize("seed", range(25))
def test_every_place_is_within_its_ranges_and_carries_its_bores(tmp_path: Path, seed: int) -> None:
    _, draft, _ = job(tmp_path, FLOATING)
    values = np.random.default_rng(seed).random(len(start_of(draft)))
    moved = placed(draft, values)
    assert_within(draft, moved)
    old, new = draft.collectors[0], moved.collectors[0]
    assert determinant(new.frame) == pytest.approx(1.0, abs=1e-9)
    for before, after in zip(old.bores, new.bores, strict=True):
        local = [
            axes_matrix(frame) @ subtract(bore.frame.origin, frame.origin)
            for frame, bore in ((old.frame, before), (new.frame, after))
        ]
        assert local[0] == pytest.approx(local[1], abs=1e-9)
        assert after.frame.z == pytest.approx(new.frame.z, abs=1e-12)
        assert after.frame in [primary.end.frame for primary in moved.primaries]


def test_the_given_place_comes_first_and_what_may_not_move_stays(tmp_path: Path) -> None:
    _, draft, _ = job(tmp_path, FLOATING)
    first = placed(draft, start_of(draft)).collectors[0].frame
    assert first.origin == draft.collectors[0].frame.origin
    assert first.x == pytest.approx(draft.collectors[0].frame.x, abs=1e-12)
    along = replace(draft.routing, moves=(Move("main", (5.0, 0.0, 0.0), (25.0, 0.0, 0.0)),))
    beyond = replace(draft, routing=along)
    assert len(start_of(beyond)) == 1
    x, y, z = subtract(placed(beyond, start_of(beyond)).collectors[0].frame.origin, draft.collectors[0].frame.origin)
    assert (x, y, z) == pytest.approx((5.0, 0.0, 0.0))  # the nearest that is allowed


def test_a_collector_whose_outlet_leads_on_may_not_move(tmp_path: Path) -> None:
    text = (ROOT / "tests" / "two_steps" / "bogbean_four_two_one.yaml").read_text(encoding="utf-8")
    text = text.replace("../../shared", (ROOT / "shared").as_posix())
    spec = tmp_path / "moved.yaml"
    spec.write_text(f"{text}\nroute: {{move: {{outer: {{lean: 5}}}}}}\n", encoding="utf-8")
    with pytest.raises(SpecError, match=r"moved\.yaml:\d+:23 route\.move\.outer: the outlet of outer leads to another"):
        read_spec(spec)


def test_moving_has_a_price(tmp_path: Path) -> None:
    """30 mm along x and 40 up are 50, which is 5 times 10 mm; each degree of lean counts as one more."""
    _, draft, _ = job(tmp_path, FLOATING)
    collector = draft.collectors[0]
    moved = with_collector_at(draft, "main", replace(collector.frame, origin=add(collector.frame.origin, (30, 0, 40))))
    assert cost_of_moving(draft, draft).cost == pytest.approx(0.0, abs=1e-6)
    assert cost_of_moving(draft, moved).cost == pytest.approx(5.0)
    leaned = with_collector_at(draft, "main", tilted(collector.frame, math.radians(4), 1.0))
    assert cost_of_moving(draft, leaned).cost == pytest.approx(4.0)
    cheap = replace(draft, routing=replace(draft.routing, cost_weights=replace(draft.routing.cost_weights, moved=0.2)))
    assert cost_of_moving(cheap, moved).cost == pytest.approx(1.0)
