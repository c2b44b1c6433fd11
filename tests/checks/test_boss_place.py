"""A boss beyond the end of its tube: moved back as the message says, it stands on the tube."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from headergen.checks.rules.bosses import boss_place
from headergen.model import Boss
from tests.checks.small_header import LENGTH, draft, measured


def said(at: float, units: str) -> list[str]:
    boss = Boss("lambda", "primary 1", at, 0.0, 28.0, 14.0, 16.5, True, on_outlet=False)
    return [finding.message for finding in boss_place(measured(replace(draft(), bosses=(boss,), units=units)).header)]


@pytest.mark.parametrize(("units", "to_mm", "shown"), [("mm", 1.0, 0.1), ("in", 25.4, 0.0254)])
@pytest.mark.parametrize("beyond", [0.5, 7.77, 123.456])
def test_moved_back_as_advised_it_stands_on_its_tube(units: str, to_mm: float, shown: float, beyond: float) -> None:
    """With half of its 28 mm, rounded up to what is shown and no more."""
    at = LENGTH + beyond
    [message] = said(at, units)
    found = re.search(r"move the boss back by at least ([\d.]+)", message)
    assert found, message
    back = float(found[1]) * to_mm
    assert 0.0 <= back - (beyond + 14.0) <= shown + 1e-9
    assert said(at - back, units) == []
