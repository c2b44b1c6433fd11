"""Numbers as report.json has them: rounded to 1e-6, angles in degrees."""

from __future__ import annotations

import math
from collections.abc import Iterable


def rounded(value: float) -> float:
    """Rounded to 1e-6, and never −0.0."""
    return round(float(value), 6) + 0.0


def rounded_or_none(value: float | None) -> float | None:
    return None if value is None else rounded(value)


def in_degrees(angle: float) -> float:
    return rounded(math.degrees(angle))


def rounded_point(point: Iterable[float]) -> list[float]:
    return [rounded(value) for value in point]
