"""What the bench is told of a run from an outlet to a place of its own: nothing of flange, bore or collector end."""

from __future__ import annotations

from pathlib import Path

from headergen.model import Header, Shop
from headergen.outputs.shop.by_hand import said_of_chances, said_of_run
from headergen.pipeline import bench, check
from tests.checks.test_sign_off import with_a_tail


def test_words_of_a_tail(tmp_path: Path) -> None:
    checked = check(with_a_tail(tmp_path))
    header: Header = checked.result.header
    shop: Shop = checked.shop or bench(header, checked.result.survey.gaps)
    run = next(run for run in header.runs if run.end.ends_run)
    said = " ".join([*said_of_run(header, shop, run.name), *said_of_chances(header, shop, run.name)])
    assert "from the outlet on" in said and "the end of the run" in said and "its place" in said
    assert not [word for word in ("flange", "collector", "merge", "bore", "sleeve") if word in said]
    first = header.primaries[0].name
    assert "before that has a merge" in " ".join(said_of_run(header, shop, first))
