"""report.json: everything that was measured and found, under stable keys with the unit in their names."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from headergen.model import Result
from headergen.outputs.report.markdown import markdown_of
from headergen.outputs.report.records.report import Report, report_of
from headergen.outputs.report.rounding import as_json


def write_reports(folder: Path, result: Result, version: str) -> None:
    """Write report.json and report.md into an existing folder. Raises the errors of write_report_json."""
    report = report_of(result, version)
    _write_json(folder / "report.json", report)
    (folder / "report.md").write_bytes(markdown_of(report).encode())


def write_report_json(path: Path, result: Result, version: str) -> None:
    """Write report.json: UTF-8, keys sorted, one newline at the end.

    Raises ValueError if a number is not finite (JSON cannot hold it), and OSError if the file cannot be written.
    """
    _write_json(path, report_of(result, version))


def report_data(result: Result, version: str) -> dict[str, Any]:
    """The report as plain dicts and lists; lengths in millimetres, angles in degrees, rounded to 1e-6.

    report_schema() describes it. `version` is the tool's.
    """
    data: dict[str, Any] = as_json(report_of(result, version))
    return data


def _write_json(path: Path, report: Report) -> None:
    text = json.dumps(as_json(report), indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    path.write_bytes((text + "\n").encode())
