"""A crossover at the bench: its fishmouths and the holes for it are steps on the phone, and tables name its start."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path
from typing import Any

import pytest

from headergen.outputs.shop import write_shop
from headergen.outputs.shop.screens.steps import Screen, screens
from tests.demos import cut_once, settled_once

SPEC = Path(__file__).parents[2] / "specs" / "guide_crossover.yaml"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Any]:
    folder = tmp_path_factory.mktemp("shop")
    write_shop(folder, settled_once("guide_crossover"), cut_once("guide_crossover"), "1.0")
    return folder, json.loads((folder / "shop.json").read_text(encoding="utf-8"))


def of_tube(data: Any, tube: str) -> list[Screen]:
    return [screen for screen in screens(data) if screen.tube == tube]


def test_both_ends_are_cut_to_their_fishmouths(bench: tuple[Path, Any]) -> None:
    """38.1 on 45 at a right angle: the tips reach R − √(R² − r²) farther than the rest, by the circle's sagitta."""
    _, data = bench
    piece, done = of_tube(data, "Secondary balance")
    steps = {group.tab: group for group in piece.groups}
    assert {"Fit first", "Fit last"} <= steps.keys()
    for tab, template, host in (("Fit first", "B1", "left"), ("Fit last", "B2", "right")):
        assert f"template {template}, its witness line" in steps[tab].said
        assert steps[tab].after.startswith(f"It sits on secondary {host} all round")
    deep = 22.5 - math.sqrt(22.5**2 - 19.05**2)
    assert [each["depth_mm"] for each in data["templates"] if each["cut"] == "fishmouth"] == pytest.approx(
        [deep] * 2, abs=0.01
    )
    assert "on the axis of secondary left, to the middle of its end" in done.groups[0].said


def test_the_hole_is_cut_in_what_it_stands_on(bench: tuple[Path, Any]) -> None:
    _, data = bench
    for tube, name in (("Secondary left", "B1"), ("Secondary right", "B2")):
        [hole] = [screen for screen in of_tube(data, tube) if screen.title == "Hole for secondary balance"]
        assert f"template {name}" in hole.groups[0].said and "faces" in hole.groups[0].said
        assert "right" in hole.groups[0].said if name == "B1" else "left" in hole.groups[0].said
    assert [each["from_start_mm"] for each in data["holes"]] == [150.0, 150.0]
    names = [screen.name for screen in screens(data)]
    assert len(set(names)) == len(names), "each screen has an address of its own"


def test_a_turn_counts_from_where_the_tube_starts(bench: tuple[Path, Any]) -> None:
    folder, data = bench
    with (folder / "shop" / "turns.csv").open(encoding="utf-8", newline="") as text:
        rows = list(csv.DictReader(text))
    assert {"direction, looking along the tube from its start"} <= rows[0].keys()
    said = [group.said for screen in of_tube(data, "Secondary left") for group in screen.groups if group.tab == "Turn"]
    assert any("seen looking along the tube from its start" in each for each in said)
