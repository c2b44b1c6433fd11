"""Tables on terminals of any width: no number is broken or cut, and every row keeps its name."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console
from rich.measure import Measurement
from rich.text import Text

from headergen.show.columns import Columns

HEADS = ("tube", "piece", "length (mm)", "from the item", "angle (deg)", "corner x (mm)", "corner y (mm)")
CELLS = [
    ("primary 1", "1", "1234.5", "the first leg of a bend", "-120.25", "-1048.5", "+0.1"),
    ("primary 2", "12", "0.5", "bar", "90.00", "7.0", "-1234.5"),
]
TABLE = Columns(
    "Pieces, and where they are cut",
    HEADS,
    tuple(tuple(map(Text, row)) for row in CELLS),
    ("name", "number", "number", "words", "number", "number", "number"),
    named=2,
)
NUMBERS = [cell for row in CELLS for cell in row[2:] if re.fullmatch(r"[+-]?[0-9.]+", cell)]


def printed(width: int, table: Columns = TABLE) -> str:
    console = Console(file=io.StringIO(), width=width, force_terminal=True, color_system=None, highlight=False)
    console.print(table)
    return str(console.file.getvalue())  # type: ignore[attr-defined]


@pytest.mark.parametrize("width", [30, 36, 45, 60, 80, 120])
def test_no_number_is_broken_and_no_line_is_too_long(width: int) -> None:
    text = printed(width)
    assert max(len(line.rstrip()) for line in text.splitlines()) <= width
    words = text.split()
    for number in NUMBERS:
        assert words.count(number) == 1, number


@pytest.mark.parametrize("width", [30, 36, 45])
def test_every_part_names_its_rows(width: int) -> None:
    text = printed(width)
    parts = text.count("Pieces, and where")
    assert parts > 1 and text.count("continued") == parts - 1
    assert text.count("primary 1") == text.count("primary 2") == parts


def test_a_wide_terminal_gets_one_table() -> None:
    [rows] = [[line for line in printed(100).splitlines() if line.startswith("primary")]]
    assert [re.split(r" {2,}", row.strip()) for row in rows] == [list(row) for row in CELLS]


def test_the_least_measure_is_that_of_the_whole_table() -> None:
    console = Console(file=io.StringIO(), width=20)
    least = Measurement.get(console, console.options.update(width=400), TABLE).minimum
    assert "continued" not in printed(least) and "continued" in printed(least - 1)


def test_a_very_long_word_is_broken_before_a_number_is() -> None:
    name = "a" * 60
    table = Columns(
        "Gaps", ("tube", "against", "gap"), ((Text("1"), Text(name), Text("12.34")),), ("number", "words", "number")
    )
    text = printed(40, table)
    assert "12.34" in text.split() and "".join(re.findall("a+", text.split("gap")[1])) == name
