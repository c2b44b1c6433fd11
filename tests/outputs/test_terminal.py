"""The summary on the terminal: its width, its words with and without colour, and what colour may stand for."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
import sample_result as sample
from rich.cells import cell_len
from rich.console import Console

from headergen.model import Job, Result
from headergen.outputs.report.terminal import SHOWN_GAPS, summary

ALL = (sample.NOTE, sample.ERROR, sample.WARNING)
ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


def printed(result: Result, width: int = 80, colour: bool = False) -> str:
    console = Console(
        file=io.StringIO(),
        width=width,
        force_terminal=colour,
        color_system="truecolor" if colour else None,
        highlight=False,
        legacy_windows=False,
    )
    console.print(summary(result))
    return console.file.getvalue()  # type: ignore[attr-defined, no-any-return]


def crowded() -> Result:
    """Wide numbers, long names, more gaps than are shown, and every kind of finding."""
    name = "left rear suspension pick-up bracket with gusset"
    long = replace(sample.ERROR, message=f"Primary 1 runs through {name}; " + "x" * 120 + " and more words after it.")
    gaps = [replace(sample.GAPS[0], b=name, value=-123.456 - k, runs_through=k > 9) for k in range(SHOWN_GAPS + 5)]
    return sample.result((long, *ALL), (*gaps, *sample.GAPS), job=Job("Glasswort " * 12, "A", "2026-03-14"))


@pytest.mark.parametrize("colour", [False, True])
@pytest.mark.parametrize("make", [crowded, lambda: sample.result(ALL), lambda: sample.result(units="in")])
def test_nothing_runs_over_80_columns(make: object, colour: bool) -> None:
    text = ESCAPE.sub("", printed(make(), colour=colour))  # type: ignore[operator]
    assert max(cell_len(line.rstrip()) for line in text.splitlines()) <= 80


def test_numbers_and_words_are_never_cut_short() -> None:
    text = printed(crowded())
    assert "…" not in text
    for whole in ("-137.46", "RUNS THROUGH", "ERROR", "WARNING", "INFO", "2 (bend)"):
        assert whole in text


def test_colour_adds_nothing_but_colour() -> None:
    plain, coloured = printed(sample.result(ALL)), printed(sample.result(ALL), colour=True)
    assert "\x1b" not in plain
    assert "\x1b" in coloured
    assert ESCAPE.sub("", coloured) == plain


def test_colour_means_level_or_gap_and_stands_beside_a_word() -> None:
    made = sample.result(ALL)
    console = Console(width=80, color_system="truecolor", force_terminal=True, legacy_windows=False)
    coloured = {
        segment.text.strip()
        for segment in console.render(summary(made))
        if segment.style is not None and segment.style.color is not None and segment.text.strip()
    }
    assert coloured == {"NOT CLEARED: 1 error, 1 warning, 1 note", "ERROR", "WARNING", "INFO", "11.23", "TOO NEAR"}


def test_verdict_comes_before_findings_and_findings_before_tables() -> None:
    text = printed(sample.result(ALL))
    places = [
        text.index(part) for part in ("NOT CLEARED", "ERROR  ", "WARNING  ", "INFO  ", "Tubes", "Tightest clearances")
    ]
    assert places == sorted(places)


def test_rows_hold_what_was_measured() -> None:
    lines = printed(sample.result(ALL)).splitlines()
    first = next(line.split() for line in lines if line.split()[:3] == ["1", "main", "1"])
    assert first[3:] == [f"{sample.LENGTH:.1f}", f"{sample.LENGTH - 450:+.1f}", "2", "115.0°", "+0.25", "0.10", "0.30°"]
    worst = next(line.split() for line in lines if "steering shaft" in line and "TOO NEAR" in line)
    assert worst == ["1", "steering", "shaft", "11.23", "15.00", "131.2", "step", "2", "(bend)", "TOO", "NEAR"]


def test_lengths_in_inches_where_the_shop_reads_inches() -> None:
    """11.23457 mm / 25.4 = 0.442 in."""
    text = printed(sample.result(ALL, units="in"))
    assert "lengths in inches" in text and "0.442" in text and f"{sample.LENGTH / 25.4:.3f}" in text


def test_a_boundary_is_marked_and_explained() -> None:
    text = printed(sample.result())
    assert re.search(r"frame .* \* *\n", text)
    assert "* At the edge of a length that is not checked; may be closer inside it." in text
    assert "*" not in printed(sample.result(gaps=sample.GAPS[:1]))


def test_gaps_that_are_not_shown_are_counted() -> None:
    assert "8 others have at least this margin." in printed(crowded())  # 15 + 3 that count, 10 shown


def test_no_chassis_is_said() -> None:
    said = "Clear (tubes only; nothing around them was given): no findings"
    assert said in printed(sample.result(gaps=sample.GAPS[2:], chassis=())).split("\n")
    assert "tubes only" not in printed(sample.result())


def test_a_collector_without_a_merge_is_told_of() -> None:
    said = "Collector main: no merge is made. Its keys half_angle and outlet make one."
    assert said in printed(sample.result())
    merged = replace(sample.header().draft.collectors[0], half_angle=0.17, outlet=54.0)
    assert "no merge is made" not in printed(sample.result(collectors=(merged,)))


def test_text_of_a_spec_is_shown_as_it_is() -> None:
    made = sample.result(
        (replace(sample.ERROR, message="Primary 1 touches [red]rail[/red] \x1b[31m."),),
        (replace(sample.GAPS[0], b="[bold]x[/bold]"),),
        job=Job("[blink]Bogbean", "A", "2026-03-14"),
    )
    text = printed(made)
    assert "[blink]Bogbean" in text and "[red]rail[/red]" in text and "[bold]x[/bold]" in text
    assert "\x1b" not in text


@pytest.mark.parametrize("width", [40, 55])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_narrow_terminal_breaks_no_number(width: int, units: str) -> None:
    """Every number of the wide tables stands whole in the narrow ones, and no line is too long."""
    made = sample.result(ALL, units=units)
    wide, narrow = printed(made, 120), printed(made, width)
    assert max(cell_len(line.rstrip()) for line in narrow.splitlines()) <= width
    numbers = re.compile(r"(?<!\S)[+-]?\d+\.\d+°?(?!\S)")
    rows = [line for line in wide.splitlines() if len(numbers.findall(line)) > 2]
    assert rows
    words = narrow.split()
    for number in {each for row in rows for each in numbers.findall(row)}:
        assert number in words
