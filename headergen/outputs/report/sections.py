"""The report as data: sections of paragraphs, lists and tables, of plain text that no form of paper has marked up yet.

A writer (markdown.py) turns them into its own marks; lengths in them are in the job's unit with the other beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Strong:
    """A paragraph that must not be overlooked."""

    text: str


@dataclass(frozen=True)
class Bullets:
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A row has as many cells as there are heads."""

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]


Block = str | Strong | Bullets | Table  # plain text is a paragraph


@dataclass(frozen=True)
class Section:
    title: str
    blocks: tuple[Block, ...]
