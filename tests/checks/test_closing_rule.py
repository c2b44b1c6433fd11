"""What the closing rule says, in the words of the shop."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from headergen.checks.rules.closing import closing
from headergen.model import Bend, Draft, Fit, LengthTarget, Limits, Run, Straight
from headergen.model.finding import Finding
from headergen.solve.closing import close
from tests.checks.small_header import draft

FOREIGN = re.compile(r"\b\w+_\w+\b|\bNone\b|\bnan\b|\binf\b|[{}\[\]<>=]|\b0th\b|\d{7,}")


def said(made: Draft) -> list[Finding]:
    return list(closing(close(made)))


def with_fits(made: Draft, *fits: Fit, length: float = 350.0) -> Draft:
    primary: Run = replace(made.primaries[0], steps=(Straight(length),), fits=fits)
    return made.with_primaries((primary, *made.primaries[1:]))


def test_nothing_of_what_closes() -> None:
    assert said(draft()) == []
    assert said(with_fits(draft(), Fit(1, "length", 300.0, 500.0))) == []


def test_a_limit_that_stands_in_the_way() -> None:
    [finding] = said(with_fits(draft(), Fit(1, "length", 300.0, 380.0)))
    assert (finding.rule, finding.level, finding.where) == ("closing", "error", "primary 1")
    assert (finding.value, finding.limit, finding.unit) == (20.0, 0.5, "mm")
    assert finding.message == (
        "Primary 1 does not reach its bore with the values marked fit: at best it ends 20.0 mm from bore 1 of "
        "collector main (0.5 mm allowed); the length of step 1 (straight) is at its upper limit of 380.0 mm."
    )


def test_a_lower_limit_in_inches() -> None:
    made = with_fits(replace(draft(), units="in"), Fit(1, "length", 400.0 + 25.4, 600.0), length=450.0)
    [finding] = said(made)
    assert (finding.value, finding.limit, finding.unit) == (1.0, 0.02, "in")
    assert "ends 1.000 in from bore 1" in finding.message and "lower limit of 16.748 in" in finding.message


def two_bends(target: float | None, tolerance: float = 3.0) -> Draft:
    """Out and back by the same bend twice: 100 mm beside its port, whatever is between. Only the ends are free.

    The two ends share what is left along y, so that the length is settled: no other one closes.
    """
    made = draft()
    angle, radius = math.radians(40), 63.5
    steps = (
        Straight(100.0),
        Bend(angle, radius, 0.0),
        Straight((100.0 - 2 * radius * (1 - math.cos(angle))) / math.sin(angle)),
        Bend(angle, radius, math.pi),
        Straight(400.0 - 100.0 - 2 * radius * math.sin(angle) - _leg(angle, radius)),
    )
    bore = made.primaries[0].end
    x = made.primaries[0].port.frame.x
    origin = tuple(o + 100.0 * v for o, v in zip(bore.frame.origin, x, strict=True))
    bore = replace(bore, frame=replace(bore.frame, origin=origin))
    fits = (Fit(1, "length", 20.0, 180.0), Fit(5, "length", 20.0, 180.0))
    primary = replace(made.primaries[0], end=bore, steps=(Straight(110.0), *steps[1:]), fits=fits, target=target)
    return replace(made, runs=(primary,), length=LengthTarget(None, tolerance))


def _leg(angle: float, radius: float) -> float:
    """What the middle straight takes of the way along y."""
    return (100.0 - 2 * radius * (1 - math.cos(angle))) / math.tan(angle)


def only_length() -> float:
    """Two ends and a middle along y make 400; the middle is longer along itself than along y, and so are the arcs."""
    angle, radius = math.radians(40), 63.5
    middle = (100.0 - 2 * radius * (1 - math.cos(angle))) / math.sin(angle)
    return 400.0 - 2 * radius * math.sin(angle) - _leg(angle, radius) + middle + 2 * radius * angle


def test_the_nearest_length_that_works() -> None:
    made = two_bends(target=only_length() + 6.0)
    [finding] = said(made)
    length = only_length()
    assert (finding.level, finding.value, finding.limit, finding.unit) == (
        "error",
        round(length, 1),
        round(length + 6, 1),
        "mm",
    )
    assert finding.message.startswith(
        f"Primary 1 cannot reach bore 1 of collector main at a length of {length + 6:.1f} mm with the values "
        f"marked fit; the nearest length that works is {length:.1f} mm, which is used here "
        f"(6.0 mm less where 3.0 mm is allowed)"
    )
    assert "; it would reach its bore if these could vary too (marked fit): the " in finding.message


def test_a_length_within_the_tolerance_is_only_told() -> None:
    [finding] = said(two_bends(target=only_length() - 2.0))
    assert finding.level == "info" and "2.0 mm more where 3.0 mm is allowed" in finding.message
    assert "could vary" not in finding.message


def test_two_ends_close_without_a_target() -> None:
    assert said(two_bends(target=None)) == []


def test_a_miss_within_the_limits_is_only_told() -> None:
    """One value cannot take out what the last digit of the others leaves; the shop's own limits let that pass."""
    made = two_bends(target=None)
    [primary] = made.primaries
    fits = (primary.fits[0],)
    nearly = (*primary.steps[:4], Straight(primary.steps[4].length))
    turned = (*nearly[:3], replace(nearly[3], angle=nearly[3].angle + math.radians(0.02)), nearly[4])
    [finding] = said(made.with_primaries((replace(primary, steps=turned, fits=fits),)))
    assert finding.level == "info"
    assert finding.message.startswith(
        "Primary 1 does not reach its bore exactly with the values marked fit: at best it "
    )


def test_what_would_close_a_primary_without_fits() -> None:
    made = draft([Straight(390.0)])
    [finding] = said(made)
    assert (finding.rule, finding.level, finding.value, finding.limit) == ("closing", "info", 10.0, 0.5)
    assert finding.message == (
        "Primary 1 ends 10.0 mm from bore 1 of collector main (0.5 mm allowed); it would reach its bore if these could "
        "vary (marked fit): the length of step 1 (straight)."
    )


def test_a_miss_that_nothing_helps_is_left_to_the_other_rules() -> None:
    made = draft([Straight(400.0)], pitch=90.0)
    primary = made.primaries[0]
    frame = replace(primary.end.frame, origin=(40.0, 400.0, 0.0))
    off = replace(primary, end=replace(primary.end, frame=frame))
    assert said(made.with_primaries((off,))) == []


@pytest.mark.parametrize("units", ["mm", "in"])
def test_messages_are_shop_words(units: str) -> None:
    cases = [
        with_fits(draft(), Fit(1, "length", 300.0, 380.0)),
        two_bends(480.0),
        two_bends(only_length() - 2.0),
        draft([Straight(390.0)]),
        replace(two_bends(480.0), limits=Limits(0.0, 0.0, 0.0, 5.0, 110.0, 0.05)),
    ]
    for made in cases:
        [finding] = said(replace(made, units=units))  # type: ignore[arg-type]
        assert not FOREIGN.search(finding.message), finding.message
        assert finding.message.startswith("Primary 1 ") and finding.message.endswith(".")
        numbers = {float(text) for text in re.findall(r"\d+(?:\.\d+)?", finding.message)}
        assert {finding.value, finding.limit} <= numbers, finding
        assert finding.unit == units and units in finding.message
