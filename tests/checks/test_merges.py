"""What the checks say of merges: by the Bogbean's, its numbers changed."""

from __future__ import annotations

from pathlib import Path

import pytest

from headergen.checks.rules.merges import merges
from headergen.model import Header
from headergen.model.finding import Finding
from headergen.spec.reader import read_spec

SPECS = Path(__file__).parents[2] / "specs"


def findings_with(folder: Path, *changes: tuple[str, str]) -> list[Finding]:
    text = (SPECS / "bogbean.yaml").read_text(encoding="utf-8").replace("../shared", f"{SPECS.parent}/shared")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    spec = folder / "spec.yaml"
    spec.write_text(text, encoding="utf-8")
    draft = read_spec(spec)[1]
    return list(merges(Header(draft, draft.primaries, ())))


def test_the_demos_merge_is_well(tmp_path: Path) -> None:
    assert findings_with(tmp_path) == []


@pytest.mark.parametrize(("outlet", "inside"), [(42.3, 39.3), (30.0, 27.0)])
def test_an_outlet_narrower_than_one_tube_is_told(outlet: float, inside: float, tmp_path: Path) -> None:
    """A tube of 42.4 × 1.5 has 39.4 inside; the outlet of the same wall, what its outside leaves."""
    [found] = findings_with(tmp_path, ("outlet: 63.5", f"outlet: {outlet}"))
    assert (found.rule, found.level) == ("merge-outlet", "warning")
    assert (found.value, found.limit) == (pytest.approx(inside), pytest.approx(39.4))
    assert f"an outlet of {inside:.1f} mm inside" in found.message


def test_an_outlet_as_wide_as_one_tube_is_not(tmp_path: Path) -> None:
    assert findings_with(tmp_path, ("outlet: 63.5", "outlet: 42.4")) == []


ROW = ("pattern: square", "pattern: line")
UNEQUAL = ("pattern: square\n    pitch: 46", "pattern: [[-30, -30], [30, -30], [40, 30], [-30, 30]]")
BESIDE = ("pattern: square\n    pitch: 46", "pattern: [[60, -30], [120, -30], [120, 30], [60, 30]]")
OVERLAP = ("pattern: square\n    pitch: 46", "pattern: [[-30, -30], [30, -30], [30, 30], [-8, 8]]")


@pytest.mark.parametrize("change", [ROW, UNEQUAL])
def test_rows_and_unequal_places_are_made(change: tuple[str, str], tmp_path: Path) -> None:
    found = findings_with(tmp_path, change, ("    spike: true\n", ""))
    assert [each for each in found if each.level == "error"] == []


def test_a_row_leaves_no_opening_for_a_spike(tmp_path: Path) -> None:
    found = [each for each in findings_with(tmp_path, ROW) if each.level == "error"]
    assert [each.rule for each in found] == ["merge-spike"]
    assert "its tubes leave no openings between them" in found[0].message


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (BESIDE, "its axis is beside its bores, not among them, by 60.0 mm"),
        (OVERLAP, "bores 1 and 4 are spaced by 43.9 mm"),
    ],
)
def test_bores_of_which_no_merge_is_made_and_what_can_be_made(
    change: tuple[str, str], said: str, tmp_path: Path
) -> None:
    [found] = findings_with(tmp_path, change)
    assert (found.rule, found.level) == ("merge-possible", "error")
    assert said in found.message
    assert "What can be made: bores beside each other without overlap" in found.message


@pytest.mark.parametrize("pattern", ["square", "ring"])
def test_the_patterns_that_are_named_can_be_made(pattern: str, tmp_path: Path) -> None:
    assert findings_with(tmp_path, ("pattern: square", f"pattern: {pattern}")) == []
