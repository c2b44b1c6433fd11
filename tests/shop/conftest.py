"""The bench of the demos, each planned once for all workers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from headergen.model import Header, Shop
from tests.demos import cut_once, settled_once

SPECS = Path(__file__).resolve().parents[2] / "specs"


def _planned(name: str) -> tuple[Header, Shop]:
    return settled_once(name), cut_once(name)


@pytest.fixture(scope="session")
def planned(made_once: Callable[[str, Callable[[], Any]], Any]) -> Callable[[str], tuple[Header, Shop]]:
    """A header and its bench, without the gaps of a check."""
    return lambda name: made_once(f"bench of {name}", lambda: _planned(name))  # type: ignore[no-any-return]
