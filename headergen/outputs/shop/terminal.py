"""The tables of the bench on the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import takewhile

from rich.console import Group, RenderableType
from rich.text import Text

from headergen.model import Header, Shop
from headergen.outputs.shop.by_hand import said_of_chances
from headergen.outputs.shop.offers import said_of_offers
from headergen.outputs.shop.tables import (
    ShopTable,
    bending_table,
    lengths_table,
    pieces_table,
    steps_table,
    turns_table,
)
from headergen.show.columns import Columns, Kind
from headergen.words.say import capital

NAMES = frozenset({"tube", "piece", "step", "joint"})  # columns that name a row, if they come first
FULL = frozenset({"stock", "first end", "last end"})  # columns with sentences, too wide for a terminal


def bench_tables(header: Header, shop: Shop) -> RenderableType:
    """Steps, lengths, pieces and turns, for rich to print, and the notes, in any width."""
    tables = [steps_table(header), lengths_table(header, shop), pieces_table(header, shop), turns_table(header, shop)]
    tables = [table for table in (*tables, bending_table(header, shop)) if table.rows]
    figures = shop.plan.figures
    said = [
        f"{figures.joints} joints; {figures.arc_cuts} ends cut inside an arc; {figures.unclampable} pieces to be cut "
        "lying flat. Stock, saw lines, heights and the order list are made by build, in shop/.",
        *map(capital, shop.notes),
        *said_of_offers(shop, header.draft.units),
        *(said for run in header.runs for said in _closed(header, shop, run.name)),
    ]
    return Group(*(part for table in tables for part in _shown(_without(table, FULL))), Text(), *map(Text, said))


def _closed(header: Header, shop: Shop, run: str) -> Iterator[str]:
    """Where a run is closed, and how often that succeeds."""
    closing = None if shop.by_hand is None else shop.by_hand.closing_of(run)
    if closing is not None:
        chances = " ".join(said_of_chances(header, shop, run))
        yield f"{capital(run)}: build it from both ends, close it at joint {closing.joint}. {chances}"


def _without(table: ShopTable, heads: frozenset[str]) -> ShopTable:
    """The table without these columns."""
    kept = [column for column, head in enumerate(table.heads) if head not in heads]
    rows = tuple(tuple(row[column] for column in kept) for row in table.rows)
    return replace(table, heads=tuple(table.heads[column] for column in kept), rows=rows)


def _shown(table: ShopTable) -> Iterator[RenderableType]:
    yield Text()
    yield Columns(
        table.title,
        table.heads,
        tuple(tuple(map(Text, row)) for row in table.rows),
        tuple(_kind(head, [row[k] for row in table.rows]) for k, head in enumerate(table.heads)),
        sum(1 for _ in takewhile(NAMES.__contains__, table.heads)),
    )


def _kind(head: str, cells: Sequence[str]) -> Kind:
    if head == "tube":
        return "name"
    return "number" if all(map(_is_number, cells)) else "words"


def _is_number(cell: str) -> bool:
    return not cell or cell.lstrip("+-").replace(".", "", 1).isdigit()
