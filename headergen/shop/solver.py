"""Integer programmes solved by HiGHS, with its own words kept off standard output.

HiGHS prints a line now and then whatever its options say (`printf` in HighsMipSolverData). What a command prints is for
the reader, or for another program, so file descriptor 1 is held to the null device while it works.
"""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from scipy.optimize import OptimizeResult, milp

STDOUT = 1
C_LIBRARY = "ucrtbase" if os.name == "nt" else None  # None: that of the running program


def optimum(c: Any, **programme: Any) -> OptimizeResult:
    """What scipy.optimize.milp finds, with nothing printed."""
    with _silence():
        return milp(c, **programme)


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
