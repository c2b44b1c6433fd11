"""Gaps of whole headers at their edges: short tubes, free lengths, the bundle at the collector, what is swallowed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.checks import measure
from headergen.checks.measure import Meshes
from headergen.geometry.curves.body import Body
from headergen.geometry.distance.profile import Profile
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import TriangleIndex, profile_to_index
from headergen.model import (
    Bend,
    Box,
    ChassisItem,
    Cylinder,
    Draft,
    Gap,
    MeshRef,
    Plane,
    Step,
    Straight,
    TubeRun,
)
from tests.checks.small_header import LIMITS, draft, findings, measured, moved, rules

R = math.radians
RADIUS, LENGTH = 21.2, 400.0
ROUNDING = 1e-9
HEAD = ChassisItem("head", Box(moved(WORLD, (0, -50.0, 0)), (600.0, 100.0, 600.0)), 15.0)
CLOSED = Box(moved(WORLD, (0, 200.0, 0)), (300.0, 800.0, 300.0))  # holds a whole tube, its walls 150 mm from the axis


def gaps(made: Draft, meshes: Meshes | None = None) -> tuple[Gap, ...]:
    return measured(made, meshes).gaps


def side_by_side(first: float, second: float, pitch: float, together: float = 110.0) -> Draft:
    limits = replace(LIMITS, together=together)
    return draft([Straight(first)], [Straight(second)], pitch=pitch, limits=limits)


@pytest.mark.parametrize(("first", "second"), [(100.0, 90.0), (110.0, 110.0), (60.0, 110.0)])
def test_tubes_no_longer_than_the_bundle_have_one_gap_with_the_least_to_spare(first: float, second: float) -> None:
    """Tubes that stay 0.6 mm apart: nothing is required in touching bores, 5 mm at 110 mm from them, even between."""
    [apart] = gaps(side_by_side(first, second, 43.0))
    assert apart.together and apart.required == pytest.approx(5.0 * max(first, second) / 110.0, abs=1e-3)
    assert apart.is_too_small and apart.value == pytest.approx(43.0 - 2 * RADIUS, abs=ROUNDING)
    [crossing] = gaps(side_by_side(first, second, 41.0))
    assert crossing.is_too_small and crossing.value == pytest.approx(41.0 - 2 * RADIUS, abs=ROUNDING)
    assert "gap-tubes" in rules(side_by_side(first, second, 41.0))


@pytest.mark.parametrize("longer", [1e-9, 1e-3, 0.5, 290.0])
def test_what_sticks_out_of_the_bundle_keeps_its_distance(longer: float) -> None:
    """However short, the part before the last 110 mm is measured against the whole of the other tube."""
    free, closing = gaps(side_by_side(110.0 + longer, 110.0, 43.0))
    assert not free.together and free.is_too_small and free.required == LIMITS.between_tubes
    assert free.value == pytest.approx(43.0 - 2 * RADIUS, abs=ROUNDING)
    beside = longer < 100.0  # the part within the last 110 mm of one lies beside that of the other
    assert closing.together and closing.is_too_small == beside


def test_without_a_bundle_or_a_common_collector_the_whole_tubes_count() -> None:
    [gap] = gaps(side_by_side(LENGTH, LENGTH, 43.0, together=0.0))
    assert not gap.together and gap.is_too_small
    made = side_by_side(LENGTH, LENGTH, 43.0)
    other = replace(made.primaries[1].end, collector="other")
    collectors = (made.collectors[0], replace(made.collectors[0], name="other"))
    apart = replace(made, collectors=collectors, runs=(made.primaries[0], replace(made.primaries[1], end=other)))
    assert [gap.together for gap in gaps(apart)] == [False]


def test_a_crossing_within_the_bundle_is_not_forgiven() -> None:
    """Ends of two tubes lean together over their last 100 mm: they cross only where they may converge."""
    lean: list[Step] = [Straight(300.0), Bend(R(6), 63.5, 0.0), Straight(94.0)]
    straight, closing = gaps(draft(lean, [Straight(LENGTH)], pitch=48.0, limits=replace(LIMITS, between_tubes=0.0)))
    assert straight.value > 0 and not straight.is_too_small
    end = 63.5 * (1 - math.cos(R(6))) + 94 * math.sin(R(6))  # how far its end's middle has come over
    assert closing.value == pytest.approx(48 - end - RADIUS * math.cos(R(6)) - RADIUS, abs=1e-6), "by its rim"
    assert closing.together and closing.is_too_small
    assert closing.place.at > LENGTH - 110 and closing.is_between_runs


@pytest.mark.parametrize("by", [0.009, 0.011])
def test_tubes_pressed_together_in_a_bundle_may_read_a_hundredth_of_a_crossing(by: float) -> None:
    touching = side_by_side(100.0, 100.0, 2 * RADIUS - by)
    closing = gaps(replace(touching, limits=replace(LIMITS, between_tubes=0.0)))[0]
    assert closing.is_too_small == (by > 0.01)


@pytest.mark.parametrize("beyond", [-1.0, -1e-8, 0.0, 1e-8, 1000.0])
def test_free_lengths_about_the_length_of_the_tube(beyond: float) -> None:
    """What is left of a tube after its free length is measured, unless it is too short to be anything."""
    found = gaps(draft(chassis=(replace(HEAD, free_from_flange=LENGTH + beyond),)))
    assert [gap.value for gap in found] == pytest.approx([399.0] if beyond == -1.0 else [], abs=ROUNDING)
    said = rules(draft(chassis=(replace(HEAD, free_from_flange=LENGTH + beyond),)))
    assert ("unmeasured" in said) == (beyond != -1.0), "what is not measured is never taken as clear"


def test_a_free_length_holds_for_each_primary_by_itself() -> None:
    """The head reaches 50 mm over the flange face: past 60 mm it is 10 mm behind the longer tube, and clears none."""
    high = replace(HEAD, shape=Box(moved(WORLD, (0, 0, 0)), (600.0, 100.0, 600.0)), free_from_flange=60.0)
    short, long = [Straight(55.0)], [Straight(LENGTH)]
    [gap] = [each for each in gaps(draft(short, long, chassis=(high,))) if each.b == "head"]
    assert gap.a == "primary 2" and gap.on_boundary and gap.is_too_small
    assert gap.place.at == pytest.approx(60.0) and gap.value == pytest.approx(10.0, abs=ROUNDING)


def test_a_boundary_is_marked_only_where_the_gap_sits_on_it() -> None:
    free = replace(HEAD, free_from_flange=60.0)
    assert [gap.on_boundary for gap in gaps(draft(chassis=(free,)))] == [True]
    post = ChassisItem("post", Box(moved(WORLD, (60.0, 200.0, 0)), (40.0, 40.0, 40.0)), 15.0, free_from_flange=60.0)
    assert [gap.on_boundary for gap in gaps(draft(chassis=(post,)))] == [False]
    assert [gap.on_boundary for gap in gaps(draft(chassis=(HEAD,)))] == [False], "the flange itself leaves nothing out"


@pytest.mark.parametrize("role", ["obstacle", "enclosure", "surface"])
@pytest.mark.parametrize("where", ["inside", "outside", "through"])
def test_what_a_closed_mesh_means_by_its_role(role: str, where: str) -> None:
    """An obstacle keeps out, an enclosure keeps in, a surface is only kept off; what goes through offends all."""
    middle = {"inside": (0.0, 200.0, 0.0), "outside": (400.0, 200.0, 0.0), "through": (0.0, 550.0, 0.0)}[where]
    mesh = box_mesh(Box(moved(WORLD, middle), CLOSED.size))
    item = ChassisItem("tunnel", MeshRef("tunnel.stl", "0", "mm", WORLD), 15.0, role=role)  # type: ignore[arg-type]
    [gap] = gaps(draft(chassis=(item,)), {"tunnel": mesh})
    allowed = {("inside", "enclosure"), ("inside", "surface"), ("outside", "obstacle"), ("outside", "surface")}
    assert gap.is_too_small == ((where, role) not in allowed)
    if where == "through":
        # deepest: 150 mm from the side walls; or its first end, 150 mm before the mouth, by its rim
        wanted = {"surface": -RADIUS, "obstacle": -RADIUS - 150, "enclosure": -math.hypot(150, RADIUS)}[role]
        assert gap.value == pytest.approx(wanted, abs=1e-6) and gap.runs_through
    else:
        skin = 150 - RADIUS if where == "inside" else 400 - 150 - RADIUS
        wanted = -(skin + 2 * RADIUS) if gap.is_too_small else skin
        assert gap.value == pytest.approx(wanted, abs=ROUNDING) and gap.runs_through == gap.is_too_small


def test_near_the_wall_of_an_enclosure_is_too_near_from_within() -> None:
    """The wall 30 mm from the axis leaves 8.8 mm of the 15 wanted, all along."""
    tight = ChassisItem("tunnel", replace(CLOSED, size=(60.0, 800.0, 300.0)), 15.0, role="enclosure")
    [gap] = gaps(draft(chassis=(tight,)))
    assert gap.value == pytest.approx(30 - RADIUS, abs=ROUNDING) and not gap.runs_through
    assert [(s.start, s.end) for s in gap.near] == [(0.0, LENGTH)]


@pytest.mark.parametrize("role", ["obstacle", "enclosure"])
def test_a_profile_goes_on_falling_within_what_is_run_through(role: str) -> None:
    """A box round the tube from 150 to 250 mm along it, 300 mm wide: the axis is nearest to the faces it crosses."""
    item = ChassisItem("crate", Box(moved(WORLD, (0.0, 200.0, 0.0)), (300.0, 100.0, 300.0)), 15.0, role=role)  # type: ignore[arg-type]
    [gap] = gaps(draft(chassis=(item,)))
    at, value = np.array([place for stretch in gap.near for place in stretch.profile]).T
    beyond = np.maximum(150 - at, at - 250)  # of the axis past the box, negative within
    outside = beyond if role == "obstacle" else -beyond
    depth = np.clip(outside, None, 15.0 + RADIUS + 4.0)  # beyond reach the clearance and 4 mm are told
    # past a face the rim of the tube is what is farthest from where the axis is nearest
    assert value == pytest.approx(np.where(depth < 0, -np.hypot(depth, RADIUS), depth - RADIUS), abs=1e-6)
    edge = 15.0 + RADIUS
    wanted = [(150 - edge, 250 + edge)] if role == "obstacle" else [(0.0, 150 + edge), (250 - edge, LENGTH)]
    assert np.array([(s.start, s.end) for s in gap.near]) == pytest.approx(np.array(wanted), abs=0.03)


@pytest.mark.parametrize("offset", [0.0, 9.0, 20.9])
def test_a_thing_inside_a_tube_is_a_crossing(offset: float) -> None:
    """A cube of 0.2 mm within the tube touches no skin: it is as deep as the skin is far, r − √(…) to its near edge."""
    speck = ChassisItem("speck", Box(moved(WORLD, (offset + 0.1, 200.0, 0.0)), (0.2, 0.2, 0.2)), 15.0)
    [gap] = gaps(draft(chassis=(speck,)))
    assert gap.value == pytest.approx(offset - RADIUS, abs=ROUNDING) and gap.is_too_small


def test_a_gap_equal_to_its_clearance_is_enough() -> None:
    wall = ChassisItem("wall", Plane((0.0, 0.0, -RADIUS - 15.0), (0.0, 0.0, 1.0)), 15.0 - ROUNDING)
    assert "gap-chassis" not in rules(draft(chassis=(wall,)))
    assert "gap-chassis" in rules(draft(chassis=(replace(wall, clearance=15.01),)))


@pytest.mark.parametrize(
    "shape",
    [
        Box(moved(WORLD, (60.0, 200.0, 0.0)), (60.0, 60.0, 60.0)),
        Cylinder((60.0, 170.0, 0.0), (60.0, 230.0, 0.0), 60.0),
        TubeRun(((60.0, 200.0, -90.0), (60.0, 200.0, 90.0)), 60.0),
        Plane((30.0, 0.0, 0.0), (-1.0, 0.0, 0.0)),
    ],
    ids=lambda shape: type(shape).__name__,
)
def test_each_kind_of_item_faces_the_tube_at_thirty_millimetres(shape: object) -> None:
    """Its nearest point stands 30 mm from the axis: 8.8 mm from the skin, and the points shown are those."""
    [gap] = gaps(draft(chassis=(ChassisItem("thing", shape, 15.0),)))  # type: ignore[arg-type]
    assert gap.value == pytest.approx(30 - RADIUS, abs=ROUNDING)
    (mine, _, _), (theirs, _, _) = gap.points
    assert mine == pytest.approx(RADIUS, abs=1e-6) and theirs == pytest.approx(30, abs=1e-6)
    assert gap.near and all(0 <= s.start < s.end <= LENGTH and s.smallest < 15 for s in gap.near)


@pytest.mark.parametrize(
    "steps", [[Straight(0.0), Straight(LENGTH)], [Straight(200.0), Bend(0.0, 63.5, 1.0), Straight(200.0)]]
)
def test_steps_without_length_change_nothing(steps: list[Step]) -> None:
    post = ChassisItem("post", Box(moved(WORLD, (60.0, 200.0, 0)), (40.0, 40.0, 40.0)), 25.0)
    [gap], [plain] = gaps(draft(steps, chassis=(post,))), gaps(draft([Straight(LENGTH)], chassis=(post,)))
    assert gap.value == pytest.approx(plain.value, abs=ROUNDING)
    assert len(gap.near) == len(plain.near) == 1
    assert (gap.near[0].start, gap.near[0].end) == pytest.approx((plain.near[0].start, plain.near[0].end), abs=0.02)


@pytest.mark.parametrize("angle", [1e-12, 1e-10, 1e-8])
def test_bends_too_flat_to_see_do_no_harm(angle: float) -> None:
    steps: list[Step] = [Straight(200.0), Bend(angle, 63.5, 0.0), Straight(200.0)]
    assert rules(draft(steps, chassis=(replace(HEAD, free_from_flange=30.0),))) == []


def test_stretches_of_a_fine_mesh_cost_little(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is clear of a mesh is settled by samples 4 mm apart, 101 of 400 mm; its two edges take some halvings each.

    Halved to the last cell all along, it would be some 20 000 places, each against every facet.
    """
    asked = []

    def counting(body: Body, index: TriangleIndex, reach: float) -> Profile:
        profile = profile_to_index(body, index, reach)

        def counted(at: np.ndarray) -> np.ndarray:
            asked.append(len(at))
            return profile(at)

        return counted

    monkeypatch.setattr(measure, "profile_to_index", counting)
    [gap] = gaps(draft(chassis=(ChassisItem("post", Box(moved(WORLD, (60.0, 200.0, 0)), (60.0, 40.0, 40.0)), 15.0),)))
    assert len(gap.near) == 1 and 100 < sum(asked) < 400


def test_a_header_without_chassis_says_nothing_of_it() -> None:
    survey = measured(draft())
    assert (survey.gaps, survey.second_opinions, survey.part_gaps) == ((), (), ())
    assert findings(draft()) == ()
