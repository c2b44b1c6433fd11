"""Why there are no paths: planted culprits are named, and what is said to help was found by a search."""

from __future__ import annotations

import re
from itertools import count
from pathlib import Path

import pytest
from wanted import changed, job

from headergen.model.finding import Finding
from headergen.solve.effort import Effort
from headergen.solve.route import Routed, route
from headergen.solve.route.collector_placement import with_ranges_from_there
from headergen.solve.route.infeasibility import _by_how_much, _missing
from headergen.solve.route.problem import least_between, least_length
from headergen.solve.route.relaxations import relaxations_of, with_collector_moved

WALL = "  - {name: wall, box: {center: [-150, 200, -50], size: [10, 1500, 1500]}, clearance: 12}"
BATTERY = "  - {name: battery, box: {center: [-300, 250, -150], size: [200, 200, 200]}, clearance: 12}"
BRACKET = "  - {name: bracket, box: {center: [50, 60, 0], size: [300, 6, 80]}, clearance: 5}"
# the axes of tubes may be 18.8 mm off the middle between floor and roof: two cannot cross, which needs 48.4 mm
FLOOR = "  - {name: floor, box: {center: [-100, 300, -245], size: [1500, 540, 400]}, clearance: 5}"
ROOF = "  - {name: roof, box: {center: [-100, 300, 245], size: [1500, 540, 400]}, clearance: 5}"
RAIL = ("to: [-500, 160, -190], diameter: 40}, clearance: 12", "to: [-500, 160, -190], diameter: 40}, clearance: 75")


def beside(*items: str) -> tuple[str, str]:
    return "chassis:", "\n".join(["chassis:", *items])


FLAT = [
    ("plane: {origin: [-300, 250, -150]", "plane: {origin: [-300, 250, 0]"),
    ("[1, 2]      #", "[2, 1]      #"),
    ("bores: free", "bores: given"),
    ("tolerance: 2", "tolerance: 80"),
    ("limits: {between_tubes: 6", "limits: {min_straight: 0.1, between_tubes: 6"),  # shorter than joints need
    beside(FLOOR, ROOF),
]


def tried(folder: Path, *changes: tuple[str, str], rounds: int = 12) -> Routed:
    _, draft, meshes = job(folder, changed(*changes))
    return route(draft, meshes, Effort(rounds=rounds, relax=True))


def said(found: Routed, rule: str = "route-relaxation") -> list[str]:
    return [each.message for each in found.findings if each.rule == rule]


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    ("changes", "culprit"),
    [
        ([("target: 620", "target: 480")], "straight-line bound"),
        ([beside(BATTERY)], "battery"),
        ([beside(WALL)], "without the wall, which stands in the way"),
        (FLAT, "with the primaries in other bores: 1 for primary 1 and 2 for primary 2"),
        ([beside(BRACKET)], "without the bracket, which stands in the way"),
    ],
    ids=["too short", "in a box", "a wall", "reversed bores, flat", "a bracket"],
)
def test_the_culprit_is_named(tmp_path: Path, changes: list[tuple[str, str]], culprit: str) -> None:
    found = tried(tmp_path, *changes)
    assert not found.answers
    messages = [each.message for each in found.findings]
    assert any(culprit in message for message in messages), messages


@pytest.mark.slow
def test_what_is_said_to_help_is_enough_and_little_less_is_not(tmp_path: Path) -> None:
    """60 mm of clearance to the rail leave no way; how much does is found within the step that is tried."""
    found = tried(tmp_path, RAIL)
    assert not found.answers
    [message] = [each for each in said(found) if "clearance to the rail" in each]
    [size] = [float(each) for each in re.findall(r"with ([0-9.]+) mm of clearance", message)]
    # by hand: the axis of bore 1 is at [-300, 228.8 … ], the rail 20 thick round y 160, z -190, as is its sleeve
    enough = RAIL[1].replace("clearance: 75", f"clearance: {size}")
    assert tried(tmp_path, (RAIL[0], enough)).answers
    least = said(found, "part-clear")[0]
    held = float(re.findall(r"is ([0-9.]+) mm from rail", least)[0])
    assert held - 3.0 < size <= held, "the sleeve itself allows no more"


@pytest.mark.slow
def test_a_straight_that_is_a_little_too_long_is_found_out(tmp_path: Path) -> None:
    """With straights of 190 mm asked no tube of 620 mm has room; the least step that works is printed."""
    asked = ("limits: {between_tubes: 6", "limits: {min_straight: 190, between_tubes: 6")
    found = tried(tmp_path, asked)
    assert not found.answers
    [message] = [each for each in said(found) if "allowed between bends" in each]
    [size] = [float(each) for each in re.findall(r"straights of ([0-9.]+) mm allowed", message)]
    assert 0 < size < 190
    assert tried(tmp_path, (asked[0], asked[1].replace("190", f"{size}"))).answers


@pytest.mark.slow
def test_all_that_the_nearest_try_misses_is_told_smallest_first(tmp_path: Path) -> None:
    found = tried(tmp_path, beside(WALL))
    misses = [each for each in found.findings if each.rule == "route-hardest"]
    assert len(misses) > 1 and all(f"of {len(misses)}): " in each.message for each in misses)
    short = [float(re.findall(r"misses by (?:less than )?([0-9.]+)(?: mm|°) \(", each.message)[0]) for each in misses]
    assert short == sorted(short)
    assert any("wall" in each.message for each in misses)


@pytest.mark.slow
def test_cheapest_first_and_nothing_that_the_spec_has_already(tmp_path: Path) -> None:
    found = tried(tmp_path, ("target: 620", "target: 502"))
    lengths = [each for each in said(found) if "with lengths up to" in each]
    assert (lengths and said(found)[0] == lengths[0]) or "collector" in said(found)[0]
    _, draft, _ = job(tmp_path)
    names = {each.name for each in relaxations_of(draft)}
    assert "bores" not in names, "they are free already"
    assert "clearance" not in names and "item" not in names, "no item was said to be in the way"


def test_a_collector_that_may_move_is_tried_beyond_its_range_alone(tmp_path: Path) -> None:
    """It may go from 10 back to 30 on along x, and stands 12 on already: 18 are left, and 22 the other way."""
    ranges = ("bores: free}", "bores: free, move: {main: {x: {min: -10, max: 30}}}}")
    given = job(tmp_path, changed(ranges))[1]
    there = with_ranges_from_there(given, with_collector_moved(given, "main", (12.0, 0.0, 0.0)))
    shifts = [each for each in relaxations_of(there) if each.name == "collector"]
    said = [each.words(1) for each in shifts]
    assert said[0] == "with collector main 20.0 mm forward from where it now stands, 2.0 mm beyond its range"
    assert said[1] == "with collector main 24.0 mm rearward from where it now stands, 2.0 mm beyond its range"
    assert said[2] == "with collector main 2.0 mm to the left", "it may not move along y"
    # by hand: the spec's own place is x -300, and the end of its range -270
    assert shifts[0].draft(1).collectors[0].frame.origin[0] == pytest.approx(-270 + 2)
    assert shifts[1].draft(3).collectors[0].frame.origin[0] == pytest.approx(-310 - 6)


def test_a_range_of_length_is_eased_like_a_target(tmp_path: Path) -> None:
    no_target = ("length: {target: 620, tolerance: 2}", "length: {tolerance: 2}")
    ranged = job(tmp_path, changed(no_target, ("bores: free", "bores: free, length: {min: 600, max: 640}")))[1]
    longer, shorter = (each for each in relaxations_of(ranged) if each.name == "length")
    assert longer.draft(longer.steps).routing.length == pytest.approx((600.0, 640 * 1.06))
    low, high = shorter.draft(1).routing.length or (0.0, 0.0)
    assert least_length(ranged) - 0.1 < low < 600.0 and high == 640.0
    anything = job(tmp_path, changed(no_target, ("bores: free", "bores: free, length: shortest")))[1]
    assert not [each for each in relaxations_of(anything) if each.name == "length"]


def test_a_tighter_bend_is_tried_than_those_in_stock_too(tmp_path: Path) -> None:
    """The tightest on the shelf is 63.5; where nothing is listed it is one and a half diameters, 63.6."""
    shelf = "units: mm\noutside_diameter: 42.4\nbends: [{radius: 63.5, angle: 90, legs: [80, 80], price: 9}]\n"
    (tmp_path / "shelf.yaml").write_text(f"{shelf}straights: [{{length: 2000}}]\n", encoding="utf-8")
    unlisted = ("radii: [63.5], bores", "bores")
    stocked = job(tmp_path, changed(unlisted, ("tube: {", "stock: shelf.yaml\ntube: {")))[1]
    plain = job(tmp_path, changed(unlisted))[1]
    [tighter], [usual] = ([each for each in relaxations_of(d) if each.name == "radius"] for d in (stocked, plain))
    assert tighter.draft(1).routing.radii == (pytest.approx(63.5 - (63.5 - 50.88) / 8, abs=0.05), 63.5)
    assert tighter.words(1).endswith("mm too, which the stock list has not")
    assert usual.draft(8).routing.radii == (pytest.approx(50.9), pytest.approx(63.6)) and "stock" not in usual.words(8)


def test_what_is_missed_is_told_in_millimetres_or_degrees_and_sorted_so() -> None:
    """A tenth of an inch is more than two millimetres; a figure that prints like its limit is still missed."""

    def miss(value: float, limit: float, unit: str, rule: str = "gap") -> Finding:
        return Finding(rule, "error", "primary 1", value, limit, unit, "")

    misses = [miss(0.1, 0.2, "in"), miss(40.0, 40.0, "mm"), miss(14.0, 12.0, "mm"), miss(9.0, 10.0, "deg")]
    misses.append(miss(622.5, 620.0, "mm", "length"))  # within 2
    said = [_by_how_much(each, 2.0) for each in sorted(misses, key=lambda each: _missing(each, 2.0))]
    assert said == [" by less than 0.1 mm", " by 0.5 mm", " by 1.00°", " by 2.0 mm", " by 0.100 in"]
    assert _by_how_much(Finding("gap", "error", "primary 1", None, None, "", ""), 2.0) == ""


def test_without_relax_it_is_said_that_there_is_such_a_thing(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path, changed(beside(WALL)))
    found = route(draft, meshes, Effort(rounds=6))
    assert not said(found) and "--relax tries single changes" in said(found, "route-relax")[0]


def in_seconds(folder: Path, seconds: float, *changes: tuple[str, str]) -> Routed:
    """Searched on a clock of its own, for which each look at it takes a quarter of a second."""
    _, draft, meshes = job(folder, changed(*changes))
    return route(draft, meshes, Effort(seconds=seconds, now=count(0.0, 0.25).__next__))


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    ("item", "seconds", "culprit"),
    [
        (BATTERY, 4.0, "without the battery, which stands in the way"),
        (WALL, 12.0, "without the wall, which stands in the way"),
    ],
    ids=["before any search", "found by the search"],
)
def test_changes_are_tried_in_what_is_left_of_the_seconds(
    tmp_path: Path, item: str, seconds: float, culprit: str
) -> None:
    """Items first; what the time was too short for is told with the number of changes."""
    found = in_seconds(tmp_path, seconds, beside(item))
    assert not found.answers
    assert any(culprit in each for each in said(found)), [each.message for each in found.findings]
    [left] = said(found, "route-relax")
    number, of = map(int, re.findall(r"to try (\d+) of (\d+) single changes; --relax", left)[0])
    assert 0 < number < of


def test_without_time_nothing_is_said_to_have_been_tried(tmp_path: Path) -> None:
    found = in_seconds(tmp_path, 1.0, beside(WALL))
    assert not said(found)
    number, of = re.findall(r"No time was left to try (\d+) of (\d+) single", said(found, "route-relax")[0])[0]
    assert number == of


def test_straights_that_joints_need_are_tried_shorter_and_a_written_0_is_meant(tmp_path: Path) -> None:
    silent = job(tmp_path)[1]
    [shorter] = [each for each in relaxations_of(silent) if each.name == "straight"]
    assert shorter.words(1) == "with straights of 14.0 mm allowed between bends, not 15.0 mm"
    assert least_between(shorter.draft(1)) == pytest.approx(14.0) and least_between(shorter.draft(15)) == 0.0
    written = job(tmp_path, changed(("limits: {", "limits: {min_straight: 0, ")))[1]
    assert least_between(silent) == 15.0 and least_between(written) == 0.0
    assert not [each for each in relaxations_of(written) if each.name == "straight"]


@pytest.mark.slow
def test_a_bend_out_of_range_is_among_what_the_nearest_try_misses(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path, changed(beside(WALL), ("route: {", "route: {bends: {min: 60, max: 75}, ")))
    found = route(draft, meshes, Effort(rounds=8))
    assert not found.answers
    missed = " ".join(said(found, "route-hardest"))
    assert "flatter than the 60.0° allowed" in missed or "sharper than the 75.0° allowed" in missed
