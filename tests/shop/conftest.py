"""The bench of the demos, each planned once for all workers."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from headergen.model import Header, Shop
from headergen.pipeline import settle
from headergen.shop.stage import shop_of

SPECS = Path(__file__).resolve().parents[2] / "specs"


def _planned(name: str) -> tuple[Header, Shop]:
    header = settle(SPECS / f"{name}.yaml")
    return header, shop_of(header)


@pytest.fixture(scope="session")
def planned(made_once: Callable[[str, Callable[[], Any]], Any]) -> Callable[[str], tuple[Header, Shop]]:
    """A header and its bench, without the gaps of a check."""
    return lambda name: made_once(f"bench of {name}", lambda: _planned(name))  # type: ignore[no-any-return]
