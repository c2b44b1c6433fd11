"""What the report says of stepped primaries: their sizes, the lengths to each step, and their weight by size."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

from headergen.commands.line import commands

SPECS = Path(__file__).resolve().parents[2] / "specs"
DENSITY = 8.0e-3  # g/mm³ of 304L, EN 10088-1 gives 7.9 kg/dm³; both are within the 2 % asked here


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("report")
    done = CliRunner().invoke(commands, ["check", str(SPECS / "guide_steps.yaml"), "--report", str(folder)])
    assert done.exit_code == 0, done.output
    [file] = folder.rglob("report.json")
    return done.output, json.loads(file.read_text(encoding="utf-8"))


def test_each_growth_is_a_step_with_its_length_from_the_port(told: tuple[str, dict[str, Any]]) -> None:
    for run in told[1]["runs"]:
        slip, cone = (step for step in run["steps"] if step["kind"] == "step")
        before = sum(step["length_mm"] for step in run["steps"] if step["step"] <= slip["step"])
        assert slip["from_start_mm"] == pytest.approx(before, abs=1e-5) and 215.0 <= before <= 220.0 + 1e-5
        assert (slip["by"], slip["outside_diameter_mm"], slip["length_mm"]) == ("slip", 41.3, 20.0)
        before = sum(step["length_mm"] for step in run["steps"] if step["step"] < cone["step"])
        assert cone["from_start_mm"] == pytest.approx(before, abs=1e-5)
        assert (cone["by"], cone["outside_diameter_mm"], cone["length_mm"]) == ("cone", 44.5, 25.0)


def test_the_weight_is_that_of_each_size(told: tuple[str, dict[str, Any]]) -> None:
    """π·(OD − t)·t·L of each tube from end to end; of the cone, with the mean of both diameters."""
    for run in told[1]["runs"]:
        slip, cone = (step for step in run["steps"] if step["kind"] == "step")
        whole, wall = run["developed_length_mm"], 1.5
        spans = [
            (38.1, slip["from_start_mm"]),
            (41.3, cone["from_start_mm"] - slip["from_start_mm"] + 20.0),
            ((41.3 + 44.5) / 2, 25.0),
            (44.5, whole - cone["from_start_mm"] - 25.0),
        ]
        metal = sum(math.pi * (outer - wall) * wall * length for outer, length in spans)
        assert run["mass_g"] == pytest.approx(metal * DENSITY, rel=0.02)


def test_the_lengths_stand_on_the_terminal(told: tuple[str, dict[str, Any]]) -> None:
    text = " ".join(told[0].split())
    for run in told[1]["runs"]:
        slip, cone = (step["from_start_mm"] for step in run["steps"] if step["kind"] == "step")
        assert f"Primary {run['number']} grows to 41.3 mm at {slip:.1f} mm and to 44.5 mm at {cone:.1f} mm" in text


def test_it_is_as_the_schema_of_reports_asks(told: tuple[str, dict[str, Any]]) -> None:
    schema = json.loads((SPECS / "report.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(told[1], schema, jsonschema.Draft202012Validator)
