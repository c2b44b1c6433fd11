"""Lengths and angles as written in a file: a number, or text with a unit."""

from __future__ import annotations

import math
import re
from typing import Literal

from headergen.spec.scalars import ScalarError

Unit = Literal["mm", "in"]

MILLIMETRES = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8, "inch": 25.4, "inches": 25.4, '"': 25.4}

_DECIMAL = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
_FRACTION = r"(?:(?P<whole>[0-9]+)[- ])?(?P<over>[0-9]+)/(?P<under>[0-9]+)"
_LENGTH = re.compile(rf'(?P<sign>[-+]?)(?:{_FRACTION}|(?P<decimal>{_DECIMAL}))\s*(?P<unit>mm|cm|m|inches|inch|in|")?\Z')
_ANGLE = re.compile(rf"(?P<value>[-+]?{_DECIMAL})\s*(?:deg|degrees|°)\Z")
_DECIMAL_COMMA = re.compile(r"[0-9],[0-9]")

# for editors: the same as a JSON Schema pattern
LENGTH_PATTERN = rf"^[-+]?(([0-9]+[- ])?[0-9]+/[0-9]+|{_DECIMAL})\s*(mm|cm|m|inches|inch|in|\")$"
ANGLE_PATTERN = rf"^[-+]?{_DECIMAL}\s*(deg|degrees|°)$"
_HOW = "write a number, or a number with its unit: 41.3 mm, 1.5 in, 1-5/8 in"


def length_in_mm(value: object, unit: Unit) -> float:
    """Millimetres of a length as written; a plain number is in the file's unit. Raises ScalarError."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return value * MILLIMETRES[unit]
    if not isinstance(value, str):
        raise ScalarError(f"a length is required here, not {described(value)}", _HOW)
    found = _LENGTH.match(value.strip())
    if found is None:
        hint = f"write {value.replace(',', '.')}" if _DECIMAL_COMMA.search(value) else _HOW
        raise ScalarError(f"{shown(value)} is not a length", hint)
    if found["unit"] is None and found["decimal"] is not None:
        raise ScalarError(f"{shown(value)} in quotes is text, not a length", "take the quotes off, or add the unit")
    if found["unit"] is None and unit != "in":
        raise ScalarError(f"{shown(value)} lacks its unit", f"write {value.strip()} in")
    amount = float(found["decimal"]) if found["decimal"] is not None else _fraction(value, found)
    if not math.isfinite(amount):
        raise ScalarError(f"{shown(value)} is larger than anything can be", "")
    sign = -1.0 if found["sign"] == "-" else 1.0
    return sign * amount * MILLIMETRES[found["unit"] or "in"]


def _fraction(value: str, match: re.Match[str]) -> float:
    over, under = float(match["over"]), float(match["under"])
    if under == 0 or not math.isfinite(over / under):
        raise ScalarError(f"{shown(value)} divides by nothing", "")
    if match["whole"] is not None and over >= under:
        raise ScalarError(f"{shown(value)}: the fraction is not less than one", "is a figure of it wrong?")
    return float(match["whole"] or 0) + over / under


def angle_in_degrees(value: object) -> float:
    """Degrees of an angle as written: a number, `12 deg` or `12°`. Raises ScalarError."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return float(value)
    if isinstance(value, str) and (found := _ANGLE.match(value.strip())):
        return float(found["value"])
    what = shown(value) if isinstance(value, str) else described(value)
    hint = f"write {value.replace(',', '.')}" if isinstance(value, str) and _DECIMAL_COMMA.search(value) else ""
    raise ScalarError(f"an angle in degrees is required here, not {what}", hint)


def length_text(millimetres: float, unit: Unit) -> str:
    """A length for a sentence, in the file's unit."""
    return f"{millimetres / MILLIMETRES[unit]:.6g} {unit}"


def shown(value: object) -> str:
    """A value as written in the file, short enough for a sentence."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None or isinstance(value, (dict, list, tuple)):
        return described(value)
    text = f'"{value}"' if isinstance(value, str) else f"{value}"
    return text if len(text) <= 60 else text[:57] + "..."


def described(value: object) -> str:
    """The kind of a value, in words."""
    if isinstance(value, dict):
        return "keys with values"
    if isinstance(value, (list, tuple)):
        return "a list"
    return "nothing" if value is None else shown(value)
