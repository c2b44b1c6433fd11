"""Integer programmes, built row by row and solved to the optimum by HiGHS, one objective after the other."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from headergen.geometry.arrays import Array
from headergen.model import PlanError
from headergen.shop.solver import Cells, Programme, optimum

HALF = 0.5  # between two whole numbers
MOST_NODES = 10_000  # of the search; eight tubes of four bends need one. A time limit would differ from run to run
DIGIT = 1e-6  # of a sum that need not be whole


@dataclass
class Model:
    """An integer programme as it is built: bounded variables, rows, and the objectives, the most important first."""

    levels: tuple[str, ...]
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)
    terms: dict[str, dict[int, float]] = field(default_factory=lambda: defaultdict(dict))
    constant: dict[str, float] = field(default_factory=lambda: defaultdict(float))

    def variable(self, high: float, whole: bool = True, **levels: float) -> int:
        """A variable from 0 to `high`, with its weight in each objective."""
        self.low.append(0.0)
        self.high.append(high)
        self.whole.append(int(whole))
        index = len(self.low) - 1
        for name, value in levels.items():
            if value:
                self.terms[name][index] = value
        return index

    def row(self, terms: Mapping[int, float], least: float = -math.inf, most: float = math.inf) -> None:
        self.rows.append((dict(terms), least, most))


def solve(model: Model) -> tuple[dict[str, float], Array]:
    """Minimise each objective in turn with those before it held; their values, and the solution. Raises PlanError."""
    values: dict[str, float] = {}
    solved = solve_for(model, {}, np.array(model.whole)) if not any(model.terms.values()) else np.zeros(0)
    for name in model.levels:
        terms, constant = model.terms[name], model.constant[name]
        if terms:
            solved = solve_for(model, terms, np.array(model.whole))
        found = sum(value * float(solved[index]) for index, value in terms.items())
        if terms:
            counts = all(model.whole[index] and value == int(value) for index, value in terms.items())
            model.row(terms, most=round(found) + HALF if counts else found + DIGIT)
        values[name] = found + constant
    return values, solved


def solve_for(model: Model, objective: Mapping[int, float], whole: Array) -> Array:
    """The values of all variables that minimise `objective`. Raises PlanError if the solver stops earlier."""
    c = np.zeros(len(model.low))
    if not model.low:
        return c
    for index, value in objective.items():
        c[index] = value
    cells = [(r, index, value) for r, (terms, _, _) in enumerate(model.rows) for index, value in terms.items()]
    at, across = (np.array([cell[k] for cell in cells], int) for k in (0, 1))
    values = np.array([cell[2] for cell in cells], float)
    low, high = (np.array([row[k] for row in model.rows], float) for k in (1, 2))
    limits = (np.array(model.low), np.array(model.high))
    programme = Programme(c, limits, Cells(at, across, values, len(model.rows)), (low, high), whole)
    found = optimum(programme, mip_max_nodes=MOST_NODES)
    if found.x is None:
        raise PlanError(f"no plan was found: {found.message}")
    solved: Array = found.x
    return solved
