"""What is wrong with a spec, a stock file or a mesh: its place, a sentence, and the text shown for it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from headergen.model import SpecPath

WIDEST = 160  # columns of a faulty line that are shown; a longer line is cut around the caret

# Names of the members of a list; the list's own name is dropped if it would say the same twice.
MEMBERS = {
    "primaries": "step",
    "path": "step",
    "points": "point",
    "radii": "radius",
    "bores": "bore",
    "pattern": "bore",
    "chassis": "item",
    "bolts": "bolt",
    "bends": "bend",
    "straights": "straight",
    "keep": "item",
    "mirrored": "item",
    "parallel_to": "entry",
    "without_key": "entry",
    "steel_after": "entry",
    "bosses": "boss",
    "between": "place",
    "corners": "corner",
    "firing_order": "place",
    "as_built": "tube",
    "ends": "reading",
    "feelers": "row",
    "rim": "point",
}
DROPPED = {"bosses", "path", "points", "radii", "bores", "bolts", "bends", "straights"}


@dataclass(frozen=True)
class Complaint:
    """One fault of a file: line and column for text, a byte (from 0) for a mesh.

    `path` is the place in shop words ("primaries.2 step 3 bend"); all counts except bytes start at 1. `named_at`: for a
    file named in a spec, the place there.
    """

    file: str
    line: int | None
    column: int | None
    path: str
    message: str
    source_line: str = ""
    hint: str = ""
    byte: int | None = None
    named_at: str = ""


class SpecError(Exception):
    """A spec, or a file it names, cannot be used; it carries all complaints."""

    def __init__(self, complaints: Iterable[Complaint]) -> None:
        self.complaints = tuple(complaints)
        super().__init__("\n".join(complaint_text(complaint) for complaint in self.complaints))


@dataclass(frozen=True)
class Trouble:
    """A complaint before its place in the file is known; with `on_key` the caret is under the key itself."""

    path: SpecPath
    message: str
    hint: str = ""
    on_key: bool = False


def complaint_text(complaint: Complaint) -> str:
    """`FILE:LINE:COLUMN path: message`, the faulty line, a caret, and the hint if there is one.

    For a mesh: `FILE: byte N: message` or `FILE:LINE: message`, then the place that names it, and the hint.
    """
    head = ": ".join(part for part in (_place(complaint), complaint.message) if part)
    lines = [_printable(head)]
    if complaint.source_line and complaint.column is not None:
        shown, caret = _cut(complaint.source_line, complaint.column)
        lines += [f"    {shown}", f"    {caret}"]
    if complaint.named_at:
        lines.append(f"    named in {_printable(complaint.named_at)}")
    if complaint.hint:
        lines.append(f"    hint: {_printable(complaint.hint)}")
    return "\n".join(lines)


def _place(complaint: Complaint) -> str:
    if complaint.line is not None:
        column = "" if complaint.column is None else f":{complaint.column}"
        return f"{complaint.file}:{complaint.line}{column} {complaint.path}".rstrip()
    if complaint.byte is not None:
        return f"{complaint.file}: byte {complaint.byte}"
    return complaint.file


def _cut(line: str, column: int) -> tuple[str, str]:
    """The part of a line around a column, and the line with the caret below it."""
    line = _printable(line)
    first = 0 if len(line) <= WIDEST else max(min(column - WIDEST // 2, len(line) - WIDEST), 0)
    return line[first : first + WIDEST], " " * (column - 1 - first) + "^"


def _printable(text: str) -> str:
    """The text without characters that move the cursor or colour the terminal; a tab takes one column."""
    return "".join(c if c.isprintable() else " " if c == "\t" else "\N{REPLACEMENT CHARACTER}" for c in text)


def path_text(path: SpecPath) -> str:
    """A place in the spec in shop words, counted from 1: `primaries.2 step 3 bend`."""
    text, member = "", "value"
    for index, part in enumerate(path):
        if isinstance(part, int):
            text += f" {member} {part + 1}"
            member = "value"
            continue
        is_plain_list = index == 0 and part not in MEMBERS  # its members are named like it, without the s
        usual = part.removesuffix("s") if is_plain_list else "value"
        member = MEMBERS.get(part, member if path[:1] == ("primaries",) and index == 1 else usual)
        followed = index + 1 < len(path) and isinstance(path[index + 1], int)
        if followed and (part in DROPPED or is_plain_list):
            continue
        joint = "" if not text else " " if isinstance(path[index - 1], int) else "."
        text += joint + part
    return text.strip()
