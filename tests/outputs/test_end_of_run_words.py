"""What the bench is told of a run from an outlet to a place of its own: nothing of flange, bore or collector end."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from headergen.model import Header, Shop
from headergen.outputs.shop import shop_data
from headergen.outputs.shop.by_hand import said_of_chances, said_of_run
from headergen.outputs.shop.screens.steps import screens
from headergen.pipeline import bench, check
from tests.checks.test_sign_off import with_a_tail


@pytest.mark.slow
def test_words_of_a_tail(tmp_path: Path) -> None:
    checked = check(with_a_tail(tmp_path))
    header: Header = checked.result.header
    shop: Shop = checked.shop or bench(header, checked.result.survey.gaps)
    run = next(run for run in header.runs if run.end.ends_run)
    said = " ".join([*said_of_run(header, shop, run.name), *said_of_chances(header, shop, run.name)])
    assert "from the outlet on" in said and "the end of the run" in said and "its place" in said
    assert not [word for word in ("flange", "collector", "merge", "bore", "sleeve") if word in said]
    data = json.loads(json.dumps(shop_data(header, shop, "1.0")))
    told = " ".join(each["do"] for row in data["runs"] if row["name"] == run.name for each in row["by_hand"]["order"])
    assert "tack from the outlet" in told and "stand in its place" in told and "collector" not in told
    number = [row["name"] for row in data["runs"]].index(run.name) + 1
    [closing] = [each for each in screens(data) if each.name == f"tube-{number}-close"]
    shown = " ".join(
        f"{part.said} {part.after} {' '.join(one.label for one in part.figures)}" for part in closing.groups
    )
    assert "outlet and what it ends in are held" in shown and "then its end" in shown
    assert not [word for word in ("flange", "collector", "bore", "sleeve") if word in shown]
    first = header.primaries[0].name
    assert "before that has a merge" in " ".join(said_of_run(header, shop, first))
