"""Hints for a merge whose middle stays open, or whose spike has no room: each is tried on the rule, then as a whole."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from headergen.checks.rules.merges import merges
from headergen.model import Collector, Draft
from headergen.model.finding import Finding
from headergen.solve.hints.trial import Known, outcome_of
from headergen.words.say import say_angle, say_length

RULES = ("merge-middle", "merge-spike")
SMALLER = tuple(1.0 - 0.04 * k for k in range(1, 13))  # of the outlet
FLATTEST = math.radians(5)
DEGREE = math.radians(1)


def merge_hint(finding: Finding, known: Known) -> str:
    """What was found to help, in words; empty if nothing was."""
    draft = known.header.draft
    collector = next(each for each in draft.collectors if finding.where == f"collector {each.name}")
    kinds = (_with_spike, _smaller) if finding.rule == "merge-middle" else (_without_spike, _flatter)
    helpful = []
    for kind in kinds:
        found = next((each for each in kind(collector, draft) if _makes(known, each[1])), None)
        if found is not None and outcome_of(_with(draft, found[1]), known, [finding]).helps:
            helpful.append(found[0])
    return f"{' or '.join(helpful)} would fix it" if helpful else ""


def _makes(known: Known, collector: Collector) -> bool:
    """Whether a collector passes the rule of merges."""
    draft = replace(known.header.draft, collectors=(collector,))
    return not any(True for _ in merges(replace(known.header, draft=draft)))


def _with(draft: Draft, collector: Collector) -> Draft:
    return replace(
        draft, collectors=tuple(collector if each.name == collector.name else each for each in draft.collectors)
    )


def _with_spike(collector: Collector, _: Draft) -> Iterator[tuple[str, Collector]]:
    yield "a spike", replace(collector, spike=True)


def _without_spike(collector: Collector, _: Draft) -> Iterator[tuple[str, Collector]]:
    yield "leaving the spike out", replace(collector, spike=False)


def _smaller(collector: Collector, draft: Draft) -> Iterator[tuple[str, Collector]]:
    assert collector.outlet is not None
    for share in SMALLER:
        outlet = round(share * collector.outlet, 1)
        yield f"an outlet of {say_length(outlet, draft.units)}", replace(collector, outlet=outlet)


def _flatter(collector: Collector, _: Draft) -> Iterator[tuple[str, Collector]]:
    assert collector.half_angle is not None
    angle = math.floor(collector.half_angle / DEGREE) * DEGREE
    while angle >= FLATTEST:
        if angle < collector.half_angle:
            yield f"a half angle of {say_angle(angle)}", replace(collector, half_angle=angle)
        angle -= DEGREE
