"""A plane with one direction turned round is told first, once, and by name; what only follows from it is not said."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from headergen.model import Fit, Straight
from headergen.model.finding import Finding
from headergen.pipeline import check
from headergen.spec.starter import starter_text
from tests.checks.small_header import LENGTH, draft, findings, turned_over

FOLLOWS = {"end-position", "end-angle", "closing"}
SLIPS = {
    "a collector's normal": ("normal: [0, 0, -1], x: [-1", "normal: [0, 0, 1], x: [-1", "collector main", "points up"),
    "a flange's normal": ("normal: [0, 1, 0], x: [-1", "normal: [0, -1, 0], x: [-1", "flange", "points to the right"),
    "a flange's x": ("normal: [0, 1, 0], x: [-1", "normal: [0, 1, 0], x: [1", "flange", "Its x points forward"),
    "a collector's x": (
        "normal: [0, 0, -1], x: [-1",
        "normal: [0, 0, -1], x: [1",
        "collector main",
        "Its x points forward",
    ),
    "the ground": ("-600], normal: [0, 0, 1]", "-600], normal: [0, 0, -1]", "floor", "its normal points down"),
}


def said(folder: Path, old: str, new: str) -> tuple[Finding, ...]:
    lines = [line for line in starter_text("Bogbean").splitlines() if not line.startswith("#")]
    text = "\n".join(lines)
    assert text.count(old) == 1
    path = folder / "slip.yaml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return check(path).result.findings


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_of_a_sign_is_told_first_and_once(tmp_path: Path, slip: str) -> None:
    old, new, where, words = SLIPS[slip]
    findings = said(tmp_path, old, new)
    assert (findings[0].rule, findings[0].level, findings[0].where) == ("turned-over", "error", where)
    assert words in findings[0].message
    assert [f.rule for f in findings].count("turned-over") == 1
    assert not FOLLOWS & {f.rule for f in findings}
    assert not [f.message for f in findings[1:] if "floor" in f.message and where == "floor"]


def test_eleven_tubes_to_fit_make_one_sentence() -> None:
    """Each 400 mm from its bore with a length to fit, and the collector's normal against them."""
    made = draft(*[[Straight(390.0)] for _ in range(11)])
    fits = tuple(replace(p, fits=(Fit(1, "length", 300.0, 500.0),), target=LENGTH) for p in made.primaries)
    turned = turned_over(made.with_primaries(fits))
    found = [f for f in findings(turned) if f.level == "error"]
    assert [(f.rule, f.where, f.value) for f in found if f.rule != "length"] == [
        ("turned-over", "collector main", 180.0)
    ]
    assert "all 11 tubes arrive 180.0° off" in found[0].message


def test_tubes_against_the_normal_that_would_not_end_on_their_bores_either() -> None:
    """150 mm short besides: the normal is told, and that they miss is told as well."""
    found = findings(turned_over(draft([Straight(250.0)], [Straight(250.0)])))
    assert (found[0].rule, found[0].where) == ("turned-over", "collector main")
    assert "met from behind: both tubes arrive 180.0° off" in found[0].message


def test_a_first_bend_the_wrong_way_is_not_laid_on_a_plane(tmp_path: Path) -> None:
    """All tubes go up where they should go down: no plane is said to be wrong, and the bends are named too."""
    text = starter_text("Bogbean").replace("radius: 63.5, rotation: -90}", "radius: 63.5, rotation: 90}", 1)
    text = text.replace("bend: 90, radius: 63.5, rotation: -90}", "bend: 90, radius: 63.5, rotation: 90}")
    path = tmp_path / "slip.yaml"
    path.write_text(text, encoding="utf-8")
    first = check(path).result.findings[0]
    assert "if the gas does not go that way there" in first.message and "rotation of the first bends" in first.message


def test_a_slip_of_measuring_is_no_plane_turned_round() -> None:
    leaning = draft([Straight(390.0)], [Straight(410.0)])
    assert "turned-over" not in {f.rule for f in findings(leaning)}
    assert math.isclose(LENGTH, 400.0)
