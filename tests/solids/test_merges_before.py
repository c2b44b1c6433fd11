"""Merges that could be made before those that are not of revolution: what that tree made of them is made still.

`merges_before.py` says of which tree the figures are, and how they were taken from it.
"""

from __future__ import annotations

import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest

from tests.solids.merges_before import CASES, KERNEL, case, figures_of

BEFORE: dict[str, Any] = json.loads(Path(__file__).with_suffix("").with_name("merges_before.json").read_text("utf-8"))
SAME = 1e-9  # of each figure: another processor's arithmetic
MESHED = 1e-6  # of places on a mesh, and of volumes: another version of the kernel
FIRST = 3  # cases of the default set


def refuse_other(name: str) -> None:
    now, before = figures_of(*case(name)), BEFORE["cases"][name]
    assert now["heights"] == pytest.approx(before["heights"], rel=SAME, abs=SAME)
    areas, then = ([area for _, area in each["flow"]] for each in (now, before))
    assert areas == pytest.approx(then, rel=SAME)
    assert list(now["parts"]) == list(before["parts"])
    for part, was in before["parts"].items():
        made = now["parts"][part]
        assert made["faces"] == was["faces"]
        for key in ("volume", "centre", "low", "high"):
            assert made[key] == pytest.approx(was[key], rel=MESHED, abs=1e-3), (part, key)
        if version(KERNEL) == BEFORE["kernel"]:  # another kernel may place the triangles otherwise
            assert made["stl"] == was["stl"], part


@pytest.mark.quick(1)
@pytest.mark.parametrize("name", CASES[:FIRST])
def test_a_merge_is_as_it_was(name: str) -> None:
    refuse_other(name)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("name", CASES[FIRST:])
def test_another_merge_is_as_it_was(name: str) -> None:
    refuse_other(name)


def test_every_case_has_a_collector_and_some_have_a_spike() -> None:
    parts = [list(each["parts"]) for each in BEFORE["cases"].values()]
    assert all(each[0] == "collector main" for each in parts)
    assert sum("spike main" in each for each in parts) >= 5
