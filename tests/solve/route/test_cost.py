"""What a path costs, against sums done by hand; each weight alone, the others at nothing."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from wanted import changed, job

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.run import line_of
from headergen.model import Bend, CostWeights, Draft, NamedLine, Stock, StockBend, Straight
from headergen.routing import costs_of
from headergen.solve.effort import Effort
from headergen.solve.route import route
from headergen.solve.route.answer import Answer
from headergen.solve.route.cost import CostTerm, blocked, cost_terms, joints_and_cuts, total, welds
from headergen.solve.route.families import Family, families_of

WIDTH = 42.4
NOTHING = CostWeights(**dict.fromkeys(CostWeights.__dataclass_fields__, 0.0))


def cost_of(draft: Draft, keys: Sequence[int | str], families: Sequence[Family] = ()) -> float:
    return total(cost_terms(draft, keys, families))


def bend(degrees: float, rotation: float = 0.0, radius: float = 63.5) -> Bend:
    return Bend(math.radians(degrees), radius, math.radians(rotation))


SHORT_S = (Straight(50), bend(90), Straight(20), bend(60, 180), Straight(WIDTH))


def draft_of(folder: Path, paths: dict[int, tuple], **weights: float) -> Draft:
    draft = job(folder)[1]
    primaries = tuple(replace(p, steps=paths.get(p.number, (Straight(600.0),))) for p in draft.primaries)
    routing = replace(draft.routing, cost_weights=replace(NOTHING, **weights))
    return replace(draft, runs=primaries, routing=routing)


@pytest.mark.parametrize(
    ("steps", "weight", "expected"),
    [
        (SHORT_S, {}, 150.0),  # degrees alone
        (SHORT_S, {"bend": 30.0}, 150 + 2 * 30),
        (SHORT_S, {"close_turn": 25.0}, 150 + 25),
        ((Straight(50), bend(90), Straight(50), bend(60, 180), Straight(99)), {"close_turn": 25.0}, 150),  # far enough
        ((Straight(50), bend(90), Straight(20), bend(60, 80), Straight(99)), {"close_turn": 25.0}, 150),  # not back
        (SHORT_S, {"last_straight": 8.0}, 150 + 8),
        ((Straight(50), bend(90)), {"last_straight": 8.0}, 90 + 2 * 8),
        ((bend(90), bend(60, radius=80), bend(10, radius=80)), {"radius": 4.0}, 160 + 4),
        (SHORT_S, {"weld": 6.0}, 150 + 4 * 6),  # each straight a piece, since bends carry no legs
    ],
)
def test_a_tube_by_itself(steps: tuple, weight: dict, expected: float, tmp_path: Path) -> None:
    assert cost_of(draft_of(tmp_path, {1: steps}, **weight), [1]) == pytest.approx(expected, abs=1e-9)


def test_legs_save_welds() -> None:
    """A bend cut out of a U keeps one leg, of a hundred at the best, before it or after it."""
    shelf = [StockBend(63.5, math.radians(180), (100.0, 60.0))]
    assert welds((Straight(100), bend(90), Straight(160), bend(60), Straight(60)), shelf) == 2  # both ends are legs
    assert welds((Straight(101), bend(90), Straight(161), bend(60), Straight(101)), shelf) == 3  # two legs meet
    assert welds((Straight(101), bend(90), Straight(201), bend(60), Straight(101)), shelf) == 4
    assert welds((bend(90), Straight(100), bend(60), Straight(100)), shelf) == 1


def test_only_the_whole_shelf_angle_keeps_both_legs() -> None:
    whole = StockBend(63.5, math.radians(90), (100.0, 60.0))
    path = (Straight(100), bend(90), Straight(160), bend(90), Straight(100))
    assert welds(path, [whole]) == 2  # the short legs face each other, and 120 is less than 160
    assert welds(path, [replace(whole, legs=(100.0, 100.0))]) == 1
    assert welds(path, [replace(whole, angle=math.radians(91), legs=(100.0, 100.0))]) == 2


@pytest.mark.parametrize(
    ("steps", "joints", "cuts"),
    [
        ((Straight(60), bend(90), Straight(60)), 0, 0),
        ((Straight(60), bend(80), Straight(60)), 1, 1),
        ((Straight(60), bend(90), Straight(100)), 1, 0),  # a longer leg instead would cost a cut and save nothing
        ((bend(90), Straight(160), bend(90)), 1, 1),  # the long leg of a U saves a piece between
        ((bend(90), Straight(120), bend(90)), 1, 0),
        ((bend(90), Straight(60), bend(30), Straight(60), bend(60)), 2, 2),
        ((Straight(500),), 0, 0),
    ],
)
def test_arc_cuts_with_the_fewest_joints(steps: tuple, joints: int, cuts: int) -> None:
    """Whole quarter bends with legs of 60, and a U with legs of 100, of which a cut bend keeps one."""
    shelf = [StockBend(63.5, math.radians(90), (60.0, 60.0)), StockBend(63.5, math.radians(180), (100.0, 100.0))]
    assert joints_and_cuts(steps, shelf) == (joints, cuts)


def test_tubes_side_by_side(tmp_path: Path) -> None:
    """Ports stand 100 mm apart, within three diameters: straight tubes run beside each other all the way."""
    together = draft_of(tmp_path, {}, side_by_side=10.0)
    assert cost_of(together, [1, 2]) == pytest.approx(-20.0)
    away = draft_of(tmp_path, {2: (bend(90), Straight(600))}, side_by_side=10.0)
    assert -12.0 < cost_of(away, [1, 2]) - 90.0 < 0.0


def test_along_a_named_line(tmp_path: Path) -> None:
    """The port looks along y: its straight runs along a line that does, and the bend and what follows do not."""
    steps = (Straight(300), bend(90), Straight(100))
    draft = draft_of(tmp_path, {1: steps}, along_lines=15.0)
    near, far = (NamedLine("rail", (x, -50.0, 0.0), (x, 900.0, 0.0), 40.0) for x in (140.0, 160.0))
    share = 300 / (400 + 63.5 * math.pi / 2)
    assert cost_of(replace(draft, lines=(near,)), [1]) == pytest.approx(90 - 15 * share)  # 3 × 42.4 + 20 > 140
    assert cost_of(replace(draft, lines=(far,)), [1]) == pytest.approx(90)


def test_length_counts_where_it_is_free(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, {1: (Straight(600),), 2: (Straight(650),)}, shorter=2.0)
    assert cost_of(draft, [1, 2]) == 0.0
    free = replace(draft, length=replace(draft.length, target=None))
    assert cost_of(free, [1, 2]) == pytest.approx(2 * 650)


def test_likeness_to_the_other_bank(tmp_path: Path) -> None:
    """A straight tube of 600 beside one of 1200: at equal shares of their lengths 300 apart on average."""
    draft = draft_of(tmp_path, {}, other_bank=10.0)
    first, second = draft.primaries
    like = draft.with_primaries((replace(first, like=(Straight(1200.0),)), replace(second, like=second.steps)))
    assert cost_of(like, [1, 2]) == pytest.approx(10 * 300 / WIDTH)
    assert cost_of(like, [2]) == 0.0


def test_bends_that_need_a_saw(tmp_path: Path) -> None:
    """A quarter bend of the shelf is whole; 60° of it, and a quarter bend of another radius, are cut."""
    shelf = Stock((StockBend(63.5, math.radians(90), (100.0, 60.0)),), ())
    steps = (Straight(50), bend(90), bend(60), bend(90, radius=80))
    draft = draft_of(tmp_path, {1: steps}, cut=4.0)
    assert cost_of(replace(draft, stock=shelf), [1]) == pytest.approx(240 + 2 * 4)
    assert cost_of(draft, [1]) == pytest.approx(240)  # nothing is known of what is bought


@pytest.mark.parametrize(("tidy", "each"), [(0.0, 0.0), (0.5, 15.0), (1.0, 30.0)])
def test_tubes_that_cross(tidy: float, each: float, tmp_path: Path) -> None:
    """Port 2 is beside port 1 in x; a tube that turns that way crosses its neighbour seen from above alone."""
    draft = draft_of(tmp_path, {1: (Straight(300), bend(90), Straight(200))}, crossing=15.0)
    draft = replace(draft, routing=replace(draft.routing, tidy=tidy))
    assert cost_of(draft, [1, 2]) == pytest.approx(90 + each)
    away = draft_of(tmp_path, {1: (Straight(300), bend(90, 180), Straight(200))}, crossing=15.0)
    assert cost_of(away, [1, 2]) == pytest.approx(90)


def test_a_tube_that_doubles_back(tmp_path: Path) -> None:
    """Up 200, round a half turn and down by a turn's width more: its end is 45° below its start."""
    steps = (Straight(200), bend(180), Straight(200 + 2 * 63.5))
    draft = draft_of(tmp_path, {1: steps}, doubling_back=10.0)
    back = 200 * math.sqrt(0.5) + 63.5 * (1 - math.sqrt(0.5))  # the first 45° of the turn still go back
    assert cost_of(draft, [1]) == pytest.approx(180 + 10 * back / WIDTH)
    assert cost_of(draft_of(tmp_path, {1: SHORT_S}, doubling_back=10.0), [1]) == pytest.approx(150)


ALONG = (Straight(300), bend(90), Straight(300))  # port 1 toward port 2; half a turn about the port: away from it
ACROSS = (Straight(300), bend(90, 90), Straight(300))
PARTED = 90 * (300 + 63.5 * math.pi / 4) / (600 + 63.5 * math.pi / 2)  # degrees, on average along all of it


@pytest.mark.parametrize(
    ("one", "other", "parted"),
    [
        (ALONG, ALONG, 0.0),
        (ALONG, (Straight(300), bend(90, 180), Straight(300)), 0.0),  # mirror images
        (ALONG, (Straight(600 + 63.5 * math.pi / 2),), PARTED),
        (ACROSS, (Straight(600 + 63.5 * math.pi / 2),), PARTED),
        (ACROSS, (Straight(300), bend(90, -90), Straight(300)), 2 * PARTED),  # up and down
    ],
)
def test_neighbours_that_part(one: tuple, other: tuple, parted: float, tmp_path: Path) -> None:
    draft = draft_of(tmp_path, {1: one, 2: other}, parting=10.0)
    bent = cost_of(replace(draft, routing=replace(draft.routing, tidy=0.0)), [1, 2])
    assert cost_of(draft, [1, 2]) - bent == pytest.approx(10 * parted, abs=10.0)  # in steps along the tube


def test_a_header_that_sprawls(tmp_path: Path) -> None:
    """Of the 26 directions, one is along a long tube, four are at 45° to it and four at 54.7°."""
    one = cost_of(draft_of(tmp_path, {1: (Straight(20000),)}, sprawl=10.0), [1, 2])
    other = cost_of(draft_of(tmp_path, {1: (Straight(20000 + WIDTH),)}, sprawl=10.0), [1, 2])
    assert other - one == pytest.approx(10 * (1 + 4 / math.sqrt(2) + 4 / math.sqrt(3)) / 26)


UP = (Straight(50), bend(90, -90), Straight(100))  # the bores are below the ports, which look along y
DOWN = (Straight(50), bend(90, 90), Straight(100))
ASIDE = (Straight(50), bend(90), Straight(100))


@pytest.mark.parametrize(("steps", "over"), [(UP, 63.5 + 100), (DOWN, 0.0), (ASIDE, 0.0), ((Straight(50),), 0.0)])
def test_a_tube_that_arches_over_the_ports(steps: tuple, over: float, tmp_path: Path) -> None:
    draft = draft_of(tmp_path, {1: steps, 2: DOWN}, arching=10.0)
    plain = cost_of(replace(draft, routing=replace(draft.routing, tidy=0.0)), [1, 2])
    assert cost_of(draft, [1, 2]) - plain == pytest.approx(10 * over / WIDTH)


def test_each_tube_that_arches_has_its_price(tmp_path: Path) -> None:
    """What is over the ports already makes no room for a second tube there."""
    both = cost_of(draft_of(tmp_path, {1: UP, 2: UP}, arching=10.0), [1, 2])
    assert both == pytest.approx(2 * 90 + 2 * 10 * 163.5 / WIDTH)


def test_nothing_arches_where_the_bores_are_level_with_the_ports(tmp_path: Path) -> None:
    draft = draft_of(tmp_path, {1: UP, 2: UP}, arching=10.0)
    level = tuple(
        replace(run, end=replace(run.end, frame=replace(run.end.frame, origin=(-50.0, 300.0, 0.0))))
        for run in draft.runs
    )
    assert cost_of(replace(draft, runs=level), [1, 2]) == pytest.approx(180)


def test_straights_that_run_like_nothing_beside_them(tmp_path: Path) -> None:
    """A straight at 45° to the axes is alone until the neighbour has one like it; a square one never is."""
    leaning = (Straight(50), bend(45), Straight(100), bend(45), Straight(80))
    square = (Straight(50), bend(90), Straight(100), bend(90), Straight(80))
    one = draft_of(tmp_path, {1: leaning}, stray=10.0)
    both = draft_of(tmp_path, {1: leaning, 2: leaning}, stray=10.0)
    assert cost_of(one, [1, 2]) == pytest.approx(90 + 10)
    assert cost_of(both, [1, 2]) == pytest.approx(180)
    assert cost_of(draft_of(tmp_path, {1: square}, stray=10.0), [1, 2]) == pytest.approx(180)


def test_a_broken_family(tmp_path: Path) -> None:
    """A twin whose bores stand as far right of the middle between its ports as left: one tube mirrors the other."""
    plane = "{origin: [-300, 250, -150], normal: [-1, 0, 0], x: [0, 1, 0]}"
    text = changed((plane, "{origin: [50, 400, 0], normal: [0, 1, 0], x: [1, 0, 0]}"))
    made = job(tmp_path, text)[1]
    steps = (Straight(50), bend(20), Straight(50), bend(20, 180), Straight(90))
    other = (Straight(50), bend(20, 180), Straight(50), bend(20, 180), Straight(90))
    routing = replace(made.routing, cost_weights=replace(NOTHING, family=20.0))
    draft = replace(made, routing=routing)
    families = families_of(draft, draft.primaries)
    assert len(families) == 1 and families[0][0].is_mirror and families[0][0].pairs == ((1, 2),)
    for second, broken in ((other, 0), (steps, 1)):
        paths = (replace(p, steps=s) for p, s in zip(draft.primaries, (steps, second), strict=True))
        assert cost_of(draft.with_primaries(paths), [1, 2], families) == pytest.approx(80 + 20 * broken)


def test_sockets_and_plugs_without_room(tmp_path: Path) -> None:
    @dataclass(frozen=True)
    class Nearest:
        value: float

        @property
        def is_too_small(self) -> bool:
            return self.value < 0.0

    draft = draft_of(tmp_path, {}, blocked=40.0)
    term = blocked(draft, [Nearest(-2.0), Nearest(0.0), Nearest(4.0), Nearest(-0.1)])  # type: ignore[list-item]
    assert term.cost == 2 * 40
    shown = costs_of([Answer(draft, None, (CostTerm("bends", 3, 30.0), term), None)])  # type: ignore[arg-type]
    assert ["without", "room", "40", "2", "80"] in [line.split() for line in shown]


@pytest.mark.slow
def test_a_plug_across_the_path_is_shown_and_gone_round_where_that_is_worth_it(tmp_path: Path) -> None:
    """Its tool comes straight through the middle of primary 1 as it is found without the plug."""
    [free] = route(*job(tmp_path)[1:], Effort(rounds=12)).answers
    line = line_of(free.draft.runs[0])
    x, y, z = (round(each, 1) for each in frame_at(line, line.length / 2)[0])
    blocked_at = []
    for weight in (0, 400):
        plug = f"\nplugs: [{{name: plug 1, at: [{x}, {y}, {z - 80}], axis: [0, 0, 1]}}]"
        text = changed(("bores: free}", f"bores: free, cost_weights: {{blocked: {weight}}}}}{plug}"))
        [answer] = route(*job(tmp_path, text)[1:], Effort(rounds=24)).answers
        amounts = {term.what: term.amount for term in answer.terms}
        blocked_at.append([gap.a for gap in answer.survey.reaches if gap.value < gap.required])
        assert amounts["without room"] == len(blocked_at[-1])
        assert any(row.startswith("without room") for row in costs_of([answer])) == bool(blocked_at[-1])
    assert blocked_at == [["tool on plug 1"], []]


@pytest.mark.slow
def test_the_table_of_an_answer_adds_up(tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path)
    [answer] = route(draft, meshes, Effort(rounds=8)).answers
    head, *rows, last = costs_of([answer])
    assert head.startswith("cost in degrees of bend") and rows[1].split() == [
        "bends",
        f"{CostWeights().bend:g}",
        str(answer.bends),
        f"{CostWeights().bend * answer.bends:g}",
    ]
    assert sum(float(row.split()[-1]) for row in rows) == pytest.approx(
        float(last.split()[-1]), abs=0.5 * len(rows) + 0.5
    )
    assert answer.cost == pytest.approx(sum(term.each * term.amount for term in answer.terms))
    assert CostTerm("bends", 3, 30.0).cost == 90.0


def test_weights_are_the_specs(tmp_path: Path) -> None:
    text = changed(("bores: free}", "bores: free, cost_weights: {bend: 12, other_bank: 7}}"))
    weights = job(tmp_path, text)[1].routing.cost_weights
    assert (weights.bend, weights.other_bank, weights.weld) == (12.0, 7.0, CostWeights().weld)
