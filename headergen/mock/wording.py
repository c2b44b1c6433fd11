"""Lengths in the wording of the mock's sheet."""

from __future__ import annotations

from headergen.words.numbers import INCH


def said(millimetres: float, units: str, digits: int = 1) -> str:
    """A length in the job's unit; `digits` are those of millimetres; inches have two more."""
    return f"{millimetres / INCH:.{digits + 2}f} in" if units == "in" else f"{millimetres:.{digits}f} mm"
