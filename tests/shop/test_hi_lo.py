"""The step between oval walls, against (a − b)·|sin φ| by hand and the exact ellipses."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from headergen.model import CutPiece, PieceEnd, Plan, PlanFigures, Stock, Tube, WeldJoint
from headergen.shop.hi_lo import oval_step, with_hi_lo

T = Tube(41.275, 1.651, "304L")
LONG, SHORT = 42.9095, 39.6075  # mm: T at 8 % with its perimeter kept; shared references, joint fit-up


@pytest.mark.parametrize(("degrees", "step"), [(90, 1.6510), (30, 0.8255), (45, 1.1674)])
def test_the_step_of_two_ovals_is_that_of_the_formula(degrees: float, step: float) -> None:
    assert oval_step((LONG - SHORT) / 2, math.radians(degrees)) == pytest.approx(step, abs=5e-5)


@pytest.mark.parametrize("degrees", [5, 30, 45, 70, 90])
def test_the_step_is_that_of_the_exact_ellipses(degrees: float) -> None:
    def reach(turn: np.ndarray) -> np.ndarray:
        a, b = LONG / 2, SHORT / 2
        found: np.ndarray = a * b / np.hypot(b * np.cos(turn), a * np.sin(turn))
        return found

    at = np.linspace(0, 2 * math.pi, 7201)
    exact = float(np.abs(reach(at) - reach(at - math.radians(degrees))).max())
    assert oval_step((LONG - SHORT) / 2, math.radians(degrees)) == pytest.approx(exact, rel=0.01)


def plan_of(first: str, second: str) -> Plan:
    bend = CutPiece(
        "primary 1", 1, 0, 60, (0, 0), 1.0, 60, 2, (PieceEnd("bought"), PieceEnd("square")), True, None,
    )  # fmt: skip
    before = replace(bend, ends=(PieceEnd("bought"), PieceEnd(first)))  # type: ignore[arg-type]
    after = replace(bend, number=2, ends=(PieceEnd(second), PieceEnd("bought")))  # type: ignore[arg-type]
    joint = WeldJoint("primary 1", 1, 60, math.pi / 2)
    return Plan((before, after), (joint,), (), PlanFigures(0, 0, 1, 2, 0, 0.0))


def steps(first: str, second: str) -> list[float]:
    plan = with_hi_lo(plan_of(first, second), Stock((), (), oval=0.08), lambda run, at: T)
    return [joint.hi_lo for joint in plan.joints]


def test_only_a_face_inside_an_arc_is_oval() -> None:
    assert steps("square", "bought") == [0.0]
    assert steps("arc", "arc") == [pytest.approx(0.08 * 41.275 / 2)]
    assert steps("arc", "square") == [pytest.approx(0.08 * 41.275 / 4)], "an oval against a round face"
