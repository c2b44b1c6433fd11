"""Tubes after collectors are found too: secondaries, and runs from outlets, after the primaries or by themselves."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.spatial.transform import Rotation
from wanted import changed

from headergen.model import Draft, Frame
from headergen.pipeline import check
from headergen.routing import paths_to_find, paths_to_find_anew, with_found_paths
from headergen.solve.effort import Effort
from headergen.solve.route import Answer, Routed, SearchState, route
from headergen.solve.route.cost import CostTerm
from headergen.solve.route.infeasibility import none_found
from headergen.solve.route.problem import problem_of
from headergen.solve.stages import in_stages, stages_of
from headergen.spec.complaint import SpecError
from tests.cli.calls import called

SMALL_MERGE = "    half_angle: 9\n    outlet: 50.8\n    outlet_length: 20\n"
TWINS = f"""\
format: 1
job: {{title: Test, revision: A, date: 2026-03-14}}
units: mm
tube: {{outside_diameter: 42.4, wall: 1.5, material: 304L}}
flange:
  plane: {{origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}}
  thickness: 10
  ports:
    1: {{at: [0, 0], shape: {{round: 38}}}}
    2: {{at: [46, 0], shape: {{round: 38}}}}
    3: {{at: [200, 0], shape: {{round: 38}}}}
    4: {{at: [246, 0], shape: {{round: 38}}}}
collectors:
  one:
    plane: {{origin: [23, 120, 0], normal: [0, 1, 0], x: [1, 0, 0]}}
    join: slip
    slip: 35
    pattern: line
    pitch: 46
    bores: [1, 2]
{SMALL_MERGE}  two:
    plane: {{origin: [223, 120, 0], normal: [0, 1, 0], x: [1, 0, 0]}}
    join: slip
    slip: 35
    pattern: line
    pitch: 46
    bores: [3, 4]
{SMALL_MERGE}  last:
    plane: {{origin: [123, 560, -150], normal: [0, 1, 0], x: [1, 0, 0]}}
    join: slip
    slip: 40
    pattern: line
    pitch: 60
    bores: [one, two]
    half_angle: 10
    outlet: 63.5
    outlet_length: 60
secondaries:
  one: find            # to be found
  two: {{find: true}}
limits: {{between_tubes: 3, together: 100, min_straight: 5}}
route: {{radii: [76.2], most_bends: 3}}
primaries:
  1: [{{straight: 120}}]
  2: [{{straight: 120}}]
  3: [{{straight: 120}}]
  4: [{{straight: 120}}]
"""
BEHIND = """\
runs:
  tail: {from: main, to: {at: [-760, 300, -170], along: [-1, 0, 0]}, find: true}
"""
RUN = """\
runs:
  tail:                # comment
    from: last
    to: {at: [40, 1000, -250], along: [0, 1, 0]}
    find: true
"""
# two primaries to be found, and the run after their collector
PAIR = changed(
    ("    bores: [1, 2]      # as they come\n", "    bores: [1, 2]\n" + SMALL_MERGE),
    ("route: {radii: [63.5], bores: free}\n", "route: {radii: [63.5, 76.2]}\n" + BEHIND),
)
QUICK = Effort(rounds=10)


def job(folder: Path, text: str) -> Path:
    path = folder / "job.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def routed(path: Path, *searches: int, only: tuple[str, ...] = ()) -> Path:
    """The spec with the paths that are found in so many rounds of each search."""
    wanted = paths_to_find_anew(path, only) if only else paths_to_find(path)
    effort = Effort(rounds=searches[0], searches=tuple((each,) for each in searches))
    found = route(wanted.draft, wanted.meshes, effort, known=wanted.errors)
    assert found.answers, found.findings
    made = path.with_name(f"{path.stem}_routed.yaml")
    made.write_text(with_found_paths(path, found.answers[0].draft, "by a test;", only), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def twins(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Secondaries, and the run after them, found."""
    return routed(job(tmp_path_factory.mktemp("twins"), TWINS + RUN), 10, 10)


def test_stages_follow_the_gas(tmp_path: Path) -> None:
    text = TWINS.replace("  1: [{straight: 120}]", "  1: find") + RUN
    draft = paths_to_find(job(tmp_path, text)).draft
    assert stages_of(draft) == [("primary 1",), ("secondary one", "secondary two"), ("secondary last",)]


def test_secondaries_are_found_equally_long_and_clear(twins: Path) -> None:
    """The spec that is written passes every check, and the rest of its text stays as it was."""
    result = check(twins).result
    assert not [each for each in result.findings if each.level == "error"]
    lengths = dict(zip([run.name for run in result.header.runs], result.survey.lengths, strict=True))
    assert lengths["secondary one"] == pytest.approx(lengths["secondary two"], abs=result.header.draft.length.tolerance)
    assert "  one:            # to be found\n    - {straight: " in twins.read_text(encoding="utf-8")


def test_secondaries_end_on_the_bores_of_the_spec_by_hand(twins: Path) -> None:
    """Walked by rotations of another library: from each outlet, on its collector's axis, to a bore of the last one.

    Its plane is at [123, 560, -150] and looks along y; the bores are 30 to either side along x.
    """
    secondaries = yaml.safe_load(twins.read_text(encoding="utf-8"))["secondaries"]
    starts = {run.name: run.start.frame for run in paths_to_find(twins_again(twins)).draft.runs}
    ends, lengths, lines = [], [], []
    for name, axis_x in (("one", 23.0), ("two", 223.0)):
        frame = starts[f"secondary {name}"]
        assert frame.origin[::2] == pytest.approx((axis_x, 0.0)) and frame.z == pytest.approx((0, 1, 0))
        points, way, length = walked(frame, secondaries[name])
        assert way == pytest.approx([0, 1, 0], abs=1e-4)
        ends.append(points[-1])
        lengths.append(length)
        lines.append(points)
    ends.sort(key=lambda end: float(end[0]))
    assert np.array(ends) == pytest.approx(np.array([[93, 560, -150], [153, 560, -150]]), abs=0.05)
    assert lengths[0] == pytest.approx(lengths[1], abs=2.0)
    apart = np.linalg.norm(lines[0][:, None] - lines[1][None], axis=2)
    free = lines[0][:, 1] < 460.0  # before the last 100 mm, where they may converge
    assert apart[free].min() > 42.4 + 3.0


def walked(frame: Frame, steps: list[dict[str, float]]) -> tuple[np.ndarray, np.ndarray, float]:
    """Points (n, 3) of a path about every millimetre, its last direction, its length."""
    at, turn = np.array(frame.origin), Rotation.from_matrix(np.array([frame.x, frame.y, frame.z]).T)
    points, length = [at], 0.0
    for step in steps:
        if "straight" in step:
            count, size, rate = max(1, round(step["straight"])), step["straight"], 0.0
        else:
            turn = turn * Rotation.from_euler("z", step.get("rotation", 0.0), degrees=True)
            size, rate = step["radius"] * math.radians(step["bend"]), 1.0 / step["radius"]
            count = 40 * max(1, round(size))
        for _ in range(count):
            half = Rotation.from_rotvec([0.0, rate * size / count / 2, 0.0])  # the bend goes toward x
            at = at + (turn * half).apply([0.0, 0.0, size / count])
            turn = turn * half * half
            points.append(at)
        length += size
    return np.array(points[:: max(1, len(points) // 400)] + points[-1:]), turn.apply([0.0, 0.0, 1.0]), length


def twins_again(twins: Path) -> Path:
    """The spec of the fixture with its secondaries to be found, beside it."""
    return job(twins.parent, TWINS + RUN)


@pytest.mark.slow
def test_primaries_secondaries_and_a_run_one_after_the_other(tmp_path: Path) -> None:
    """By the command; its top line repeats the file, byte by byte."""
    path = job(tmp_path, PAIR)
    made, said = path.with_name("job_routed.yaml"), []
    for _ in range(2):
        done = called("route", path, "--rounds", "30+10")
        assert done.returncode == 0, done.stderr
        said.append(made.read_text(encoding="utf-8"))
    assert said[0] == said[1] and "--rounds 30+10" in said[0].splitlines()[0]
    assert "find" not in said[0].split("\n", 1)[1]
    assert not [each for each in check(made).result.findings if each.level == "error"]


@pytest.mark.slow
def test_a_known_path_is_found_again_beside_its_twin(twins: Path) -> None:
    """One of two found secondaries is taken out: the other one gives its length."""
    draft = paths_to_find_anew(twins, ["two"])
    removed = replace(draft.draft, runs=tuple(replace(r, steps=()) if r.to_find else r for r in draft.draft.runs))
    found = route(removed, draft.meshes, QUICK)
    assert found.answers
    header = found.answers[0].survey
    by_name = dict(zip([run.name for run in header.header.runs], header.lengths, strict=True))
    assert by_name["secondary two"] == pytest.approx(by_name["secondary one"], abs=draft.draft.length.tolerance)


@pytest.mark.quick(1)
@pytest.mark.parametrize("key", ["two", "tail", "last", "3"])
def test_only_takes_tubes_from_outlets_too(twins: Path, tmp_path: Path, key: str) -> None:
    path = job(tmp_path, twins.read_text(encoding="utf-8"))
    again = routed(path, 6, only=(key,))
    assert not [each for each in check(again).result.findings if each.level == "error"]
    assert again.read_text(encoding="utf-8").count("path:") == path.read_text(encoding="utf-8").count("path:")


def test_a_tube_that_is_not_there(tmp_path: Path) -> None:
    straight = "[{straight: 100}]"
    path = job(tmp_path, TWINS.replace("one: find ", f"one: {straight} ").replace("{find: true}", straight))
    with pytest.raises(SpecError, match="there is no tube from a collector three"):
        paths_to_find_anew(path, ["three"])


@pytest.mark.slow
def test_what_stays_without_way_is_told_with_what_was_found(tmp_path: Path) -> None:
    """A wall between the outlet and the place of the run."""
    wall = "  - {name: wall, box: {center: [-560, 250, 0], size: [20, 3000, 3000]}, clearance: 10}\n"
    wanted = paths_to_find(job(tmp_path, PAIR.replace("chassis:\n", f"chassis:\n{wall}")))
    found = route(wanted.draft, wanted.meshes, Effort(rounds=30, searches=((30,), (3,))))
    said = [each.message for each in found.findings]
    assert not found.answers
    assert "Paths were found for primary 1 and primary 2, but then none for secondary main." in said
    assert any("wall" in each for each in said[1:])


def test_ctrl_c_in_a_later_stage_keeps_what_is_found(tmp_path: Path) -> None:
    """The primaries stay found; the run after them is still to be found, and that is said of the answer."""
    draft = paths_to_find(job(tmp_path, PAIR)).draft
    asked = list[list[str]]()

    def search(part: Draft, _: Effort) -> Routed:
        asked.append([run.name for run in part.runs if run.to_find])
        if len(asked) == 2:
            raise KeyboardInterrupt
        found = replace(part, runs=tuple(replace(run, to_find=False) for run in part.runs))
        return Routed((Answer(found, None, (), None),), 5)  # type: ignore[arg-type]

    kept = in_stages(draft, QUICK, search)
    assert asked == [["primary 1", "primary 2"], ["secondary main"]]
    assert kept.stopped and kept.rounds == 5
    [answer] = kept.answers
    assert [run.name for run in answer.draft.runs if run.to_find] == ["secondary main"]


def test_equal_lengths_are_looked_for_with_the_primaries_alone(tmp_path: Path) -> None:
    """A run after them has none, and to say so would contradict what was said of the primaries."""
    draft, asked = paths_to_find(job(tmp_path, PAIR)).draft, []

    def search(part: Draft, effort: Effort) -> Routed:
        asked.append(effort.lengths)
        found = replace(part, runs=tuple(replace(run, to_find=False) for run in part.runs))
        return Routed((Answer(found, None, (CostTerm("bends", 2, 30.0),), None),), 5)  # type: ignore[arg-type]

    assert in_stages(draft, replace(QUICK, lengths=True), search).answers
    assert asked == [True, False]


def test_no_tries_are_no_time(tmp_path: Path) -> None:
    wanted = paths_to_find(job(tmp_path, PAIR))
    draft = replace(wanted.draft, runs=wanted.draft.primaries)
    (said,) = none_found(problem_of(draft, wanted.meshes), SearchState())
    assert said.message == "No time was left to look for paths; give it more --seconds."
