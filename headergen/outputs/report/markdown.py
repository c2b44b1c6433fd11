"""report.md: the sections of the report in Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from headergen.model import Result
from headergen.outputs.report.paper import sections_of
from headergen.outputs.report.records.report import Report, report_of
from headergen.outputs.report.sections import Block, Bullets, Figure, Section, Strong, Table


def report_markdown(result: Result, version: str) -> str:
    """The report as Markdown: verdict first, then findings, then evidence; lengths in the job's unit and the other."""
    return markdown_of(report_of(result, version))


def markdown_of(report: Report) -> str:
    """The records of a report as Markdown."""
    head, *sections = sections_of(report)
    blocks = [*_section(head, "#"), *(block for section in sections for block in _section(section, "##"))]
    return "\n\n".join(blocks) + "\n"


def _section(section: Section, mark: str) -> Iterator[str]:
    yield f"{mark} {plain(section.title)}"
    yield from map(_block, section.blocks)


def _block(block: Block) -> str:
    if isinstance(block, Strong):
        return f"**{plain(block.text)}**"
    if isinstance(block, Bullets):
        return "\n".join(f"- {plain(line)}" for line in block.lines)
    if isinstance(block, Table):
        return _table(block.heads, block.rows)
    return plain(block.caption if isinstance(block, Figure) else block)


def plain(text: str) -> str:
    """Text on one line that has no meaning as Markdown or HTML."""
    return "".join(f"\\{c}" if c in "\\`*[]<>|&" else c if c.isprintable() else " " for c in text)


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *(map(plain, row) for row in rows)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
