"""Findings of the checks, their levels, and the order in which they are shown."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Level = Literal["error", "warning", "info"]
LEVELS: tuple[Level, ...] = ("error", "warning", "info")
FIRST = frozenset({"turned-over"})


@dataclass(frozen=True)
class Finding:
    """One finding of a check.

    `where` names the primary or item in shop words; `value` and `limit` are in `unit`, as the message prints them;
    `point` is the place in engine axes, millimetres. `rule` is a short public code such as "gap-chassis". `against`
    names the other thing, if there is one: a chassis item, or "primary 2".
    """

    rule: str
    level: Level
    where: str
    value: float | None
    limit: float | None
    unit: str
    message: str
    point: tuple[float, float, float] | None = None
    against: str = ""


def sort_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Worst level first, then by place, then by rule; equal ones keep their order.

    A finding that causes or removes others comes first in its level.
    """
    return tuple(sorted(findings, key=lambda f: (LEVELS.index(f.level), f.rule not in FIRST, f.where, f.rule)))


def worst_level(findings: Iterable[Finding]) -> Level | None:
    """The worst level among the findings, or None if there are none."""
    found = {finding.level for finding in findings}
    return next((level for level in LEVELS if level in found), None)
