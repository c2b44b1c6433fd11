"""What the report says of a header by hand: one computation for records, paper, terminal and finding."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from rich.console import Console

from headergen.checks.rules.nine_in_ten import nine_in_ten
from headergen.model import ByHand, GapByHand, Result
from headergen.outputs.report import report_data, report_markdown
from headergen.outputs.report.records.report import report_of
from headergen.outputs.report.terminal import summary
from headergen.pipeline import check
from headergen.words.closing import of_hundred
from tests.demos import checked_once, planned_once

SPEC = Path(__file__).resolve().parents[2] / "specs/glasswort_left.yaml"
LIMIT = 4.4  # mm, between what is left of two of its gaps


@cache
def checked() -> tuple[Result, ByHand]:
    """Without the limit; beside it what comes of it by hand, which a check without it leaves alone."""
    by_hand = planned_once("glasswort_left").by_hand
    assert by_hand is not None
    return checked_once("glasswort_left").result, by_hand


def printed(result: Result) -> str:
    console = Console(width=100, record=True, file=io.StringIO())
    console.print(summary(result))
    return console.export_text()


@pytest.mark.slow
def test_without_the_limit_a_check_says_nothing_of_builds() -> None:
    result, _ = checked()
    assert result.by_hand is None and report_of(result, "1").by_hand is None
    assert "By hand" not in report_markdown(result, "1")
    assert "By hand" not in printed(result)


@pytest.mark.slow
def test_with_the_limit_a_check_judges_by_it(tmp_path: Path) -> None:
    text = SPEC.read_text(encoding="utf-8")
    assert text.count("limits: {") == 1
    path = tmp_path / SPEC.name
    changed = text.replace("limits: {", f"limits: {{nine_in_ten: {LIMIT}, ").replace("../", f"{SPEC.parents[1]}/")
    path.write_text(changed, encoding="utf-8")
    result, (_, by_hand) = check(path).result, checked()
    assert result.by_hand == by_hand, "the same draws whoever asks"
    less = {(gap.a, gap.b) for gap in by_hand.gaps if gap.judged and gap.left < LIMIT * gap.share}
    found = [finding for finding in result.findings if finding.rule == "gap-by-hand"]
    assert {(finding.where, finding.against) for finding in found} == less != set()
    assert all(finding.level == "error" and "nine of ten builds leave" in finding.message for finding in found)


@pytest.mark.slow
def test_a_gap_that_is_not_asked_for_is_no_finding() -> None:
    result, by_hand = checked()
    assert list(nine_in_ten(result.header.draft, by_hand)) == []
    asked = replace(result.header.draft, limits=replace(result.header.draft.limits, nine_in_ten=1000.0))
    said, judged = list(nine_in_ten(asked, by_hand)), [gap for gap in by_hand.gaps if gap.judged]
    assert len(said) == len(judged) == len(by_hand.gaps), "their bores leave some gap: nowhere may tubes touch"


def test_paper_terminal_and_records_say_the_same() -> None:
    bare, by_hand = checked()
    built = replace(bare, by_hand=by_hand)
    data, text, shown = report_data(built, "1"), report_markdown(built, "1"), printed(built)
    for run, record in zip(by_hand.runs, data["by_hand"]["runs"], strict=True):
        assert run.closing is not None
        assert record["closing"]["joint"] == run.closing.joint
        assert f"{run.run} closes at joint {run.closing.joint} in {of_hundred(run.closing.closes)} of 100" in shown
        assert f"{run.miss[1]:.1f} mm" in text
        assert [each["place_mm"] for each in record["spread"]] == pytest.approx([each.place for each in run.pieces])
        assert f"piece {len(run.pieces)} {run.pieces[-1].place:.1f} mm" in text
    judged = [gap for gap in by_hand.gaps if gap.judged]
    least = min(judged, key=lambda gap: gap.left)
    assert f"{least.a} to {least.b}: nine of ten builds leave {least.left:.1f} of {least.nominal:.1f} mm" in shown
    assert f"{least.open:.1f} mm" in text and f"{least.held:.1f} mm" in text


def test_a_run_that_hardly_closes_has_other_ways_offered() -> None:
    bare, by_hand = checked()
    first = by_hand.runs[0]
    assert first.closing is not None
    rare = replace(first, closing=replace(first.closing, closes=0.6))
    rarely = replace(by_hand, runs=(rare, *by_hand.runs[1:]))
    text = report_markdown(replace(bare, by_hand=rarely), "1")
    assert "made to measure" in text and "a longer slip" in text and "another path" in text
    assert "made to measure" not in report_markdown(replace(bare, by_hand=by_hand), "1")


def test_what_is_judged_is_what_was_simulated() -> None:
    gap = GapByHand("primary 1", "floor", 6.0, 0.0, 5.0, 4.0, 3.0, True, (0.0, 0.0, 0.0))
    assert gap.left == 3.0 and replace(gap, drawn=None).left == 4.0


def test_never_all_of_a_hundred_where_some_fail() -> None:
    assert [of_hundred(share) for share in (1.0, 0.9995, 0.95, 0.9499, 0.0)] == ["99", "99", "95", "94", "0"]
