"""What a solver prints by itself never arrives on standard output, even where that is a pipe."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from headergen.shop.solver import Programme, cells_of, optimum

# A solver that prints through C's own buffer, as HiGHS does, before it solves; the buffer is emptied at the end.
CHATTY = """
import ctypes, sys
import highspy
import numpy as np
import headergen.shop.solver as solver
honest, library = highspy.Highs.run, ctypes.CDLL(solver.C_LIBRARY)
def chatty(self):
    library.puts(b"a line of the solver")
    return honest(self)
highspy.Highs.run = chatty
print("before", flush=False)
library.puts(b"from C")
one, none = np.ones(1), np.zeros(1)
cells = solver.cells_of(np.array([[2.0]]))
programme = solver.Programme(-one, (none, 9 * one), cells, (none, 7 * one), one)  # 2 x is at most 7
"""
QUIET = CHATTY + 'print("found", solver.optimum(programme).x[0])'
LOUD = CHATTY + "chatty(highspy.Highs())"
FAILING = (
    CHATTY
    + """
try:
    solver.optimum(solver.Programme(-one, (none, one), cells, (none, one), "x"))
except ValueError:
    print("refused")
"""
)


def printed(program: str) -> list[str]:
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return sorted(done.stdout.splitlines())


def test_a_line_of_the_solver_would_arrive() -> None:
    assert {"a line of the solver", "before", "from C"} < set(printed(LOUD))


def test_nothing_of_the_solver_arrives_and_nothing_else_is_lost() -> None:
    assert printed(QUIET) == ["before", "found 3.0", "from C"]


def test_standard_output_is_given_back_after_an_error() -> None:
    assert printed(FAILING) == ["before", "from C", "refused"]


def test_a_program_without_standard_output_solves_too() -> None:
    program = CHATTY + "import os\nos.close(1)\nprint(solver.optimum(programme).x[0], "
    done = subprocess.run([sys.executable, "-c", program + "file=sys.stderr)"], capture_output=True, text=True)
    assert done.stderr.splitlines()[0] == "3.0"


def test_what_cannot_be_is_said() -> None:
    none, one = np.zeros(1), np.ones(1)
    asked = Programme(one, (none, one), cells_of(np.array([[1.0]])), (2 * one, 3 * one), none)
    found = optimum(asked)
    assert (found.x, found.message) == (None, "Infeasible")


@pytest.mark.parametrize("seed", range(5))
def test_the_optimum_is_that_of_all_whole_points(seed: int) -> None:
    rng = np.random.default_rng(seed)
    costs, matrix, most = rng.normal(size=3), rng.normal(size=(4, 3)), rng.uniform(1, 5, 4)
    points = np.stack(np.meshgrid(*[np.arange(-4.0, 5.0)] * 3), axis=-1).reshape(-1, 3)
    least = min(float(costs @ point) for point in points if (matrix @ point <= most).all())
    limits = (np.full(3, -4.0), np.full(3, 4.0))
    found = optimum(Programme(costs, limits, cells_of(matrix), (np.full(4, -np.inf), most), np.ones(3)))
    assert found.x is not None
    assert (matrix @ found.x <= most + 1e-6).all()
    np.testing.assert_allclose(costs @ found.x, least, atol=1e-6)
