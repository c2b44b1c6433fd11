"""What would help, as the terminal, the paper and a page say it, and as report.json holds it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
import sample_result as sample
from test_terminal import printed

from headergen.model import Costs, GapThen, Help, NewPlace, NewValue, Result, Suggestion
from headergen.outputs.report import report_data, report_markdown
from headergen.outputs.report.helpful import helps_section
from headergen.outputs.report.records.report import report_of
from headergen.outputs.report.sections import Bullets, Strong, Table

SCHEMA = json.loads((Path(__file__).parents[2] / "specs" / "report.schema.json").read_text(encoding="utf-8"))
TURNED = Suggestion(
    "rotation",
    "Turn bend 1 of primary 1 by 2.5° more (100° to 102.5°)",
    (
        NewValue("primary 1", 1, "length", 60.0, 61.2345),
        NewValue("primary 1", 2, "rotation", math.radians(100), math.radians(102.5)),
    ),
    (),
    15.2,
    Costs((GapThen("primary 1", "primary 2", 57.6, 6.4, 5.0),), (("primary 1", 0.4),), 0, ()),
    (GapThen("primary 1", "brake line", 30.0, 41.0, 40.0),),
)
MOVED = Suggestion(
    "collector",
    "Move collector main 8.0 mm up, with its tubes closed on it again",
    (),
    (NewPlace("main", (0.0, 0.0, 0.0), (0.0, 0.0, 8.0)),),
    15.1,
    Costs((GapThen("primary 2", "frame", None, -3.0, 15.0),), (), -1, (sample.ERROR,)),
)
HELPED = Help("primary 1", "steering shaft", False, 11.2, 15.0, (TURNED, MOVED))
HELPLESS = Help("flange", "head", False, -1.0, 12.0, (), tuple(f"way {k}: gap {k}.0 mm" for k in range(5)), True)


def helped(units: str = "mm") -> Result:
    return replace(sample.result((sample.ERROR,), units=units), helps=(HELPED, HELPLESS))


def test_a_change_is_said_with_its_gap_and_its_costs() -> None:
    text = " ".join(printed(helped()).split())
    assert (
        "Turn bend 1 of primary 1 by 2.5° more (100° to 102.5°): gap 15.2 mm, primary 2 then 6.4 mm away, "
        "primary 1 0.4 mm longer, primary 1 to brake line cleared as well." in text
    )
    assert "primary 2 and frame then 3.0 mm deep in each other (15.0 mm required), -1 bends" in text
    assert "but it brings a finding: Primary 1 is 11.2 mm from steering shaft." in text


def test_where_nothing_helps_it_is_said_with_what_was_tried() -> None:
    text = " ".join(printed(helped()).split())
    assert "Flange to head, -1.0 of 12.0 mm: Nothing was found to help. Tried: way 0" in text
    assert "and 2 more; the others were left untried, to keep the check quick." in text


@pytest.mark.parametrize("units", ["mm", "in"])
def test_lines_keep_to_the_terminal(units: str) -> None:
    assert max(len(line.rstrip()) for line in printed(helped(units)).splitlines()) <= 80


def test_a_report_without_gaps_that_are_too_small_says_nothing_of_help() -> None:
    assert "would help" not in printed(sample.result()) and "would help" not in report_markdown(sample.result(), "1")


def test_the_paper_has_all_that_is_to_be_written() -> None:
    [section] = helps_section(report_of(helped(), "1"))
    note, first, table, _, turned, _, moved, second, nothing = section.blocks
    assert isinstance(note, str) and isinstance(table, Table)
    assert (first, second) == (
        Strong("Primary 1 to steering shaft, 11.2 of 15.0 mm"),
        Strong("Flange to head, -1.0 of 12.0 mm"),
    )
    assert [row[:2] for row in table.rows] == [
        (f"1. {TURNED.what}", "15.2 mm (0.598 in)"),
        (f"2. {MOVED.what}", "15.1 mm (0.594 in)"),
    ]
    assert {sight.points for sight in table.sights if sight} == {sample.GAPS[0].points}, "a row flies to the gap"
    assert turned == Bullets(
        (
            "primary 1, step 1: length 60.000 becomes 61.234",
            "primary 1, step 2: rotation 100.0000° becomes 102.5000°",
        )
    )
    was_and_is = "[0.000, 0.000, 0.000] becomes [0.000, 0.000, 8.000]"
    assert moved == Bullets((f"collector main, origin of its plane: {was_and_is}",))
    assert str(nothing).startswith("Nothing was found to help.")
    assert "step 1: length 60.000 becomes 61.234" in report_markdown(helped(), "1")


def test_lengths_are_written_in_the_digits_of_a_file_in_inches() -> None:
    [section] = helps_section(report_of(helped("in"), "1"))
    written = f"primary 1, step 1: length {60 / 25.4:.5f} becomes {61.2345 / 25.4:.5f}"
    assert any(isinstance(block, Bullets) and written in block.lines[0] for block in section.blocks)


def test_report_json_keeps_the_schema_and_all_figures() -> None:
    data = report_data(helped(), "1")
    jsonschema.validate(data, SCHEMA)
    turned = data["helps"][0]["suggestions"][0]
    assert turned["gap_mm"] == 15.2 and turned["kind"] == "rotation"
    assert turned["values"][1] == {
        "run": "primary 1",
        "step": 2,
        "what": "rotation",
        "before_deg": 100.0,
        "after_deg": 102.5,
    }
    assert data["helps"][1]["cut_short"] is True and len(data["helps"][1]["tried"]) == 5
