"""Python literals as a person would write them: on one line if they fit, else one entry on each line."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from headergen.geometry.frames import norm
from headergen.model import Vec
from headergen.words.numbers import decimal

WIDTH = 110
DIGITS = 6  # of lengths in mm and angles in degrees
AXIS_DIGITS = 9  # of unit vectors


class Axis(tuple[float, ...]):
    """Three numbers that are a direction, with more digits."""


def axis(way: Vec) -> Axis:
    assert abs(norm(way) - 1.0) < 1e-6
    return Axis(way)


def literal(value: Any, indent: int = 0, before: int = 0) -> str:
    """The text of nested mappings, lists, tuples, numbers and names; `before`: columns already used on the line."""
    short = _short(value)
    if indent + before + len(short) + 1 <= WIDTH or not isinstance(value, Mapping | list | tuple) or not value:
        return short
    inside = " " * (indent + 4)
    if isinstance(value, Mapping):
        lines = [f"{inside}{quoted(k)}: {literal(v, indent + 4, len(k) + 4)}," for k, v in value.items()]
    else:
        lines = [f"{inside}{literal(each, indent + 4)}," for each in value]
    opens, closes = _brackets(value)
    return "\n".join([opens, *lines, f"{' ' * indent}{closes}"])


def quoted(text: str) -> str:
    """In double quotes if all of it is printable."""
    return json.dumps(text, ensure_ascii=False) if text.isprintable() else repr(text)


def _short(value: Any) -> str:
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, int | float):
        return decimal(value, DIGITS)
    opens, closes = _brackets(value)
    if isinstance(value, Mapping):
        return opens + ", ".join(f"{quoted(k)}: {_short(v)}" for k, v in value.items()) + closes
    if isinstance(value, Axis):
        return opens + ", ".join(decimal(each, AXIS_DIGITS) for each in value) + closes
    comma = "," if isinstance(value, tuple) and len(value) == 1 else ""
    return opens + ", ".join(_short(each) for each in value) + comma + closes


def _brackets(value: Mapping[Any, Any] | Sequence[Any]) -> tuple[str, str]:
    if isinstance(value, Mapping):
        return "{", "}"
    return ("[", "]") if isinstance(value, list) else ("(", ")")
