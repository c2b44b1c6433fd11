"""Number formats: decimals without meaningless digits; lengths and areas in the job's unit, or in both units."""

from __future__ import annotations

from fractions import Fraction

INCH = 25.4  # mm


def decimal(value: float, digits: int) -> str:
    """A number with at most `digits` decimals (one or more): no exponent, no minus zero, no trailing zeros."""
    return f"{round(value, digits) + 0.0:.{digits}f}".rstrip("0").rstrip(".")


def fixed(value: float, digits: int, sign: str = "") -> str:
    """A number with exactly `digits` decimals, as a tool's display shows it: no minus zero; `sign` may be "+"."""
    return f"{round(value, digits) + 0.0:{sign}.{digits}f}"


def in_units(millimetres: float, units: str, digits: int = 1, sign: str = "") -> str:
    """A length as a number in `units`: `digits` decimals in millimetres, three in inches; `sign` may be "+"."""
    value, digits = (millimetres / INCH, 3) if units == "in" else (millimetres, digits)
    return fixed(value, digits, sign)


def in_fractions(millimetres: float) -> str:
    """Inches to the nearest 1/64 in lowest terms, as on a tape measure: 31/32, 1-1/2, 0."""
    whole, rest = divmod(Fraction(round(abs(millimetres) / INCH * 64), 64), 1)
    said = "-".join(str(part) for part in (whole, rest) if part) or "0"
    return f"-{said}" if millimetres < 0 and said != "0" else said


def both(units: str, millimetres: float, digits: int = 1, sign: str = "") -> str:
    """A length in the job's unit, followed by the other unit; `digits` are those of the millimetres."""
    said = [f"{in_units(millimetres, unit, digits, sign)} {unit}" for unit in ("mm", "in")]
    first, second = said if units == "mm" else reversed(said)
    return f"{first} ({second})"


def area(units: str, square_millimetres: float) -> str:
    """An area in the job's unit, followed by the other unit."""
    said = [f"{square_millimetres:.0f} mm²", f"{square_millimetres / INCH**2:.3f} in²"]
    first, second = said if units == "mm" else reversed(said)
    return f"{first} ({second})"
