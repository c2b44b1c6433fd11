"""The report as data: sections of paragraphs, lists, tables and figures, of plain text without markup.

A writer (markdown.py, page.py) adds its own markup; lengths in them are in the job's unit, followed by the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from headergen.model import Vec


@dataclass(frozen=True)
class Strong:
    """A paragraph that must not be overlooked."""

    text: str


@dataclass(frozen=True)
class Bullets:
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Sight:
    """A place that a page's view can show: two points, mm in engine axes, which may be the same, and its label.

    The label is `gap`, a length in mm, or else `words`.
    """

    points: tuple[Vec, Vec]
    gap: float | None = None
    words: str = ""


@dataclass(frozen=True)
class Table:
    """A table; a row has as many cells as there are heads. `sights`, if any: the place of each row that has one."""

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    sights: Sequence[Sight | None] = ()


@dataclass(frozen=True)
class Figure:
    """A drawing for a page: an SVG element, and its description in words, which stands in for it on paper."""

    svg: str
    caption: str
    wide: bool = False  # as wide as several figures


Block = str | Strong | Bullets | Table | Figure  # plain text is a paragraph


@dataclass(frozen=True)
class Section:
    title: str
    blocks: tuple[Block, ...]
