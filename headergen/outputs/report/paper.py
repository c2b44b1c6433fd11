"""How the report in Markdown writes text, tables, lengths in both units, and angles."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from headergen.outputs.report.facts import in_units


def plain(text: str) -> str:
    """Text from a spec, so that Markdown and HTML take it as it is and it stays on its line."""
    return "".join(f"\\{c}" if c in "\\`*[]<>|&" else c if c.isprintable() else " " for c in text)


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def both(millimetres: float, digits: int = 1, sign: str = "") -> str:
    inches = in_units(millimetres, "in", digits, sign)
    return f"{in_units(millimetres, 'mm', digits, sign)} mm ({inches} in)"


def degrees(angle: float, digits: int = 1) -> str:
    return f"{math.degrees(angle):.{digits}f}°"
