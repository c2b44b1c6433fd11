"""Long rows of random cases, cut into lots of which one run may take a share (`--share` in conftest.py)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

SERIES = (pytest.mark.slow, pytest.mark.series)


def series(cases: Iterable[Any]) -> list[Any]:
    """Cases of a test that are slow, and of which `--share` keeps some."""
    return [pytest.param(case, marks=SERIES) for case in cases]


def in_lots(seeds: range, size: int) -> list[Any]:
    """So many seeds to a case."""
    lots = (seeds[k : k + size] for k in range(0, len(seeds), size))
    return [pytest.param(lot, id=f"{lot[0]} to {lot[-1]}", marks=SERIES) for lot in lots]
