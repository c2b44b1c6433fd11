"""Integer programmes solved by HiGHS, with its own words kept off standard output.

HiGHS prints a line now and then whatever its options say (`printf` in HighsMipSolverData). What a command prints is for
the reader, or for another program, so file descriptor 1 is held to the null device while it works. It is asked by its
own interface: that of scipy takes as long to load as a plan takes to find.

Ctrl-C is heard when a solve is over, which takes under a second. HiGHS 1.12 can be cancelled from another thread, but
then aborts the process as that ends.
"""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array

STDOUT = 1
C_LIBRARY = "ucrtbase" if os.name == "nt" else None  # None: that of the running program


@dataclass(frozen=True, eq=False)
class Cells:
    """The coefficients of a programme that are not zero: their rows and columns, and the number of rows."""

    at: NDArray[np.integer[Any]]
    across: NDArray[np.integer[Any]]
    values: Array
    rows: int


@dataclass(frozen=True, eq=False)
class Programme:
    """Minimise `costs` @ x, where x is within its limits and the rows are within theirs.

    Limits are (least, most). `whole`: 1 for a variable that is a whole number, else 0.
    """

    costs: Array
    limits: tuple[Array, Array]
    cells: Cells
    row_limits: tuple[Array, Array]
    whole: Array


@dataclass(frozen=True, eq=False)
class Optimum:
    """The values of the variables, None if the optimum was not found, and what the solver says of that."""

    x: Array | None
    message: str


def cells_of(matrix: Array) -> Cells:
    """The cells of a matrix in full."""
    at, across = np.nonzero(matrix)
    return Cells(at, across, matrix[at, across], len(matrix))


def optimum(programme: Programme, **options: Any) -> Optimum:
    """The optimum by HiGHS with these options of its own, and nothing printed."""
    import highspy

    with _silence():
        solver = highspy.Highs()
        for name, value in {"output_flag": False, "mip_rel_gap": 0.0, **options}.items():
            solver.setOptionValue(name, value)
        solver.passModel(_model(programme))
        solver.run()
        status = solver.getModelStatus()
        x = np.array(solver.getSolution().col_value) if status == highspy.HighsModelStatus.kOptimal else None
        return Optimum(x, solver.modelStatusToString(status))


def _model(programme: Programme) -> Any:
    """The programme as HiGHS has it: by columns."""
    import highspy

    cells, count = programme.cells, len(programme.costs)
    order = np.lexsort((cells.at, cells.across))
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = count, cells.rows
    model.col_cost_ = programme.costs
    model.col_lower_, model.col_upper_ = programme.limits
    model.row_lower_, model.row_upper_ = programme.row_limits
    model.a_matrix_.num_col_, model.a_matrix_.num_row_ = count, cells.rows
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    model.a_matrix_.start_ = np.concatenate([[0], np.cumsum(np.bincount(cells.across, minlength=count))])
    model.a_matrix_.index_ = cells.at[order]
    model.a_matrix_.value_ = cells.values[order]
    model.integrality_ = [highspy.HighsVarType(int(each)) for each in programme.whole]
    return model


@contextmanager
def _silence() -> Iterator[None]:
    """Nothing that C code prints arrives; what Python prints is in a buffer of its own and is not touched.

    C keeps lines for a pipe until its buffer is full or the program ends, so it is emptied before and after.
    """
    flush = ctypes.CDLL(C_LIBRARY).fflush
    flush(None)
    try:
        kept = os.dup(STDOUT)
    except OSError:  # there is no standard output
        yield
        return
    null = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(null, STDOUT)
        yield
    finally:
        flush(None)
        os.dup2(kept, STDOUT)
        os.close(null)
        os.close(kept)
