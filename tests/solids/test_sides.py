"""Tubes on the side of others: the fishmouth lies on both skins, and gas passes from one tube into the other."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from headergen.checks.judge import judge, runs_without_solid
from headergen.checks.measure import survey
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.sides import (
    SideJoint,
    clear_from,
    fishmouth_height,
    footprint,
    highest,
    measured_spans,
    on_run,
    side_joints,
)
from headergen.geometry.frames import vec
from headergen.model import CutTemplate, Header, Tube
from headergen.parts.boss import boss_seats
from headergen.parts.run_place import bare_about
from headergen.parts.table import parts_to_make
from headergen.shop.side_cuts import fishmouth_templates, hole_templates, notes_on_sides
from headergen.solids.build import make_parts, sound_solids
from headergen.solids.inspect import measure
from headergen.solids.making import Making
from headergen.solids.mesh import solid_mesh
from headergen.solids.shapes import shared
from headergen.solids.table import SOLIDS
from headergen.solve.closing import close
from headergen.spec.reader import read_spec
from tests.solids.flood import Flood, disc

SPEC = Path(__file__).parents[2] / "specs" / "guide_crossover.yaml"
HEAD = """\
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports: {1: {at: [0, 0], shape: {round: 38}}}
runs:
  tail: {from: 1, to: {at: [0, 400, 0], along: [0, 1, 0]}, path: [{straight: 400}]}
"""
BRANCH = """\
  branch:
    leaves: {{run: tail, at: {at}, along: {along}}}
    to: {{at: {to}, along: {along}}}
    tube: {tube}
    path: [{{straight: 180}}]
"""
Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def random_joint(seed: int) -> SideJoint:
    rng = np.random.default_rng(seed)
    out, way = (each / np.linalg.norm(each) for each in rng.normal(size=(2, 3)))
    wide = rng.uniform(30, 80)
    narrow = wide * rng.uniform(0.3, 1.0)
    tubes = Tube(narrow, 1.5, "304L"), Tube(wide, 1.5, "304L")
    return SideJoint("a", "b", True, 100.0, vec(rng.uniform(-50, 50, 3)), vec(out), vec(way), *tubes)


def from_axis(points: Array, place: Array, way: Array) -> Array:
    """Distances of points (n, 3) from a line."""
    return np.asarray(np.linalg.norm(np.cross(points - place, way), axis=1))


def curve(joint: SideJoint) -> Array:
    """Points of the fishmouth, put where the height of each generator says."""
    frame = joint.across
    turns = np.linspace(0, 2 * math.pi, 60, endpoint=False)
    heights = np.array([fishmouth_height(joint, turn) for turn in turns])
    x, y, z = (np.array(axis) for axis in (frame.x, frame.y, frame.z))
    round_it = joint.branch.radius * (np.cos(turns)[:, None] * x + np.sin(turns)[:, None] * y)
    return np.asarray(np.array(joint.place) + round_it + heights[:, None] * z)


@pytest.mark.parametrize("seed", range(40))
def test_the_curve_is_on_both_skins(seed: int) -> None:
    """Measured from both axes by cross products, which the formula does not use."""
    joint = random_joint(seed)
    if math.sin(joint.angle) < 0.3:
        return
    points, place = curve(joint), np.array(joint.place)
    assert from_axis(points, place, np.array(joint.out)) == pytest.approx(joint.branch.radius, abs=1e-9)
    assert from_axis(points, place, np.array(joint.way)) == pytest.approx(joint.tube.radius, abs=1e-9)
    along = (points - place) @ np.array(joint.way)
    low, high = (at - joint.at for at in footprint(joint))
    assert (along.min(), along.max()) == pytest.approx((low, high), abs=0.1)
    assert ((points - place) @ np.array(joint.out)).max() == pytest.approx(highest(joint), abs=0.1)


@pytest.mark.parametrize("seed", range(40))
def test_the_hole_is_where_both_cylinders_meet(seed: int) -> None:
    """Unwrapped from the run, each place is on its skin, and as far from the axis of the branch as its bore."""
    joint = random_joint(seed)
    if math.sin(joint.angle) < 0.3:
        return
    place, way, out = (np.array(each) for each in (joint.place, joint.way, joint.out))
    left = np.cross(out, way) / np.linalg.norm(np.cross(out, way))
    facing = np.cross(way, left)
    for radius in (joint.branch.radius - joint.branch.wall, joint.branch.radius):
        turns = np.linspace(0, 2 * math.pi, 60, endpoint=False)
        round_it, along = np.array([on_run(joint, turn, radius) for turn in turns]).T
        points = np.cos(round_it)[:, None] * facing + np.sin(round_it)[:, None] * left
        points = place + joint.tube.radius * points + along[:, None] * way
        assert from_axis(points, place, out) == pytest.approx(radius, abs=1e-9)
        assert from_axis(points, place, way) == pytest.approx(joint.tube.radius, abs=1e-9)
        assert ((points - place) @ out > 0).all(), "on the side of the branch"


@pytest.mark.parametrize(("degrees", "wide"), [(90.0, 30.0), (55.0, 30.0), (120.0, 42.4)])
def test_the_hole_of_the_solid_is_the_template_s(degrees: float, wide: float, tmp_path: Path) -> None:
    header = branched(tmp_path, degrees, wide=wide)
    (template,) = hole_templates(header)
    assert (template.run, template.host, template.at) == ("secondary branch", "primary 1", 200.0)
    part = next(part for part in parts_to_make(header) if part.name == "primary 1")
    skin = SOLIDS["tube"](part, Making(header.draft)).skin
    assert skin is not None
    points = skin().vertices - np.array([0.0, 200.0, 0.0])
    facing, left = np.array(template.out), np.array([0.0, 0.0, 1.0])
    assert facing == pytest.approx([1.0, 0.0, 0.0]), "square to the run, on the side of the branch"
    height = np.linalg.norm(points[:, [0, 2]], axis=1)
    rim = (np.abs(height - template.radius) < 1e-6) & (np.abs(points[:, 1]) < 60.0)
    found = np.column_stack((np.arctan2(points[rim] @ left, points[rim] @ facing) * template.radius, points[rim, 1]))
    said = np.array(template.edge) * (template.radius, 1.0)
    assert rim.sum() > 20
    assert max(np.linalg.norm(said - each, axis=1).min() for each in found) < 0.4, "a step of the template at most"
    assert np.array(template.seat).max(axis=0)[0] == pytest.approx(math.asin(wide / 42.4))


@pytest.mark.parametrize("seed", range(40))
def test_past_clear_from_the_branch_is_off_the_run(seed: int) -> None:
    joint = random_joint(seed)
    if math.sin(joint.angle) < 0.3:
        return
    start = clear_from(joint, 6.0)
    rim = curve(joint)
    rim = rim - ((rim - np.array(joint.place)) @ np.array(joint.out))[:, None] * np.array(joint.out)
    nearest = min(
        float(from_axis(rim + (start + more) * np.array(joint.out), np.array(joint.place), np.array(joint.way)).min())
        for more in (0.0, 5.0, 60.0)
    )
    assert nearest - joint.tube.radius == pytest.approx(6.0, abs=0.1), "and nowhere before it is it kept"


def test_a_square_branch_reaches_by_pythagoras() -> None:
    """Branch of radius r square on a run of radius R: the sides reach √(R² − r²), the crown R."""
    tubes = Tube(60.0, 1.5, ""), Tube(100.0, 1.5, "")
    joint = SideJoint("a", "b", True, 0.0, (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), *tubes)
    assert fishmouth_height(joint, 0.0) == pytest.approx(50.0)
    assert fishmouth_height(joint, math.pi / 2) == pytest.approx(40.0)


def header_of(text: str, folder: Path) -> Header:
    (folder / "job.yaml").write_text(text, encoding="utf-8")
    return close(read_spec(folder / "job.yaml")[1])


def branched(folder: Path, degrees: float, at: float = 200.0, wide: float = 30.0) -> Header:
    way = np.array([math.sin(math.radians(degrees)), math.cos(math.radians(degrees)), 0.0])
    along, to = (str([float(each) for each in point]) for point in (way, np.array([0.0, at, 0.0]) + 180 * way))
    tube = f"{{outside_diameter: {wide}, wall: 1.5}}"
    return header_of(HEAD + BRANCH.format(at=at, along=along, to=to, tube=tube), folder)


@pytest.mark.quick(1)
@pytest.mark.parametrize(("degrees", "wide"), [(90.0, 30.0), (45.0, 30.0), (130.0, 25.4), (90.0, 42.4), (60.0, 42.4)])
def test_branch_and_run_are_one_passage_and_share_no_metal(degrees: float, wide: float, tmp_path: Path) -> None:
    """By a flood of the air in both meshes, with the outer ends closed by discs; the widest is as wide as its run."""
    header = branched(tmp_path, degrees, wide=wide)
    parts = {part.name: part for part in parts_to_make(header) if part.kind.is_run}
    run, branch = (SOLIDS["tube"](parts[name], Making(header.draft)) for name in ("primary 1", "secondary branch"))
    assert measure(shared(run.solid, branch.solid)).volume < 1e-3
    assert run.skin is not None and branch.skin is not None
    meshes = run.skin(), branch.skin()
    assert all(mesh.closed for mesh in meshes)
    way = np.array([math.sin(math.radians(degrees)), math.cos(math.radians(degrees)), 0.0])
    ahead = np.array([0.0, 1.0, 0.0])
    ends = [(4.0 * ahead, ahead, 20.4), (399.0 * ahead, ahead, 20.4)]
    mouth = np.array([0.0, 200.0, 0.0]) + 179.0 * way
    discs = [disc(*end) for end in (*ends, (mouth, way, wide / 2 - 0.75))]
    flood = Flood(np.concatenate([*(mesh.vertices[mesh.faces] for mesh in meshes), *discs]), 2.5)
    gas = flood.at(np.array([0.0, 60.0, 0.0]))
    assert gas != flood.outside, "tight all round the joint"
    assert flood.at(np.array([0.0, 350.0, 0.0])) == gas
    assert flood.at(mouth - 10.0 * way) == gas, "the branch is open into the run"


@pytest.mark.parametrize("degrees", [90.0, 55.0])
def test_the_solid_ends_where_the_template_says(degrees: float, tmp_path: Path) -> None:
    header = branched(tmp_path, degrees)
    (template,) = fishmouth_templates(header)
    assert isinstance(template, CutTemplate) and (template.run, template.collector) == ("secondary branch", "primary 1")
    part = next(part for part in parts_to_make(header) if part.name == "secondary branch")
    skin = SOLIDS["tube"](part, Making(header.draft)).skin
    assert skin is not None
    (joint,) = side_joints(header.tubes)
    points, out = skin().vertices - np.array(joint.place), np.array(joint.out)
    height = points @ out
    across = points - height[:, None] * out
    rim = (np.abs(np.linalg.norm(across, axis=1) - joint.branch.radius) < 1e-6) & (height < 100.0)
    turn = np.arctan2(across @ np.array(joint.across.y), across @ np.array(joint.across.x)) % (2 * math.pi)
    count = len(template.heights)
    said = np.interp(turn[rim], np.arange(count + 1) * 2 * math.pi / count, [*template.heights, template.heights[0]])
    assert rim.sum() > 20
    assert height[rim] == pytest.approx(-(template.base + said), abs=0.01)
    assert any(
        "a hole of 27.0 mm for secondary branch, 200.0 mm from its start" in note for note in notes_on_sides(header)
    )


@pytest.mark.parametrize("at", [80.0, 30.0])
def test_a_boss_on_a_branch_has_the_tube_past_its_fishmouth(at: float, tmp_path: Path) -> None:
    """A square branch is on the skin of its run at the crown, 21.2 mm from the axis, where its length begins."""
    way, to = [1.0, 0.0, 0.0], [180.0, 200.0, 0.0]
    text = HEAD + BRANCH.format(at=200.0, along=way, to=to, tube="{outside_diameter: 30, wall: 1.5}")
    boss = f"{{name: a, secondary: branch, at: {at}, clock: 0, kind: plain, thread: M12x1.25, outside_diameter: 16}}"
    header = header_of(f"{text}bosses: [{boss}]\n", tmp_path)
    ((found, seat),) = boss_seats(header)
    assert found.host == "secondary branch"
    assert seat.straight == pytest.approx(at - 21.2)
    run, line = next(tube for tube in header.tubes if tube[0].name == found.host)
    assert bare_about(header, run, line, at)[1] == "its joint on primary 1"


def test_only_beyond_their_joint_are_both_kept_apart(tmp_path: Path) -> None:
    header = branched(tmp_path, 90.0)
    ((key, (low, high)),) = measured_spans(header.tubes, 5.0).items()
    assert key == ("secondary branch", "primary 1")
    assert (low, high) == pytest.approx((21.2 + 5.0 + 15.0, 180.0))
    found = survey(header, {})
    (gap,) = [each for each in found.gaps if each.is_between_runs]
    assert gap.value == pytest.approx(20.0) and gap.on_boundary
    assert all(each.agrees for each in found.second_opinions)
    assert [finding.rule for finding in judge(found) if finding.level == "error"] == []


@pytest.mark.parametrize(
    ("at", "degrees", "wide"), [(395.0, 90.0, 30.0), (450.0, 90.0, 30.0), (200.0, 15.0, 30.0), (200.0, 90.0, 50.0)]
)
def test_what_cannot_be_joined_is_said_and_not_made(at: float, degrees: float, wide: float, tmp_path: Path) -> None:
    found = survey(branched(tmp_path, degrees, at, wide), {}, twice=False)
    assert [each.where for each in judge(found) if each.rule == "branch-place"] == ["secondary branch"]
    assert "secondary branch" in runs_without_solid(found)
    parts = {part.name: part for part in parts_to_make(found.header)}
    assert parts["primary 1"].seat.cuts == (), "and there is no hole for it"


def test_a_branch_follows_its_run_to_where_that_is_found(tmp_path: Path) -> None:
    """The run's first straight is found 100 longer than the guess, and the place on it moves along."""
    text = HEAD.replace("[{straight: 400}]", "[{straight: {fit: 300}}]")
    side = "{run: tail, at: 350, along: [1, 0, 0]}"
    branch = (
        f"  b: {{leaves: {side}, to: {{at: [100, 350, 0], along: [1, 0, 0]}}, path: [{{straight: {{fit: 60}}}}]}}\n"
    )
    header = header_of(text + branch, tmp_path)
    assert header.misses == ()
    line = {run.name: line for run, line in header.tubes}["secondary b"]
    assert line.segments[0].start == pytest.approx((0.0, 350.0, 0.0))
    assert line.length == pytest.approx(100.0)


@pytest.mark.slow
def test_two_headers_meet_in_a_y_and_a_balance_pipe(tmp_path: Path) -> None:
    """The guide, with its slip joints welded so that they are tight: every port is open to the end of the tail."""
    header = header_of(SPEC.read_text(encoding="utf-8").replace("join: slip, slip: 40,", "join: weld,"), tmp_path)
    assert header.misses == ()
    assert [each for each in judge(survey(header, {}, twice=False)) if each.level == "error"] == []
    made, overlaps = make_parts(header, tmp_path, lambda *_: None)
    assert (len(made), overlaps) == (13, ())
    meshes = [solid_mesh(solid, 0.05, name) for name, solid, _ in sound_solids(header)]
    ways = [(np.array(port.frame.origin), np.array(port.frame.z)) for port in header.draft.ports]
    end, way = np.array([-1750.0, 0.0, -109.5]), np.array([1.0, 0.0, 0.0])
    discs = [disc(end + 1.0 * way, way, 60.3 / 2 - 0.7), *(disc(at + 4.0 * out, out, 18.3) for at, out in ways)]
    flood = Flood(np.concatenate([*(mesh.vertices[mesh.faces] for mesh in meshes), *discs]), 4.0)
    gas = flood.at(end + 40.0 * way)
    assert gas != flood.outside
    assert [flood.at(at + 25.0 * out) for at, out in ways] == [gas] * 4
    middle = cut_points(header, "secondary balance")
    assert [flood.at(each) for each in middle] == [gas] * len(middle)


def cut_points(header: Header, run: str) -> list[Array]:
    """Places every 20 mm along the middle of a run."""
    line = next(line for each, line in header.tubes if each.name == run)
    return [np.array(frame_at(line, at)[0]) for at in np.arange(1.0, line.length, 20.0)]
