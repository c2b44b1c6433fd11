"""What a solver prints by itself never arrives on standard output, even where that is a pipe."""

from __future__ import annotations

import subprocess
import sys

# A solver that prints through C's own buffer, as HiGHS does, before it solves; the buffer is emptied at the end.
CHATTY = """
import ctypes, sys
import headergen.shop.solver as solver
honest, library = solver.milp, ctypes.CDLL(solver.C_LIBRARY)
def chatty(c, **programme):
    library.puts(b"a line of the solver")
    return honest(c, **programme)
solver.milp = chatty
print("before", flush=False)
library.puts(b"from C")
"""
QUIET = CHATTY + 'print("found", solver.optimum([-1.0], integrality=[1], bounds=(0, 3.5)).x[0])'
LOUD = CHATTY + "chatty([-1.0], integrality=[1], bounds=(0, 3.5))"
FAILING = CHATTY + "\ntry:\n    solver.optimum([-1.0], integrality='x')\nexcept ValueError:\n    print('refused')"


def printed(program: str) -> list[str]:
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return sorted(done.stdout.splitlines())


def test_a_line_of_the_solver_would_arrive() -> None:
    assert printed(LOUD) == ["a line of the solver", "before", "from C"]


def test_nothing_of_the_solver_arrives_and_nothing_else_is_lost() -> None:
    assert printed(QUIET) == ["before", "found 3.0", "from C"]


def test_standard_output_is_given_back_after_an_error() -> None:
    assert printed(FAILING) == ["before", "from C", "refused"]


def test_a_program_without_standard_output_solves_too() -> None:
    program = CHATTY + "import os\nos.close(1)\nprint(solver.optimum([-1.0], integrality=[1], bounds=(0, 3.5)).x[0], "
    done = subprocess.run([sys.executable, "-c", program + "file=sys.stderr)"], capture_output=True, text=True)
    assert done.stderr.splitlines()[0] == "3.0"
