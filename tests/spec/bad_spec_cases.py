"""Reads what a broken spec in tests/bad_specs says, in its first line, about the one complaint it must bring.

# expect LINE:COLUMN phrase             in the spec itself
# expect FILE LINE:COLUMN phrase        in a file that it names
# expect FILE byte N phrase             in a mesh
# expect FILE line N phrase             in a mesh that is text
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "bad_specs"
_PLACE = r"(?P<line>\d+):(?P<column>\d+)|byte (?P<byte>\d+)|line (?P<text_line>\d+)"
_FORM = re.compile(rf"# expect (?:(?P<file>\S+\.\w+) )?(?:{_PLACE}) (?P<phrase>.+)")


@dataclass(frozen=True)
class Expected:
    file: Path
    line: int | None
    column: int | None
    byte: int | None
    phrase: str


def bad_specs() -> list[Path]:
    return sorted(FOLDER.glob("*.yaml"))


def expected_of(spec: Path) -> Expected:
    first = spec.read_bytes().split(b"\n", 1)[0].decode()
    found = _FORM.fullmatch(first)
    assert found, f"{spec.name} does not say what to expect"
    names = ("line", "text_line", "column", "byte")
    line, text_line, column, byte = (int(found[name]) if found[name] else None for name in names)
    line = line or text_line
    return Expected(spec.parent / (found["file"] or spec.name), line, column, byte, found["phrase"])
