"""What the closing rule advises is done as it is said, to the digit, and then nothing is said against it."""

from __future__ import annotations

import math
import random
import re
from dataclasses import replace

import pytest

from headergen.checks.rules.bends import bend_on_shelf
from headergen.checks.rules.closing import closing
from headergen.checks.rules.straights import straights
from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.frames import add, cross
from headergen.model import Bend, Draft, Fit, Frame, Header, Run, Stock, StockBend, Straight
from headergen.model.finding import Finding
from headergen.solve.closing import close
from tests.solve.planted_paths import DEGREE, draft_of, plant, value_of

SLIP, AT_FLANGE, INCH = 40.0, 30.0, 25.4
LENGTH = re.compile(r"(?:nearest length that works is|reaches its bore at a length of) ([\d.]+) (mm|in)")
FREED = re.compile(r"the (length|angle|rotation) of step (\d+) \(")


def job(seed: int, units: str = "mm", tolerance: float = 0.01) -> Draft:
    """A planted primary of which more is asked than its limits allow, with a slip joint and a port of its own wants."""
    chance, planted = random.Random(seed), plant(3000 + 2 * seed, extra=seed % 3)
    assert planted.primary.target is not None
    fits = tuple(_within_reach(fit, value_of(planted.steps, fit), chance) for fit in planted.primary.fits)
    asked = planted.primary.target + chance.choice((-1, 1)) * chance.uniform(20, 90)
    draft = draft_of(replace(planted.primary, fits=fits, target=asked), tolerance=tolerance)
    collectors = tuple(replace(each, join="slip", slip=SLIP) for each in draft.collectors)
    limits = replace(draft.limits, port_straight=AT_FLANGE)
    return replace(draft, collectors=collectors, limits=limits, units=units)


def _within_reach(fit: Fit, at: float, chance: random.Random) -> Fit:
    if fit.what == "length":
        return replace(fit, low=1.0, high=at + chance.uniform(2, 30))
    return replace(fit, low=at - chance.uniform(2, 10) * DEGREE, high=at + chance.uniform(2, 10) * DEGREE)


def judged(header: Header) -> list[Finding]:
    return [f for rule in (closing, straights, bend_on_shelf) for f in rule(header)]


def errors(draft: Draft) -> list[str]:
    """What is said against the closed header; straights and bends that are not free are not the closing's to mend."""
    free = {fit.step for fit in draft.primaries[0].fits}
    fixed = [f"step {k}:" for k in range(1, len(draft.primaries[0].steps) + 1) if k not in free]
    said = [f.message for f in judged(close(draft)) if f.level == "error"]
    return [message for message in said if not any(step in message for step in fixed)]


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_length_that_is_advised_is_asked_for_and_passes(units: str) -> None:
    advised = 0
    for seed in range(24):
        draft = job(seed, units)
        said = [match for f in closing(close(draft)) if (match := LENGTH.search(f.message))]
        for match in said:
            length = float(match[1]) * (INCH if match[2] == "in" else 1.0)
            again = draft.with_primaries((replace(draft.primaries[0], target=length),))
            assert errors(again) == [], (seed, match[0])
            advised += 1
    assert advised >= 12


def test_a_straight_is_never_fitted_shorter_than_what_slides_in() -> None:
    """Closed at 30 mm of last straight before; 40 slide into the collector: 10 mm longer is the nearest."""
    draft = job(0)
    [primary] = draft.primaries
    steps = (Straight(100.0), Bend(60 * DEGREE, 63.5, 0.0), Straight(SLIP + 10))
    bore = replace(primary.end, frame=trace_end(primary, steps))
    fits = (Fit(1, "length", 1.0, 1e6), Fit(3, "length", 1.0, 1e6))
    nearer = replace(bore.frame, origin=add(bore.frame.origin, bore.frame.z, -20.0))
    primary = replace(primary, steps=steps, fits=fits, target=None, end=replace(bore, frame=nearer))
    header = close(draft.with_primaries((primary,)))
    assert [f.message for f in straights(header)] == []
    [finding] = closing(header)
    assert "lower limit of 40.0 mm, all of which slides into the collector" in finding.message


def trace_end(primary: Run, steps: tuple[Straight | Bend, ...]) -> Frame:
    line = trace(primary.port.frame, steps)
    origin, z, x = frame_at(line, line.length)
    return Frame(origin, x, cross(z, x), z)


@pytest.mark.slow
def test_values_that_are_advised_to_be_freed_keep_the_straights() -> None:
    """They are marked fit as a user would, without limits: at least those of the shop, the flange and the collector."""
    advised = 0
    for seed in range(24):
        draft = job(seed, tolerance=2.0)
        [primary] = draft.primaries
        for finding in closing(close(draft.with_primaries((replace(primary, fits=()),)))):
            _, _, advice = finding.message.partition("could vary (marked fit): ")
            freed = tuple(_free(int(step), what, primary) for what, step in FREED.findall(advice))
            assert errors(draft.with_primaries((replace(primary, fits=freed),))) == [], (seed, advice)
            advised += 1
    assert advised >= 8


def _free(step: int, what: str, primary: Run) -> Fit:
    at = value_of(primary.steps, Fit(step, what, 0.0, 0.0))  # type: ignore[arg-type]
    if what == "rotation":
        return Fit(step, "rotation", at - math.pi, at + math.pi)
    return Fit(step, "length", 1.0, 1e6) if what == "length" else Fit(step, "angle", DEGREE, math.pi)


def test_bends_in_stock_come_first() -> None:
    """The closing of least change has a bend half a degree larger than the shelf holds; another closing keeps to it."""
    closed = 0
    for seed in range(8):
        planted = plant(3001 + 2 * seed, extra=2)
        [freely] = close(draft_of(planted.primary)).primaries
        free = [fit.step for fit in planted.primary.fits if fit.what == "angle"]
        for number, bend in [(k, b) for k, b in enumerate(freely.steps, 1) if k in free and isinstance(b, Bend)]:
            shelf = StockBend(bend.radius, bend.angle - 0.5 * DEGREE, (0.0, 0.0))
            header = close(replace(draft_of(planted.primary), stock=Stock((shelf,), ())))
            now = header.primaries[0].steps[number - 1]
            assert not header.misses and isinstance(now, Bend)
            closed += now.angle <= shelf.angle + 1e-9
    assert closed >= 6
