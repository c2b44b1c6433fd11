"""Bends that cannot be cut from those on hand: what they cost, and what is said of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from headergen.model import Bend, Header, PlanError
from headergen.model.finding import Finding, Level
from headergen.shop.on_hand import Without, is_limited, without_stock
from headergen.solve.closing import close
from headergen.solve.route.cost import CostTerm
from headergen.solve.route.supply import lacking_in, supply_of
from headergen.words.say import capital, say_angle, say_length, say_list

if TYPE_CHECKING:
    from headergen.solve.route.answer import Answer

NAMED = 4  # bends that are named


def not_on_hand(header: Header) -> Iterator[CostTerm]:
    """The cost of bends without stock, where the list has kinds that are not bought."""
    if is_limited(header.draft.stock):
        try:
            lacking = len(list(without_stock(header)))
        except PlanError:  # said of the answer; until then the quick count, so that it looks no better than it is
            lacking = _quickly(header)
        yield CostTerm("bends not on hand", lacking, header.draft.routing.cost_weights.lacking)


def _quickly(header: Header) -> int:
    bends = [step for run in header.runs for step in run.steps if isinstance(step, Bend)]
    angles, radii = np.array([bend.angle for bend in bends]), tuple(bend.radius for bend in bends)
    return lacking_in(supply_of(header.draft, header.runs), [(angles, radii)])


def say_on_hand(answers: Sequence[Answer]) -> Iterator[Finding]:
    """For each answer, whether its bends can be cut from those on hand, where not all kinds are bought."""
    for number, answer in enumerate(answers, 1):
        header = close(answer.draft)
        if not is_limited(header.draft.stock):
            continue
        of = "" if len(answers) == 1 else f"Alternative {number}: "
        bends = sum(isinstance(step, Bend) for run in header.runs for step in run.steps)
        try:
            lacking = list(without_stock(header))
        except PlanError as wrong:
            yield _said(f"{of}whether the bends on hand are enough could not be told: {wrong}.", 0, bends)
            continue
        if lacking:
            message = _say_lacking(header, lacking, bends)
        else:
            message = f"the bends on hand are enough: all {bends} can be cut from them."
        yield _said(f"{of}{message}", len(lacking), bends)


def _say_lacking(header: Header, lacking: Sequence[Without], bends: int) -> str:
    units = header.draft.units
    named = [
        f"{say_angle(each.angle)} of radius {say_length(each.radius, units)} ({each.run}, step {each.step})"
        for each in lacking[:NAMED]
    ]
    more = f" and {len(lacking) - NAMED} more" if len(lacking) > NAMED else ""
    return (
        f"the bends on hand are not enough for {len(lacking)} of {bends} bends: {say_list(named)}{more}. "
        f"Buy what these are cut from, or search longer."
    )


def _said(message: str, lacking: int, bends: int) -> Finding:
    level: Level = "warning" if lacking else "info"
    return Finding("route-count", level, "route", float(lacking), float(bends), "bends", capital(message))
