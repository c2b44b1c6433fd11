"""A record as in report.json: numbers are rounded to 1e-6, so that the same header gives the same bytes."""

from __future__ import annotations

from typing import Any

from headergen.outputs.report.records.base import Record


def as_json(record: Record) -> Any:
    """A record as plain dicts and lists, every number rounded to 1e-6, and no −0.0."""
    return _rounded(record.model_dump(mode="json"))


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, 6) + 0.0
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    return [_rounded(inner) for inner in value] if isinstance(value, list) else value
