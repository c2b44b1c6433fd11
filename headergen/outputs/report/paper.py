"""How the report in Markdown writes text, tables, lengths in both units, and angles."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from headergen.outputs.report.facts import INCH, in_units


def plain(text: str) -> str:
    """Text from a spec, so that Markdown and HTML take it as it is and it stays on its line."""
    return "".join(f"\\{c}" if c in "\\`*[]<>|&" else c if c.isprintable() else " " for c in text)


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def both(units: str, millimetres: float, digits: int = 1, sign: str = "") -> str:
    """A length in the job's unit, and in the other one after it; `digits` are those of the millimetres."""
    said = [f"{in_units(millimetres, unit, digits, sign)} {unit}" for unit in ("mm", "in")]
    first, second = said if units == "mm" else reversed(said)
    return f"{first} ({second})"


def area(units: str, square_millimetres: float) -> str:
    """An area in the job's unit, and in the other one after it."""
    said = [f"{square_millimetres:.0f} mm²", f"{square_millimetres / INCH**2:.3f} in²"]
    first, second = said if units == "mm" else reversed(said)
    return f"{first} ({second})"


def degrees(angle: float, digits: int = 1) -> str:
    return f"{math.degrees(angle):.{digits}f}°"
