"""Number formats: decimals without meaningless digits; lengths and areas in the job's unit, or in both units."""

from __future__ import annotations

from collections.abc import Sequence
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


def with_unit(millimetres: float, units: str, digits: int = 1, sign: str = "") -> str:
    """A length with its unit: `digits` decimals in millimetres, two more in inches; `sign` may be "+"."""
    value, digits = (millimetres / INCH, digits + 2) if units == "in" else (millimetres, digits)
    return f"{fixed(value, digits, sign)} {units}"


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


def area_in(units: str, square_millimetres: float) -> str:
    """An area in `units`: whole square millimetres, or square inches with three decimals."""
    return f"{square_millimetres / INCH**2:.3f} in²" if units == "in" else f"{square_millimetres:.0f} mm²"


def volume_in(units: str, cubic_millimetres: float) -> str:
    """A volume in `units`: cubic millimetres with one decimal, or cubic inches with five."""
    return f"{cubic_millimetres / INCH**3:.5f} in³" if units == "in" else f"{cubic_millimetres:.1f} mm³"


def box_in(units: str, size: Sequence[float]) -> str:
    """Dimensions in `units`: whole millimetres, or inches with one decimal."""
    scale, digits = (INCH, 1) if units == "in" else (1.0, 0)
    return f"{' × '.join(f'{each / scale:.{digits}f}' for each in size)} {units}"


def area(units: str, square_millimetres: float) -> str:
    """An area in the job's unit, followed by the other unit."""
    said = [area_in(unit, square_millimetres) for unit in ("mm", "in")]
    first, second = said if units == "mm" else reversed(said)
    return f"{first} ({second})"
