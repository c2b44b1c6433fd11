"""The report as data: sections of paragraphs, lists, tables and figures, of plain text that no form has marked up yet.

A writer (markdown.py, page.py) turns them into its own marks; lengths in them are in the job's unit with the other
beside it.
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
    """A place that a page's view can show: two points, mm in engine axes, which may be one and the same, and what
    stands beside them: `gap`, a length in mm, or else `words`."""

    points: tuple[Vec, Vec]
    gap: float | None = None
    words: str = ""


@dataclass(frozen=True)
class Table:
    """A row has as many cells as there are heads. `sights`, if any: the place that a row speaks of, where it does."""

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    sights: Sequence[Sight | None] = ()


@dataclass(frozen=True)
class Figure:
    """A drawing for a page: an SVG element, and in words what it shows. Paper without pictures has the words alone."""

    svg: str
    caption: str
    wide: bool = False  # takes the width of several


Block = str | Strong | Bullets | Table | Figure  # plain text is a paragraph


@dataclass(frozen=True)
class Section:
    title: str
    blocks: tuple[Block, ...]
