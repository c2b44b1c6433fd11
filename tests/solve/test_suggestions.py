"""Every change that is said to help is written into the spec as the words say, and then gives the gap it promised."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

import headergen.solve.hints.attempt as attempt
import headergen.solve.hints.suggest as suggest
from headergen import pipeline
from headergen.checks.again import gap_key
from headergen.checks.judge import judge
from headergen.geometry.curves.centreline import frame_at, frame_on, trace
from headergen.geometry.frames import frame_from_normal
from headergen.model import Box, ChassisItem, Cylinder, Draft, Gap, Help, Plane, Result, Survey
from headergen.outputs.report.records.report import report_of
from headergen.pipeline import check, full_text, read_whole
from headergen.solve.arrival import place_moves
from headergen.solve.closing import close
from headergen.solve.hints.attempt import every_gap, too_small
from headergen.solve.hints.trial import made_worse
from headergen.spec.writer import spec_text
from tests.checks.small_header import measured
from tests.checks.test_every_message import moved
from tests.solve.planted_paths import all_values, plant, regular_set, values_of, with_values
from tests.solve.test_hints import WINDING, winding

PLANTED = sorted((Path(__file__).parents[1] / "benchmarks" / "planted").glob("*.yaml"))
PROMISED = 0.05  # mm
KEYS = {"length": "straight", "angle": "bend", "rotation": "rotation"}


def planted(seed: int, folder: Path) -> Path:
    """A clear header with a bar or a box put too near to one of its tubes, and, in every second, values marked fit."""
    chance = random.Random(seed)
    _, draft = read_whole(PLANTED[seed % len(PLANTED)])
    header = close(draft)
    run, line = chance.choice(header.tubes)
    point, along, normal = (np.array(v) for v in frame_at(line, chance.uniform(0.25, 0.75) * line.length))
    turn, half = chance.uniform(0, 2 * math.pi), chance.uniform(8, 20)
    away = math.cos(turn) * normal + math.sin(turn) * np.cross(along, normal)
    middle = point + away * (run.tube.radius + 12.0 - chance.uniform(1, 5) + half)
    across = np.cross(away, along)
    if chance.random() < 0.5:
        ends = (tuple((middle + s * 40 * across).tolist()) for s in (-1, 1))
        shape: Any = Cylinder(*ends, 2 * half)
    else:
        shape = Box(frame_from_normal(tuple(middle.tolist()), tuple(away.tolist())), (2 * half,) * 3)
    fault = replace(draft, chassis=(*draft.chassis, ChassisItem("fault", shape, 12.0)))
    content = yaml.safe_load(spec_text(close(fault)))
    if seed % 2:
        for primary in draft.primaries:
            fits = regular_set(chance, primary, 6) or ()
            for fit in fits:
                step = _path(content, primary.number)[fit.step - 1]
                step[KEYS[fit.what]] = {"fit": step[KEYS[fit.what]]}
    return written(content, folder / f"planted_{seed}.yaml")


def _path(content: dict[str, Any], number: int) -> list[dict[str, Any]]:
    entry = content["primaries"][number]
    return entry["path"] if isinstance(entry, dict) else entry


def written(content: dict[str, Any], path: Path) -> Path:
    path.write_text(yaml.safe_dump(content, sort_keys=False), encoding="utf-8")
    return path


def applied(spec: Path, suggestion: Any) -> Path:
    """The spec with a suggestion written in: numbers in place of those that stand there, or of a fit."""
    content = yaml.safe_load(spec.read_text(encoding="utf-8"))
    by_points = {point.run for point in suggestion.points}
    for value in [each for each in suggestion.values if each.run not in by_points]:
        step = _path(content, int(value.run.removeprefix("primary ")))[value.step - 1]
        step[KEYS[value.what]] = round(value.after if value.what == "length" else math.degrees(value.after), 6)
    for point in suggestion.points:
        points = content["primaries"][int(point.run.removeprefix("primary "))]["points"]
        [was] = [k for k, each in enumerate(points) if math.dist(each, point.before) < 0.01]
        points[was] = [round(each, 3) for each in point.after]
    for setting in suggestion.settings:
        put(content, setting)
    for place in suggestion.places:
        content["collectors"][place.collector]["plane"]["origin"] = [round(each, 6) for each in place.after]
    return written(content, spec.with_name(f"{spec.stem}_then.yaml"))


def put(content: dict[str, Any], setting: Any) -> None:
    """A number of a part written where its words say."""
    kind, name = setting.thing.split(" ", 1)
    value = round(math.degrees(setting.after) if setting.is_angle else setting.after, 6)
    if kind == "collector":
        entry = content["collectors"][name]
    else:
        entry = next(each for each in content[{"boss": "bosses", "bracket": "brackets"}[kind]] if each["name"] == name)
    *outer, key = setting.key.replace(", ", ": ").split(": ")
    for each in outer:
        entry = next(k for k in entry if k["primary"] == int(each[8:])) if each.startswith("primary") else entry[each]
    entry[key] = value


def gap_of(measured: Survey, help: Help) -> Gap | None:
    """None where all is too far to be measured."""
    found = next((each for each in every_gap(measured) if gap_key(each) == (help.a, help.b, help.together)), None)
    return found or next((each for each in measured.reaches if each.a == help.a), None)


def without_advice(spec: Path) -> Result:
    """What `check` gives, but for hints and further suggestions, which take longer than it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "helps_of", lambda *_: ())
        patch.setattr(pipeline, "with_hints", lambda found, *_: found)
        return check(spec).result


def keeps_its_promises(spec: Path, known: Result | None = None) -> tuple[int, int]:
    """How many gaps are too small, and how many suggestions there are: each is written in and checked anew."""
    before, count = known or check(spec).result, 0
    short = {gap_key(each) for each in (*every_gap(before.survey), *before.survey.reaches) if too_small(each)}
    assert {(each.a, each.b, each.together) for each in before.helps} == short
    for help in before.helps:
        assert help.suggestions or help.tried or help.cut_short
        for suggestion in help.suggestions:
            count += 1
            after = without_advice(applied(spec, suggestion))
            gap = gap_of(after.survey, help)
            assert suggestion.or_more == (gap is None)
            value = help.required if gap is None else gap.value
            assert value == pytest.approx(suggestion.gap, abs=PROMISED), suggestion.what
            # of tubes that come together, the gap may be elsewhere then, where another one is required
            assert value >= (gap.required if gap is not None and help.together else help.required) - 0.01
            came = {(each.rule, each.where, each.against) for each in made_worse(before.findings, after.findings)}
            assert came == {(each.rule, each.where, each.against) for each in suggestion.costs.findings}
            for cost in suggestion.costs.gaps:
                pair = [each for each in every_gap(after.survey) if (each.a, each.b) == (cost.a, cost.b)]
                now = [each.value for each in pair if each.required == pytest.approx(cost.required, abs=PROMISED)]
                assert not pair or cost.after in [pytest.approx(value, abs=PROMISED) for value in now]
            grown = dict(suggestion.costs.lengths)
            for run, was, now_long in zip(after.header.runs, before.survey.lengths, after.survey.lengths, strict=True):
                assert now_long - was == pytest.approx(grown.get(run.name, 0.0), abs=0.06)
    return len(short), count


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", [1, 9])
def test_a_change_gives_the_gap_it_promised(seed: int, tmp_path: Path) -> None:
    short, _ = keeps_its_promises(planted(seed, tmp_path))
    assert short > 0


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("first", range(0, 30, 5))
def test_changes_of_thirty_headers_give_the_gaps_they_promised(first: int, tmp_path: Path) -> None:
    """And few gaps are left without any."""
    counts = [keeps_its_promises(planted(seed, tmp_path)) for seed in range(first, first + 5)]
    assert all(short > 0 for short, _ in counts)
    assert sum(count > 0 for _, count in counts) >= 3
    assert sum(count for _, count in counts) >= 6


def helps(draft: Draft) -> tuple[Help, ...]:
    known = measured(draft)
    return suggest.helps_of(judge(known), known, {})


def beside_middle(name: str, off: float, size: tuple[float, float, float], clearance: float) -> ChassisItem:
    """A box over or under the middle of the winding tube."""
    place = frame_on(trace(winding().primaries[0].start.frame, WINDING).segments[2], 60.0)[0]
    frame = winding().primaries[0].start.frame
    return ChassisItem(name, Box(moved(frame, (place[0], place[1], place[2] + off)), size), clearance)


def test_nothing_is_tried_where_no_gap_is_too_small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(suggest, "Known", lambda *_: pytest.fail("nothing is too near"))
    assert helps(winding()) == ()


def test_nothing_is_promised_free_of_cost_between_two_things() -> None:
    """A roof and a floor leave less than the tube and both clearances."""
    held = [beside_middle(name, off, (90.0, 90.0, 20.0), 15.0) for name, off in (("roof", 40.0), ("floor", -40.0))]
    for help in helps(winding(*held)):
        assert not [each for each in help.suggestions if not each.costs.findings]
        assert help.tried or help.suggestions or help.cut_short


def test_a_locked_tube_is_left_as_it_is() -> None:
    made = winding(beside_middle("bracket", -48.0, (30.0, 30.0, 30.0), 20.0))
    assert any(each.suggestions for each in helps(made)), "free, it has a way past"
    [held] = helps(replace(made, runs=tuple(replace(run, locked=True) for run in made.runs)))
    assert held.suggestions == () and "primary 1 is locked" in held.tried


def test_a_tube_that_runs_through_a_thing_shows_no_way_out() -> None:
    [held] = helps(winding(beside_middle("beam", 0.0, (60.0, 60.0, 60.0), 10.0)))
    assert any("runs through beam" in why for why in held.tried) and held.suggestions == ()


def test_what_is_measured_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """A wall that all of the tube is near to, and many boxes: they share what a check may take."""
    made, whole = [], attempt.tried
    monkeypatch.setattr(attempt, "tried", lambda *args: (made.append(1), whole(*args))[1])
    boxes = [beside_middle(f"thing {k}", 44.0 + k / 10, (8.0, 8.0, 8.0), 20.0) for k in range(20)]
    found = helps(winding(*boxes, ChassisItem("wall", Plane((0.0, 0.0, -60.0), (0.0, 0.0, 1.0)), 20.0)))
    assert len(found) > 10
    assert 0 < len(made) <= suggest.MOST_SPENT / suggest.CHECK, "one run alone is the whole of a check"
    assert any(each.cut_short for each in found)


def test_a_suggestion_for_one_gap_is_told_for_others_that_it_clears() -> None:
    things = [beside_middle(f"thing {k}", -46.0, (20.0, 20.0, 20.0), 20.0 + k / 10) for k in range(3)]
    found = helps(winding(*things))
    assert len(found) == 3 and all(each.suggestions for each in found)
    for help in found:
        for suggestion in help.suggestions:
            assert suggestion.gap >= help.required - 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_slopes_of_a_place_are_those_of_differences(seed: int) -> None:
    """By central differences of the traced path."""
    chance, start = random.Random(seed), plant(seed).primary.start.frame
    steps = plant(seed).steps
    at = chance.randint(1, len(steps)), chance.random()
    values = all_values(steps)
    moves = place_moves(trace(start, steps), values, at)

    def place(changed: Any) -> Any:
        segment = trace(start, changed).segments[at[0] - 1]
        return np.array(frame_on(segment, at[1] * segment.length)[0])

    now = values_of(steps, values)
    for k in range(len(values)):
        h = np.zeros(len(values))
        h[k] = 1e-4  # mm or degrees
        ahead, behind = (place(with_values(steps, values, now + sign * h)) for sign in (1, -1))
        assert moves[k] == pytest.approx((ahead - behind) / 2e-4, abs=1e-5)


ONE_PIPE = """\
format: 1
job: {title: One pipe, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [-1, 0, 0]}
  thickness: 10
  bolts: [{at: [-32, 0], hole: 8.5}, {at: [32, 0], hole: 8.5}]
  ports: {1: {at: [0, 0], shape: {round: 38}}}
collectors:
  main:
    {join: slip, slip: 40, pattern: [[0, 0]], bores: [1],
     plane: {origin: [27, 103.5, -300], normal: [0, 0, -1], x: [-1, 0, 0]}}
primaries:
  1: {radius: 63.5, points: [[0, 0, 0], [0, 103.5, 0], [0, 103.5, -140.5], [27, 103.5, -187.3], [27, 103.5, -300]]}
chassis:
  - {name: rod, cylinder: {from: [-60, 134, -60], to: [60, 134, -60], diameter: 10}, clearance: 8}
"""


def test_a_path_by_points_is_told_which_points_move(tmp_path: Path) -> None:
    spec = tmp_path / "points.yaml"
    spec.write_text(ONE_PIPE, encoding="utf-8")
    known = check(spec).result
    [help] = known.helps
    assert help.suggestions and all(each.points for each in help.suggestions)
    ends = (0.0, 0.0, 0.0), (27.0, 103.5, -300.0)  # the port and the bore stay
    assert not [p for each in help.suggestions for p in each.points if p.before in ends]
    assert keeps_its_promises(spec, known)[1] >= 1


MIRRORED = """\
format: 1
mirror_of: points.yaml
job: {title: Other, revision: A, date: 2026-03-14}
units: mm
bank: {offset: 0, way: staggered, mirror: {origin: [0, -200, 0]}, mirrored: [rod]}
"""


def test_a_mirrored_path_is_told_in_figures_of_the_first_bank(tmp_path: Path) -> None:
    """What is written into the first bank, rotations with the other sign, gives the second the gap it promised."""
    (tmp_path / "points.yaml").write_text(full_points(tmp_path), encoding="utf-8")
    spec = tmp_path / "other.yaml"
    spec.write_text(MIRRORED, encoding="utf-8")
    [help] = check(spec).result.helps
    suggestion = next(each for each in help.suggestions if each.values)
    assert suggestion.mirrored == ("primary 1",) and help.anew == ()
    there = [replace(v, after=-v.after) if v.what == "rotation" else v for v in suggestion.values]
    first = applied(tmp_path / "points.yaml", replace(suggestion, values=tuple(there)))
    first.replace(tmp_path / "points.yaml")
    assert gap_of(check(spec).result.survey, help).value == pytest.approx(suggestion.gap, abs=PROMISED)  # type: ignore[union-attr]
    report = report_of(check(spec).result, "1")
    assert report.spec.mirror_of == "points.yaml"


def full_points(folder: Path) -> str:
    """The path by points as one of steps."""
    spec = folder / "by_points.yaml"
    spec.write_text(ONE_PIPE, encoding="utf-8")
    return full_text(spec)
