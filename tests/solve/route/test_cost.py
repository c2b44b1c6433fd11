"""What a path costs, against sums done by hand; each weight alone, the others at nothing."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from wanted import changed, job

from headergen.model import Bend, CostWeights, Draft, NamedLine, StockBend, Straight
from headergen.solve.route.cost import cost_of, welds

WIDTH = 42.4
NOTHING = CostWeights(**dict.fromkeys(CostWeights.__dataclass_fields__, 0.0))


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


def test_weights_are_the_specs(tmp_path: Path) -> None:
    text = changed(("bores: free}", "bores: free, cost_weights: {bend: 12, other_bank: 7}}"))
    weights = job(tmp_path, text)[1].routing.cost_weights
    assert (weights.bend, weights.other_bank, weights.weld) == (12.0, 7.0, CostWeights().weld)
