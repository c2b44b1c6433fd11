"""Steps to larger tubes in found paths: where they are put, what the search asks for, and whole headers with them."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from wanted import changed, job

from headergen.checks.measure import Meshes
from headergen.geometry.curves.stepped import growth_places, step_length
from headergen.model import Bend, Draft, Growth, Run, Straight
from headergen.pipeline import check
from headergen.routing import paths_to_find, with_found_paths
from headergen.solve.effort import Effort
from headergen.solve.route import Routed, route
from headergen.solve.route.growing import NoRoomError, grown, without_growths
from headergen.solve.route.kernels.descend import residuals
from headergen.solve.route.kernels.terms import KINDS
from headergen.solve.route.layout import tubes_of
from headergen.solve.route.problem import problem_of
from headergen.solve.route.starts import random_layout

STEP = "{outside_diameter: 45, wall: 1.2, by: slip, overlap: 20, at: {min: 250, max: 400}}"
STEPPED = changed(
    ("  1: find ", f"  1: {{find: true, steps: [{STEP}]}} "),
    ("  2: {find: true}", f"  2: {{find: true, steps: [{STEP}]}}"),
)
BY_SLIP = Straight(20.0, Growth(45.0, 1.2, "slip", (250.0, 400.0)))
ARC = Bend(math.radians(90), 60.0, 0.0)
LONG = 60.0 * math.radians(90)


def wanted(tmp_path: Path) -> tuple[Run, Draft]:
    _, draft, _ = job(tmp_path, STEPPED)
    return draft.primaries[0], draft


def place_in(tmp_path: Path, steps: tuple[Straight | Bend, ...], growth: Straight = BY_SLIP) -> float:
    """Where the bore grows in a path that is given its step."""
    run, draft = wanted(tmp_path)
    path = grown(replace(run, grows=(growth,)), steps, draft)
    assert sum(map(step_length, path)) == pytest.approx(sum(map(step_length, steps)))
    (place,) = growth_places(replace(run, steps=path, to_find=False))
    return place.bore_grows


def test_a_step_stands_in_the_middle_of_its_limits(tmp_path: Path) -> None:
    assert place_in(tmp_path, (Straight(500.0), ARC, Straight(60.0))) == pytest.approx(325.0, abs=1e-3)


def test_a_step_stands_as_near_to_the_middle_as_straights_let_it(tmp_path: Path) -> None:
    """The straight ends at 260: 10 mm of tube after the step, whose overlap ends where the bore grows."""
    assert place_in(tmp_path, (Straight(262.0), ARC, Straight(30.0), ARC, Straight(80.0))) == pytest.approx(252.0)


def test_without_limits_a_step_stands_in_the_middle_of_the_roomiest_straight(tmp_path: Path) -> None:
    free = Straight(20.0, Growth(45.0, 1.2, "cone"))
    begins = 60.0 + LONG  # of the second straight: 10 free before the step, 10 after it
    found = place_in(tmp_path, (Straight(60.0), ARC, Straight(200.0), ARC, Straight(80.0)), free)
    assert found == pytest.approx(begins + 10.0 + (200.0 - 40.0) / 2, abs=1e-3)


@pytest.mark.parametrize(
    "steps",
    [
        (Straight(200.0), ARC, Straight(39.0), ARC, Straight(80.0)),  # 40 are needed in the second
        (Straight(259.0), ARC, Straight(20.0), ARC, Straight(80.0)),  # the step would begin before 230
        (Straight(60.0), ARC, Straight(30.0), ARC, Straight(500.0)),  # only the last begins early enough; see below
    ],
)
def test_a_path_without_room(tmp_path: Path, steps: tuple[Straight | Bend, ...]) -> None:
    if steps[-1].length == 500.0:  # type: ignore[union-attr]
        assert place_in(tmp_path, steps) == pytest.approx(325.0, abs=1e-3)
        return
    with pytest.raises(NoRoomError):
        place_in(tmp_path, steps)


def test_two_steps_stand_one_after_the_other(tmp_path: Path) -> None:
    run, draft = wanted(tmp_path)
    second = Straight(20.0, Growth(48.3, 1.5, "slip"))
    path = grown(replace(run, grows=(BY_SLIP, second)), (Straight(700.0),), draft)
    one, other = growth_places(replace(run, steps=path, to_find=False))
    assert one.bore_grows == pytest.approx(325.0) and other.start >= one.end + 10.0
    assert without_growths(path) == (Straight(pytest.approx(700.0)),)


def test_the_search_misses_what_a_step_has_not(tmp_path: Path) -> None:
    """A plane tube of two bends by hand: its straights are 40, 100 and 40, and the step needs the middle one."""
    _, draft, meshes = job(tmp_path, STEPPED)
    problem = problem_of(draft, meshes)
    assert problem.grows[0, 0] == pytest.approx([230.02, 379.98, 10.0, 20.0, 10.0])
    assert problem.slim[0] == pytest.approx([230.0, 45.0 / 2 - 42.4 / 2, 0.0])
    assert problem.want.radius == pytest.approx(22.5)


def test_slopes_of_what_a_step_needs(tmp_path: Path) -> None:
    """The gradient of all residuals is that of differences, with steps far from where they may be."""
    _, draft, meshes = job(tmp_path, STEPPED)
    problem = problem_of(draft, meshes)
    seen = 0
    for seed in range(12):
        layout = random_layout(problem, np.random.default_rng(seed))
        tubes = tubes_of(problem, layout.runs, range(2))
        X = np.concatenate([*(run.x for run in layout.runs), [layout.length]])
        none, missing = np.zeros((0, 1)), np.zeros(KINDS)
        system = np.zeros((len(X), len(X) + 1))
        ones, count = np.ones((2, 5)), 40
        bare = tubes._replace(grows=np.zeros((2, 0, 5)))
        space = problem.space._replace(solids=problem.space.solids[:0])

        residuals(X, tubes, space, problem.want, ones, count, system, missing)
        slope = system[:, -1].copy()
        residuals(X, bare, space, problem.want, ones, count, system, missing)
        slope -= system[:, -1]
        costs = [
            [residuals(X + e, of, space, problem.want, ones, count, none, missing) for of in (tubes, bare)]
            for e in (*(1e-4 * np.eye(len(X))), *(-1e-4 * np.eye(len(X))))
        ]
        own = np.subtract(*np.transpose(costs))
        differences = (own[: len(X)] - own[len(X) :]) / 2e-4
        assert slope == pytest.approx(differences, rel=1e-3, abs=1e-2)
        seen += bool(np.abs(slope).max() > 0.1)
    assert seen >= 3


Made = tuple[Path, Draft, Meshes, Routed]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """A stepped header with all of its paths found."""
    path, draft, meshes = job(tmp_path_factory.mktemp("stepped"), STEPPED)
    found = route(draft, meshes, Effort(rounds=30, as_found=True))
    assert found.answers
    return path, draft, meshes, found


def test_a_stepped_header_is_found(made: Made) -> None:
    """Every check accepts it; each step stands where it may, and the text has it with its limits."""
    path, _, _, found = made
    assert [each.rule for each in found.findings].count("route-steps") == 2
    written = path.with_name("made.yaml")
    written.write_text(with_found_paths(path, found.answers[0].draft, "by a test;"), encoding="utf-8")
    result = check(written).result
    assert not [each for each in result.findings if each.level == "error"]
    for run in result.header.primaries:
        (place,) = growth_places(run)
        assert 250.0 <= place.bore_grows <= 400.0
    text = written.read_text(encoding="utf-8")
    assert text.count("{step: {outside_diameter: 45, wall: 1.2, by: slip, overlap: 20, at: {min: 250, max: 400}}}") == 2
    assert "steps:" not in text and not any(run.to_find for run in result.header.runs)


def test_a_planted_step_is_found_again(made: Made) -> None:
    """A found header is a known one: without the path of one primary, its length and step must be had again."""
    _, draft, meshes, found = made
    known = found.answers[0].draft
    runs = (replace(known.runs[0], steps=(), grows=draft.runs[0].grows, to_find=True), *known.runs[1:])
    again = route(replace(known, runs=runs), meshes, Effort(rounds=30, as_found=True))
    assert again.answers
    (place,) = growth_places(again.answers[0].draft.primaries[0])
    assert 250.0 <= place.bore_grows <= 400.0


@pytest.mark.slow
def test_the_steps_of_the_bulrush_are_found(tmp_path: Path) -> None:
    """All four primaries from nothing, each with its step at 440 mm, clear of a whole hovercraft."""
    text = (Path(__file__).parents[3] / "specs" / "bulrush.yaml").read_text(encoding="utf-8")
    text = text[: text.index("stock: ")] + text[text.index("\nflanges:") :]  # by the radius alone
    step = "{outside_diameter: 42.4, wall: 1.5, by: slip, overlap: 25, at: {min: 400, max: 480}}"
    first, last = text.index("# The ways are those"), text.index("mock: {collector")
    marked = "".join(f"  {number}: {{find: true, steps: [{step}]}}\n" for number in (1, 2, 3, 4))
    path = tmp_path / "job.yaml"
    path.write_text(f"{text[:first]}route: {{radii: [60]}}\nprimaries:\n{marked}{text[last:]}", encoding="utf-8")
    wanted = paths_to_find(path)
    found = route(wanted.draft, wanted.meshes, Effort(rounds=400, as_found=True))
    assert found.answers
    places = [place.bore_grows for run in found.answers[0].draft.primaries for place in growth_places(run)]
    assert len(places) == 4 and all(400.0 <= place <= 480.0 for place in places)
