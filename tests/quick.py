"""Which cases of a test run by default, and which with the slow ones."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def first(count: int, cases: Iterable[Any]) -> list[Any]:
    """The first `count` run by default, the others are slow."""
    return [case if k < count else pytest.param(case, marks=pytest.mark.slow) for k, case in enumerate(cases)]
