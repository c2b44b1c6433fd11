"""report.md: what stands on its face, both units, and text from a spec that must not turn into markup."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import sample_result as sample

from headergen.model import Gap
from headergen.outputs.report import report_markdown


def test_verdict_then_findings_then_evidence() -> None:
    text = report_markdown(sample.result((sample.WARNING, sample.ERROR)), "1.2.3")
    places = [
        text.index(part)
        for part in (
            "NOT CLEARED: 1 error, 1 warning",
            "Do not cut",
            "## Findings",
            "## Primaries",
            "## Gaps",
            "## Cautions",
        )
    ]
    assert places == sorted(places)
    assert text.index("| ERROR |") < text.index("| WARNING |")
    assert sample.ERROR.message in text


def test_no_alarm_without_errors() -> None:
    text = report_markdown(sample.result(), "1")
    assert "Clear: no findings" in text
    assert "NOT CLEARED" not in text and "Do not cut" not in text


def test_lengths_in_both_units() -> None:
    """An inch is 25.4 mm by definition: 57.60 mm are 2.268 in, 15.00 mm 0.591 in."""
    text = report_markdown(sample.result(), "1")
    assert "57.60 mm (2.268 in)" in text
    assert "15.00 mm (0.591 in)" in text
    assert f"{sample.LENGTH:.1f} mm ({sample.LENGTH / 25.4:.3f} in)" in text


def test_an_inch_job_has_inches_first_everywhere() -> None:
    near = (Gap("flange", "rail", 5.0, 7.0, ((0.0, 0.0, 0.0), (0.0, 0.0, 7.0))),)
    made = sample.result()
    made = replace(made, survey=replace(made.survey, part_gaps=near, reaches=near))
    draft = replace(made.header.draft, units="in")
    text = report_markdown(replace(made, header=replace(made.header, draft=draft)), "1")
    own = text.split("## Cautions")[0]
    assert "2.268 in (57.60 mm)" in own and "0.276 in (7.00 mm)" in own
    assert not re.findall(r"mm²? \([^)]*in²?\)", own)
    assert len(re.findall(r"[0-9] mm\)", own)) == len(re.findall(r"[0-9] mm", own)) > 20, "never before the inches"


def test_every_table_is_whole() -> None:
    """Each row of a table has as many cells as its head, whatever stands in them."""
    draft = sample.header().draft
    items = (replace(draft.chassis[0], name="a|b\n<script>"), *draft.chassis[1:])
    gaps = (replace(sample.GAPS[0], b="a|b\n<script>"), *sample.GAPS[1:])
    finding = replace(sample.ERROR, message="Primary 1 crosses a|b\n<script>alert(1)</script> *now* `x`.")
    made = sample.result((finding,), gaps, chassis=items)
    near = (Gap("flange a|b", "a|b", 5.0, 7.0, ((0.0, 0.0, 0.0), (0.0, 0.0, 7.0))),)
    made = replace(made, survey=replace(made.survey, part_gaps=near, reaches=near))
    text = report_markdown(made, "1")
    assert "flange a" in text
    cells = 0
    for line in text.splitlines():
        if not line.startswith("|"):
            cells = 0
            continue
        count = line.replace("\\|", "").count("|")
        assert cells in (0, count), line
        cells = count
    assert "<script>" not in text.replace("\\<", "")
    assert "\\*now\\*" in text


def test_says_when_nothing_but_tubes_was_measured() -> None:
    text = report_markdown(sample.result(gaps=sample.GAPS[2:], chassis=()), "1")
    assert text.split("\n")[2] == "**Clear (tubes only; nothing around them was given): no findings**"
    assert "| 1 | not measured | 57.60 mm" in text


def test_boundary_and_crossing_are_put_in_words() -> None:
    deep = replace(sample.GAPS[0], value=-4.2)
    through = replace(sample.GAPS[0], value=-30.0, runs_through=True)
    text = report_markdown(sample.result((sample.ERROR,), (deep, through, sample.GAPS[1])), "1")
    assert "| CROSSES |" in text and "| RUNS THROUGH |" in text
    assert "| at the edge of a length that is not checked: may be closer inside it |" in text
    assert text.index("RUNS THROUGH") < text.index("CROSSES")


def test_second_method_is_counted_and_shown_where_it_differs() -> None:
    made = sample.result()
    assert "2 of 2 agree" in report_markdown(made, "1")
    apart = replace(made.survey.second_opinions[0], other_method=14.0)
    made = replace(made, survey=replace(made.survey, second_opinions=(apart, made.survey.second_opinions[1])))
    text = report_markdown(made, "1")
    assert "1 of 2 agree" in text
    assert "| 1 | steering shaft | 11.23 mm (0.442 in) | 14.00 mm (0.551 in) | 0.15 mm (0.006 in) |" in text


@pytest.mark.parametrize("said", ["licensed practitioner", "5 µg/m³", "38.1 mm", "19.5 %", "cold header at rest"])
def test_cautions(said: str) -> None:
    """Values: 29 CFR 1910.1026 and 1910.146, COMAR 11.22.02.11."""
    assert said in report_markdown(sample.result(), "1")
