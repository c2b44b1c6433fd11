"""A study: one spec with some of its values changed, case by case, and what each case comes to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from headergen.model.inputs import SpecPath
from headergen.model.path import Vec

MOST_CASES = 2000


@dataclass(frozen=True)
class SpecChange:
    """A value for a key of the spec (`collectors.main.plane.origin`); `asked_at`: its place in the study's file."""

    key: str
    value: Any
    asked_at: SpecPath = ()


@dataclass(frozen=True)
class StudyCase:
    """`chosen`: of each value that varies, its name and what it is here, as words."""

    name: str
    chosen: tuple[tuple[str, str], ...]
    changes: tuple[SpecChange, ...]


@dataclass(frozen=True)
class Study:
    """`spec`: its path as written; `better`: of each figure that is compared, whether less of it is better."""

    spec: str
    cases: tuple[StudyCase, ...]
    seed: int = 0
    seconds: float = 20.0
    rounds: int | None = None
    places: int | None = None
    better: tuple[tuple[str, bool], ...] = ()


@dataclass(frozen=True)
class CaseFigures:
    """What a routed header comes to: millimetres and degrees; `outlet`: from the centre of the first port.

    `gap`: the smallest between any two things besides tubes that converge; infinite if there are no two. `joints` is
    None if the bench could not be planned.
    """

    length: float
    degrees: float
    bends: int
    joints: int | None
    gap: float
    outlet: Vec

    def of(self, name: str) -> float:
        """A figure by its name, x, y and z of the outlet included; not a number if it is unknown."""
        if name in "xyz":
            return self.outlet["xyz".index(name)]
        value = getattr(self, name)
        return math.nan if value is None else float(value)


@dataclass(frozen=True)
class CaseResult:
    """A case with its figures, or with the reasons why there are none; `best`: no other is better in every figure."""

    case: StudyCase
    figures: CaseFigures | None = None
    why: tuple[str, ...] = ()
    best: bool = False
