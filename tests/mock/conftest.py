"""The mocks of the demos, each made once a run."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from headergen.mock.build import Mock, make_mock
from headergen.model import Header, MockSettings
from headergen.pipeline import settle

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ("bogbean", "withybed", "glasswort_left", "glasswort_right")


@cache
def _demo(name: str) -> tuple[Header, Mock]:
    header = settle(ROOT / "specs" / f"{name}.yaml")
    return header, make_mock(header, MockSettings())


@pytest.fixture(scope="session")
def demo() -> Callable[[str], tuple[Header, Mock]]:
    return _demo


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """`name`: one demo by default, the others slow."""
    if "name" in metafunc.fixturenames:
        slow = [pytest.param(each, marks=pytest.mark.slow) for each in DEMOS[1:]]
        metafunc.parametrize("name", [DEMOS[0], *slow])
