"""Families of ports and bores, images of paths, bundles and parts: against places computed by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from wanted import changed, job

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.run import line_of
from headergen.model import Draft
from headergen.solve.route.bundles import copied
from headergen.solve.route.choose import beside
from headergen.solve.route.copies import say_copies, with_copies
from headergen.solve.route.cost import price_of_crossing
from headergen.solve.route.families import families_of, strangers, unlike
from headergen.solve.route.kernels.crossings import crossings
from headergen.solve.route.layout import Layout, LayoutTube, seen
from headergen.solve.route.merged import merged
from headergen.solve.route.parts import images, part_of, repeated, splits_of, tidy_rows
from headergen.solve.route.problem import RouteProblem, problem_of
from headergen.solve.route.search import SETTLED, SearchState, search
from headergen.solve.route.starts import pooled
from headergen.solve.route.tidiness import crossing_pairs, doubled_back, views_of

PLANE = "{origin: [-300, 250, -150], normal: [-1, 0, 0], x: [0, 1, 0]}"
MIDDLE = "{origin: [150, 420, -200], normal: [0, 0, -1], x: [1, 0, 0]}"
FAR_RAIL = ("from: [300, 160, -190], to: [-500, 160, -190]", "from: [300, 160, -690], to: [-500, 160, -690]")
APART = [("    2: {at: [100, 0]", "    2: {at: [300, 0]")]


def twin(folder: Path, *more: tuple[str, str]) -> Draft:
    """Bores as far left of the middle between the ports as right of it, and no rail near."""
    return job(folder, changed((PLANE, MIDDLE), FAR_RAIL, *APART, *more))[1]


def problem_in(folder: Path, *more: tuple[str, str]) -> RouteProblem:
    return problem_of(twin(folder, *more), {})


def test_a_twin_mirrors_itself_and_no_more_when_its_collector_is_aside(tmp_path: Path) -> None:
    problem = problem_in(tmp_path)
    [[likeness]] = problem.families
    assert likeness.is_mirror and likeness.pairs == ((1, 2),)
    assert likeness.image(np.array([[0.0, 7.0, 9.0]])) == pytest.approx(np.array([[300.0, 7.0, 9.0]]))
    assert likeness.turned().image(np.array([[300.0, 7.0, 9.0]])) == pytest.approx(np.array([[0.0, 7.0, 9.0]]))
    assert likeness.bores == {("main", 1): ("main", 2), ("main", 2): ("main", 1)}
    aside = job(tmp_path, changed((PLANE, MIDDLE.replace("origin: [150", "origin: [151")), *APART))[1]
    assert families_of(aside, aside.primaries) == ()


def test_tubes_of_two_lengths_are_no_family(tmp_path: Path) -> None:
    draft = twin(tmp_path, ("2: {find: true}", "2: {find: true, target: 650}"))
    assert families_of(draft, draft.primaries) == ()


def two_groups(folder: Path) -> Draft:
    """Ports at 0 and 300 into a line about 150; the same 700 further on, by a collector 700 further on."""
    text = changed(
        ("    2: {at: [100, 0], shape: {round: 38}}", PORTS),
        (PLANE, MIDDLE),
        FAR_RAIL,
        ("    bores: [1, 2]      # as they come", "    bores: [1, 2]\n" + SECOND),
        ("  2: {find: true}", "  2: find\n  3: find\n  4: find"),
        ("bores: free", "bores: given"),
    )
    return job(folder, text)[1]


def test_two_groups_that_are_a_shift_apart(tmp_path: Path) -> None:
    draft = two_groups(tmp_path)
    within, between, other = families_of(draft, draft.primaries)
    assert [[each.pairs for each in family] for family in (within, other)] == [[((1, 2),)], [((3, 4),)]]
    shift = next(each for each in between if not each.is_mirror)
    assert shift.pairs == ((1, 3), (2, 4)) and shift.offset == pytest.approx([700, 0, 0])
    mirror = next((each for each in between if each.is_mirror), None)
    assert mirror is not None and mirror.pairs == ((1, 4), (2, 3))


def test_two_groups_are_found_as_copies_a_shift_apart(tmp_path: Path) -> None:
    """The second group's tubes are those of the first, 700 further on along x, point by point."""
    problem = problem_of(two_groups(tmp_path), {})
    best = next(islice(search(problem, 0), 14, None)).best
    assert best is not None
    shift = next(each for each in problem.families[1] if not each.is_mirror)
    assert unlike(best.draft, shift) == []
    lines = {run.name: line_of(run) for run in best.survey.header.runs}
    for lead, twin in ((1, 3), (2, 4)):
        one, other = lines[f"primary {lead}"], lines[f"primary {twin}"]
        for share in np.linspace(0.0, 1.0, 9):
            place, moved = (np.array(frame_at(line, share * line.length)[0]) for line in (one, other))
            assert moved - place == pytest.approx([700, 0, 0], abs=0.5)
    said = [each.message for each in say_copies(problem, best)]
    assert "Primaries 3 and 4 are copies of primaries 1 and 2, exactly." in said
    whole = with_copies(problem, best)
    assert whole.cost <= best.cost and all(strangers(whole.draft, family) == 0 for family in problem.families)


PORTS = "\n".join(f"    {n}: {{at: [{x}, 0], shape: {{round: 38}}}}" for n, x in ((2, 300), (3, 700), (4, 1000)))
SECOND = """\
  far:
    plane: {origin: [850, 420, -200], normal: [0, 0, -1], x: [1, 0, 0]}
    join: slip
    slip: 40
    pattern: line
    bores: [3, 4]"""


def test_an_image_has_the_same_shape(tmp_path: Path) -> None:
    problem = problem_in(tmp_path)
    [[likeness]] = problem.families
    run = LayoutTube(0, (63.5, 63.5, 63.5), np.array([60.0, 90.0, -30.0, 300.0, 20.0]))
    [(tube, image)] = images(problem, likeness, {0: run}).items()
    assert tube == 1 and image.bore == 1
    mine, theirs = (seen(problem, k, r, 40) for k, r in ((0, run), (1, image)))
    assert theirs[0] == pytest.approx(likeness.image(mine[0])) and theirs[3] == pytest.approx(mine[3])
    both = list(repeated(problem, Layout((run, LayoutTube(1, run.radii, run.x)), 640.0)))
    assert len(both) == 2 and both[0].runs[1].x == pytest.approx(image.x)


def test_a_bundle_spreads_what_its_copies_miss(tmp_path: Path) -> None:
    """Copied to its own port and bore nothing changes; to the other port, a corner halfway is moved by half."""
    problem = problem_in(tmp_path)
    run = LayoutTube(0, (63.5, 63.5, 63.5), np.array([60.0, 60.0, 10.0, 240.0, -75.0]))
    assert copied(problem, 0, run, (0, 0), np.eye(3)).x == pytest.approx(run.x)
    made = copied(problem, 0, run, (1, 0), np.eye(3))  # the same bore from a port 300 further along x
    moved = made.x[2:] - run.x[2:]
    assert moved[1:] == pytest.approx([0.0, 0.0]) and 0.0 < moved[0] < 300.0
    assert made.x[:2] == pytest.approx(run.x[:2])


def test_a_part_keeps_off_what_is_known(tmp_path: Path) -> None:
    problem = problem_in(tmp_path)
    run = LayoutTube(0, (63.5, 63.5), np.array([60.0, 90.0]))
    part = part_of(problem, (1,), np.array([0, 1]), {0: run})
    assert part.count == 1 and part.assignments.tolist() == [[1]] and part.runs[0].number == 2
    assert len(part.space.fixed) == len(problem.space.fixed) + 1 and part.group.tolist() == [0, 0]
    assert part.space.fixed_lengths[0] == pytest.approx(seen(problem, 0, run, 2)[3])


def test_a_twin_is_found_as_a_mirror_image(tmp_path: Path) -> None:
    """Where that is worth more than the degrees that it may cost."""
    problem = problem_in(tmp_path, ("bores: free", "bores: free, cost_weights: {family: 300}"))
    assert [split.first for split in splits_of(problem)] == [(0,), (1,)]
    best = next(islice(search(problem, 0), 24, None)).best
    assert best is not None and strangers(best.draft, problem.families[0]) == 0


def test_views_leave_out_those_along_the_row_and_those_nearly_alike(tmp_path: Path) -> None:
    """Ports in a row along x that look along y: seen from above and into the ports, not along the row."""
    views = views_of(twin(tmp_path).primaries)
    assert [np.round(np.abs(np.cross(*view))).tolist() for view in views] == [[0, 1, 0], [0, 0, 1]]


def test_crossings_and_doubling_back_by_hand() -> None:
    above = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    lines = [np.array(points, dtype=float) for points in ([[0, 0, 0], [10, 10, 5]], [[0, 10, 9], [10, 0, 9]])]
    beside = np.array([[20.0, 0.0, 0.0], [20.0, 10.0, 0.0]])
    assert crossing_pairs([*lines, beside], [above]) == 1
    assert crossing_pairs([*lines, beside], [above, above]) == 2
    back = np.array([[0, 0, 0], [0, -100, 0], [300, -100, 0], [300, 400, 0]], dtype=float)  # a 3-4-5 triangle
    assert doubled_back(back) == pytest.approx(100 * 0.8)
    assert math.isclose(doubled_back(back[[0, 3]]), 0.0)


def test_crossings_of_many_tubes_at_once_are_those_of_each_pair() -> None:
    """The compiled count of candidates beside candidates, in two views, against the plain one pair by pair."""
    chance = np.random.default_rng(3)
    views = [np.eye(3)[:2], np.eye(3)[1:]]
    one, other = (np.cumsum(chance.normal(size=(count, 9, 3)), axis=1) for count in (7, 5))
    flat = [np.array([lines @ view.T for view in views]) for lines in (one, other)]
    wanted = [[crossing_pairs([a, b], views) for b in other] for a in one]
    assert crossings(*flat).tolist() == wanted and 0 < np.sum(wanted) < 70


def test_a_set_that_crosses_costs_what_its_crossings_cost(tmp_path: Path) -> None:
    """Two tubes as flat S-bends to their own bores, and to each other's: both views of the header cross once more."""
    problem = problem_in(tmp_path, ("bores: free", "bores: free, cost_weights: {parting: 0}"))
    pools = [pooled(problem, k, [LayoutTube(k, (63.5, 63.5), np.array([60.0, 90.0]))]) for k in (0, 1)]
    turned = [pooled(problem, k, [LayoutTube(1 - k, (63.5, 63.5), np.array([60.0, 90.0]))]) for k in (0, 1)]
    price = price_of_crossing(problem.draft)
    tidy, crossed = (float(beside(problem, (a, 0), (b, 1), 0.0)[0, 0]) for a, b in (pools, turned))
    assert price > 0.0 and tidy == 0.0 and crossed in (price, 2 * price)
    assert float(beside(problem, (turned[0], 0), (turned[1], 1), 0.0, 3.0)[0, 0]) == 3 * crossed


def test_a_search_without_a_gain_for_long_has_settled(tmp_path: Path) -> None:
    problem = problem_in(tmp_path)
    best = next(found.best for found in search(problem, 0) if found.best is not None)
    parts = [SearchState(answers=[best], rounds=SETTLED + 9, idle=idle) for idle in (SETTLED, SETTLED + 5, SETTLED - 1)]
    assert [part.is_settled for part in parts] == [True, True, False]
    assert merged(problem, parts[:2]).idle == 2 * SETTLED + 5 and merged(problem, parts[:2]).is_settled
    assert not merged(problem, parts).is_settled
    assert not SearchState(rounds=500, idle=500).is_settled  # nothing found is nothing settled


def test_orders_of_bores_that_cross_least_come_first(tmp_path: Path) -> None:
    problem = problem_in(tmp_path)
    straight, crossed = (crossing(problem, row) for row in tidy_rows(problem, np.random.default_rng(0)))
    assert straight < crossed


def crossing(problem: RouteProblem, row: np.ndarray) -> int:
    chords = [np.array([problem.ports[k, :3], problem.bores[int(row[k]), :3]]) for k in range(2)]
    return crossing_pairs(chords, views_of(problem.runs))


def test_without_tidiness_nothing_of_the_whole_counts(tmp_path: Path) -> None:
    problem = problem_in(tmp_path)
    plain = replace(problem, draft=replace(problem.draft, routing=replace(problem.draft.routing, tidy=0.0)))
    best = next(islice(search(plain, 0), 12, None)).best
    assert best is not None and "crossings seen" not in {term.what for term in best.terms}
