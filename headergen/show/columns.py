"""Tables on a terminal of any width, in which no number is broken or cut."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from rich import box
from rich.console import Console, ConsoleOptions, RenderableType
from rich.measure import Measurement
from rich.table import Table
from rich.text import Text

APART = 2  # columns of the terminal between two of a table
LONGEST = 16  # letters of a word, in a column of words, that is not broken
Kind = Literal["number", "name", "words"]


@dataclass(frozen=True)
class Columns:
    """A table as wide as its terminal; one that is wider comes in parts, each with the columns that name its rows.

    `named`: how many columns, the first ones, name a row. `kinds`: of each column. Numbers and names are never broken,
    and words only if they are very long, unless the terminal is narrower than the naming columns and one more. Its
    least measure is that of the whole table, for output that goes to no terminal.
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Text, ...], ...]
    kinds: tuple[Kind, ...]
    named: int = 1

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        wide = _wide([_least(self, k) for k in range(len(self.heads))])
        return Measurement(wide, max(wide, options.max_width))

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[RenderableType]:
        least = [_least(self, k) for k in range(len(self.heads))]
        most = [max((_longest(row[k].plain.splitlines()) for row in self.rows), default=0) for k in range(len(least))]
        for number, columns in enumerate(_parts(least, self.named, options.max_width)):
            widths = _widths([least[k] for k in columns], [most[k] for k in columns], options.max_width)
            if number:
                yield Text()
            yield Text(f"{self.title}{', continued' if number else ''}", style="table.title")
            yield _grid(self, columns, widths)


def _longest(words: Sequence[str]) -> int:
    return max(map(len, words), default=0)


def _least(table: Columns, column: int) -> int:
    """The least width of a column."""
    cells, head = [row[column].plain for row in table.rows], table.heads[column].split()
    if table.kinds[column] != "words":
        return _longest([*cells, *head])
    return min(_longest([*(word for cell in cells for word in cell.split()), *head]), LONGEST)


def _wide(widths: Sequence[int]) -> int:
    return sum(widths) + APART * (len(widths) - 1)


def _parts(least: Sequence[int], named: int, room: int) -> Iterator[list[int]]:
    """The columns of each part: the first `named`, and of the others as many as there is room for."""
    names = list(range(named))
    part = list(names)
    for column in range(named, len(least)):
        if len(part) > named and _wide([least[k] for k in (*part, column)]) > room:
            yield part
            part = list(names)
        part.append(column)
    yield part


def _widths(least: Sequence[int], most: Sequence[int], room: int) -> list[int]:
    """Of columns side by side: what is left of the room goes to those that need the least more to be in one line."""
    widths, left = list(least), max(room - _wide(least), 0)
    for column in sorted(range(len(least)), key=lambda k: most[k] - least[k]):
        more = min(max(most[column] - least[column], 0), left)
        widths[column] += more
        left -= more
    return widths


def _grid(table: Columns, columns: Sequence[int], widths: Sequence[int]) -> Table:
    grid = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, collapse_padding=True)
    for column, width in zip(columns, widths, strict=True):
        right = table.kinds[column] == "number"
        grid.add_column(Text(table.heads[column]), justify="right" if right else "left", overflow="fold", width=width)
    for row in table.rows:
        grid.add_row(*(row[column] for column in columns))
    return grid
