"""The mocks of the demos, each made once for all workers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from headergen.mock.build import Mock, make_mock
from headergen.model import Header, MockSettings
from headergen.pipeline import settle
from tests.lots import series

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ("bogbean", "withybed", "glasswort_left", "glasswort_right")


MadeOnce = Callable[[str, Callable[[], tuple[Header, Mock]]], tuple[Header, Mock]]


def _demo(name: str) -> tuple[Header, Mock]:
    header = settle(ROOT / "specs" / f"{name}.yaml")
    return header, make_mock(header, MockSettings())


@pytest.fixture(scope="session")
def demo(made_once: MadeOnce) -> Callable[[str], tuple[Header, Mock]]:
    return lambda name: made_once(f"mock of {name}", lambda: _demo(name))


def _whole(name: str) -> tuple[Header, Mock]:
    header = settle(ROOT / "specs" / f"{name}.yaml")
    joints = tuple((primary.name, 1) for primary in header.primaries)
    return header, make_mock(header, MockSettings(collector=True, cut_guides=True, steel_after=joints))


@pytest.fixture(scope="session")
def whole_demo(made_once: MadeOnce) -> Callable[[str], tuple[Header, Mock]]:
    """With all that is printed only when asked for: collectors, cut guides, and an adapter at each first joint."""
    return lambda name: made_once(f"whole mock of {name}", lambda: _whole(name))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """`name`: one demo by default, the others slow, in turns."""
    if "name" in metafunc.fixturenames:
        metafunc.parametrize("name", [DEMOS[0], *series(DEMOS[1:])])
