"""What a spec means: frames of ports and bores, steps from points, chassis solids."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import pytest
from small_spec import changed, complaints_of, draft_of

from headergen.geometry.frames import angle_between, determinant, dot, subtract
from headergen.model import Bend, Box, Cylinder, Draft, Plane, Straight, TubeRun, Vec
from headergen.spec.complaint import SpecError

TUBE = 42.4, 1.5


def with_bores(folder: Path, count: int, *lines: str) -> Draft:
    """A spec with `count` ports and primaries in one collector, described by `lines`."""
    numbers = range(1, count + 1)
    ports = "".join(f"    {n}: {{at: [{90 * (n - 1)}, 0], shape: {{round: 38}}}}\n" for n in numbers)
    paths = "".join(f"  {n}: [{{straight: 200}}]\n" for n in numbers)
    collector = "".join(f"    {line}\n" for line in lines)
    return draft_of(
        folder,
        changed(
            ("    1: {at: [0, 0], shape: {round: 38}}\n", ports),
            ("  1:\n    - {straight: 200}\n", paths),
            (
                "    join: weld\n    pattern: line\n    bores: [1]\n",
                collector + f"    bores: {list(reversed(numbers))}\n",
            ),
        ),
    )


def places(draft: Draft) -> list[tuple[float, float]]:
    """The bores in their collector plane's own axes."""
    (collector,) = draft.collectors
    off = [subtract(bore.frame.origin, collector.frame.origin) for bore in collector.bores]
    assert all(abs(dot(v, collector.frame.z)) < 1e-9 for v in off)
    return [(dot(v, collector.frame.x), dot(v, collector.frame.y)) for v in off]


def angles(spots: list[tuple[float, float]]) -> list[float]:
    return [math.degrees(math.atan2(y, x)) % 360 for x, y in spots]


def test_a_square_has_its_bores_at_45_135_225_315(tmp_path: Path) -> None:
    draft = with_bores(tmp_path, 4, "join: weld", "pattern: square", "pitch: 46")
    spots = places(draft)
    assert angles(spots) == pytest.approx([45, 135, 225, 315], abs=1e-9)
    assert [math.dist(a, b) for a, b in pairwise([*spots, spots[0]])] == pytest.approx([46] * 4, abs=1e-9)
    assert [bore.run for bore in draft.collectors[0].bores] == [f"primary {k}" for k in (4, 3, 2, 1)]
    assert [bore.number for bore in draft.collectors[0].bores] == [1, 2, 3, 4]


@pytest.mark.parametrize("count", [2, 3, 5, 6])
def test_a_ring_starts_on_x_and_keeps_its_pitch(tmp_path: Path, count: int) -> None:
    spots = places(with_bores(tmp_path, count, "join: weld", "pattern: ring", "pitch: 50"))
    assert angles(spots) == pytest.approx([360 / count * k for k in range(count)], abs=1e-9)
    assert [math.dist(a, b) for a, b in pairwise([*spots, spots[0]])] == pytest.approx([50] * count, abs=1e-9)


def test_a_line_runs_along_x_about_its_middle(tmp_path: Path) -> None:
    spots = places(with_bores(tmp_path, 3, "join: weld", "pattern: line", "pitch: 50"))
    assert [value for spot in spots for value in spot] == pytest.approx([-50, 0, 0, 0, 50, 0], abs=1e-9)


def test_places_may_be_given_and_a_pattern_turned_from_x_to_y(tmp_path: Path) -> None:
    spots = places(with_bores(tmp_path, 2, "join: weld", "pattern: [[30, 0], [0, 2 in]]", "turn: 90"))
    assert [value for spot in spots for value in spot] == pytest.approx([0, 30, -50.8, 0], abs=1e-9)


def test_bores_touch_where_no_pitch_is_given(tmp_path: Path) -> None:
    """Welded: tube to tube. Slip: bores of the tube's wall with 0.3 mm a side around the tubes, wall to wall."""
    diameter, wall = TUBE
    (a, b) = places(with_bores(tmp_path, 2, "join: weld", "pattern: line"))
    assert math.dist(a, b) == pytest.approx(diameter)
    (a, b) = places(with_bores(tmp_path, 2, "join: slip", "slip: 40", "pattern: line"))
    assert math.dist(a, b) == pytest.approx(diameter + 2 * 0.3 + 2 * wall)


def test_ports_stand_on_the_flange_and_lean_where_told(tmp_path: Path) -> None:
    leaning = "1: {at: [20, 30], shape: {d: [40, 30, 5]}, tilt: {angle: 10, toward: 90}}"
    text = changed(
        ("1: {at: [0, 0], shape: {round: 38}}", leaning),
        (
            "{origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}",
            "{origin: [1, 2, 3], normal: [0, 0, 5], x: [1, 0, 1]}",
        ),
    )
    (port,) = draft_of(tmp_path, text).flanges[0].ports
    assert port.frame.origin == pytest.approx((21, 32, 3))
    # at 90° from x lies y: the port leans from z toward y by 10°
    lean = math.radians(10)
    assert port.frame.z == pytest.approx((0, math.sin(lean), math.cos(lean)))
    assert port.frame.x == pytest.approx((1, 0, 0))
    assert (port.shape.kind, port.shape.size) == ("d", (40, 30, 5))


def test_every_frame_is_right_handed(tmp_path: Path) -> None:
    draft = with_bores(tmp_path, 4, "join: weld", "pattern: square", "turn: 33")
    frames = [draft.flanges[0].frame, *(port.frame for port in draft.flanges[0].ports)]
    frames += [collector.frame for collector in draft.collectors]
    frames += [bore.frame for collector in draft.collectors for bore in collector.bores]
    assert [determinant(frame) for frame in frames] == pytest.approx([1] * len(frames), abs=1e-12)


def points_spec(points: list[Vec], more: str) -> str:
    listed = ", ".join(f"[{x}, {y}, {z}]" for x, y, z in points)
    plane = "{origin: [0, 0, 0], normal: [1, 0, 0], x: [0, 1, 0]}"
    return changed(
        ("{origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}", plane),
        ("    - {straight: 200}\n", f"    points: [{listed}]\n    {more}\n"),
    )


def test_points_become_steps(tmp_path: Path) -> None:
    """Case A of the LRA/XYZ pairs, worked out by hand: five points on a lattice, three bends of 90° and CLR 50."""
    points = [(0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 150.0, 0.0), (100.0, 150.0, 120.0), (250.0, 150.0, 120.0)]
    (primary,) = draft_of(tmp_path, points_spec(points, "radius: 50")).primaries
    straights = [step.length for step in primary.steps if isinstance(step, Straight)]
    bends = [step for step in primary.steps if isinstance(step, Bend)]
    assert straights == pytest.approx([50, 50, 20, 100], abs=1e-9)
    assert [math.degrees(bend.angle) for bend in bends] == pytest.approx([90, 90, 90], abs=1e-9)
    assert [math.degrees(bend.rotation) for bend in bends] == pytest.approx([0, 90, 90], abs=1e-9)
    assert [bend.radius for bend in bends] == [50, 50, 50]


def test_points_take_a_radius_for_each_corner(tmp_path: Path) -> None:
    points = [(0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 150.0, 0.0), (200.0, 150.0, 0.0)]
    (primary,) = draft_of(tmp_path, points_spec(points, "radii: [60, 70]")).primaries
    assert [step.radius for step in primary.steps if isinstance(step, Bend)] == [60, 70]
    # 150 mm between the corners, less setbacks of 60·tan 45° and 70·tan 45°
    assert [step.length for step in primary.steps if isinstance(step, Straight)] == pytest.approx([40, 20, 30])


def test_points_may_be_off_by_what_the_limits_allow(tmp_path: Path) -> None:
    lean = math.radians(0.4)
    points = [(0.3, 0.3, 0.0), (0.3 + 200 * math.cos(lean), 0.3 + 200 * math.sin(lean), 0.0)]
    assert complaints_of(tmp_path, points_spec(points, "locked: true")) == ()
    limits = "limits: {end_position: 0.4, end_angle: 0.3}\n"
    complaints = complaints_of(tmp_path, points_spec(points, "locked: true") + limits)
    assert [complaint.path for complaint in complaints] == ["primaries.1 point 1", "primaries.1 point 2"]


def test_chassis_solids(tmp_path: Path) -> None:
    text = changed(
        end="""\
chassis:
  - {name: gearbox, box: {center: [1, 2, 3], size: [4, 5, 6]}, clearance: 12, free_from_flange: 30}
  - {name: crate, box: {center: [1, 2, 3], size: [4, 5, 6], normal: [0, 3, 0], x: [0, 1, 1]}, clearance: 12}
  - {name: shaft, cylinder: {from: [0, 0, 0], to: [0, 0, 90], diameter: 22}, clearance: 15}
  - {name: floor, plane: {origin: [0, 0, -300], normal: [0, 0, 7]}, clearance: 20}
  - {name: line, tube: {points: [[0, 0, 0], [1, 0, 0], [1, 1, 0]], diameter: 6}, clearance: 40}
"""
    )
    gearbox, crate, shaft, floor, line = draft_of(tmp_path, text).chassis
    assert isinstance(gearbox.shape, Box) and isinstance(crate.shape, Box)
    assert gearbox.shape.frame.x == (1, 0, 0) and gearbox.shape.frame.y == (0, 1, 0)
    assert gearbox.shape.size == (4, 5, 6) and gearbox.free_from_flange == 30
    assert crate.shape.frame.z == pytest.approx((0, 1, 0)) and crate.shape.frame.x == pytest.approx((0, 0, 1))
    assert shaft.shape == Cylinder((0, 0, 0), (0, 0, 90), 22)
    assert floor.shape == Plane((0, 0, -300), (0, 0, 1))
    assert line.shape == TubeRun(((0, 0, 0), (1, 0, 0), (1, 1, 0)), 6)


def test_angles_become_radians(tmp_path: Path) -> None:
    text = changed(
        ("{straight: 200}", "{bend: 62.5, radius: 63.5, rotation: -12}"),
        ("    join: weld\n", "    join: weld\n    half_angle: 10\n    outlet: 63.5\n"),
        end="limits: {end_angle: 0.25}\n",
    )
    draft = draft_of(tmp_path, text)
    assert draft.primaries[0].steps == (Bend(math.radians(62.5), 63.5, math.radians(-12)),)
    assert draft.collectors[0].half_angle == math.radians(10)
    assert draft.limits.end_angle == math.radians(0.25)


def test_what_is_left_out_has_the_documented_defaults(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, changed())
    limits = draft.limits
    assert (limits.min_straight, limits.between_tubes, limits.together) == (0, 5, 110)
    assert (limits.end_position, math.degrees(limits.end_angle), limits.chord_error) == pytest.approx((0.5, 0.5, 0.05))
    assert (draft.length.target, draft.length.tolerance) == (None, 3)
    assert (draft.stock, draft.chassis, draft.flanges[0].bolts) == (None, (), ())
    assert angle_between(draft.flanges[0].ports[0].frame.z, draft.flanges[0].frame.z) < 1e-12


def test_a_thread_says_its_hole(tmp_path: Path) -> None:
    """Its tapping drill; a sensor is M18x1.5 unless it says otherwise."""
    listed = [
        "{name: a, primary: 1, at: 50}",
        "{name: b, primary: 1, at: 50, thread: M12x1.25}",
        "{name: c, primary: 1, at: 50, kind: plain, thread: G1/8, hole: 8.6}",
        "{name: d, primary: 1, at: 50, kind: plain, hole: 6}",
    ]
    made = draft_of(tmp_path, changed(end="bosses:\n" + "".join(f"  - {each}\n" for each in listed)))
    found = [(boss.part, boss.hole) for boss in made.bosses]
    assert found == [
        ("boss a M18x1.5", 16.5),
        ("boss b M12x1.25", 10.8),
        ("boss c G1/8", 8.6),
        ("boss d", 6.0),
    ]


@pytest.mark.parametrize(
    ("thread", "drill"),
    [("M18x1.5", 16.5), ("M12x1.25", 10.8), ("M8x1.25", 6.8), ("M10x1", 9.0), ("M14x1.25", 12.8), ("M12x1.75", 10.2)],
)
def test_a_metric_thread_is_drilled_to_its_diameter_less_its_pitch(thread: str, drill: float, tmp_path: Path) -> None:
    """ISO 2306, from memory: D − P, as drills are sold. The minor diameter of ISO 724, D − 1.0825·P, is less."""
    end = f"bosses: [{{name: a, primary: 1, at: 50, thread: {thread}}}]\n"
    (made,) = draft_of(tmp_path, changed(end=end)).bosses
    diameter, pitch = (float(each) for each in thread[1:].split("x"))
    assert made.hole == drill and abs(drill - (diameter - pitch)) <= 0.05 + 1e-9
    assert made.hole > diameter - 1.0825 * pitch


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ("[[0.1, 0, 0], [0.1, 8, 0]]", "the first point is 0.1 in from the middle of port 1; 0.02 in allowed"),
        (
            "[[0, 0, 0], [0, 4, 0], [2, 4, 0], [2, 8, 0]]",
            "is 2 in long, but its bends need 5 in of it: 3 in",
        ),
    ],
)
def test_points_of_an_inch_file_are_spoken_of_in_inches(tmp_path: Path, points: str, said: str) -> None:
    radius = "" if points.count("[") == 3 else ", radius: 2.5"
    text = changed(("primaries:\n  1:\n    - {straight: 200}\n", f"primaries:\n  1: {{points: {points}{radius}}}\n"))
    for old, new in (("units: mm", "units: in"), ("[0, 200, 0]", "[0, 8, 0]"), ("target: 300", "target: 12")):
        text = text.replace(old, new)
    text = text.replace("42.4, wall: 1.5", "1.5, wall: 0.065").replace("thickness: 10", "thickness: 0.4")
    with pytest.raises(SpecError) as caught:
        draft_of(tmp_path, text.replace("round: 38", "round: 1.4"))
    [complaint] = [each for each in caught.value.complaints if "point" in each.path]
    assert said in complaint.message and " mm" not in complaint.message + complaint.hint


def test_steps_are_joined_to_the_step_before_them(tmp_path: Path) -> None:
    path = "  1:\n    - {straight: 200}\n"
    longer = "  1:\n    - {straight: 100}\n    - {straight: 100, joined: true}\n"
    assert draft_of(tmp_path, changed((path, longer))).primaries[0].joined == (2,)
    [complaint] = complaints_of(tmp_path, changed((path, "  1:\n    - {straight: 200, joined: true}\n")))
    assert "before the first step" in complaint.message and complaint.path == "primaries.1 step 1 joined"
