"""The steps of every tube stand in report.md as the spec has them."""

from __future__ import annotations

import math

from headergen.model import Bend
from headergen.outputs.report import report_markdown
from tests.outputs import sample_result as sample


def test_every_step_is_a_row() -> None:
    text = report_markdown(sample.result(), "1.0")
    section = text[text.index("## Steps") :].split("\n## ")[0]
    rows = [
        [cell.strip() for cell in line.strip("| ").split("|")] for line in section.split("\n") if line.startswith("| ")
    ]
    rows = [row for row in rows if row[0] in ("1", "2")]
    assert len(rows) == 2 * len(sample.STEPS)
    for number, (row, step) in enumerate(zip(rows, sample.STEPS, strict=False), 1):
        assert row[1] == str(number)
        if isinstance(step, Bend):
            assert row[2] == "bend" and float(row[3].split()[0]) == round(step.radius * step.angle, 1)
            assert row[4:6] == [f"{math.degrees(step.rotation):.2f}°", f"{math.degrees(step.angle):.2f}°"]
            assert row[6].startswith("63.5 mm")
        else:
            assert row[2] == "straight" and float(row[3].split()[0]) == step.length
