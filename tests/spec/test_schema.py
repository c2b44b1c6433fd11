"""The JSON Schema that editors use: kept as a file, true to the reader, and readable."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from small_spec import changed

from headergen.spec.hand import HandFile
from headergen.spec.schema import json_schema, study_schema
from headergen.spec.starter import starter_text
from headergen.spec.stock import StockFile
from headergen.spec.text import read_text

SPECS = Path(__file__).parents[2] / "specs"


@cache
def validator() -> Any:
    return jsonschema.Draft202012Validator(json_schema())


def valid(content: str | bytes) -> bool:
    data = read_text(content if isinstance(content, bytes) else content.encode(), "spec.yaml").data
    return bool(validator().is_valid(data))


def test_the_file_is_what_the_command_writes() -> None:
    kept = (SPECS / "headergen.schema.json").read_text(encoding="utf-8")
    assert kept == json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())


def test_every_spec_that_comes_along_is_valid() -> None:
    for spec in sorted(SPECS.glob("*.yaml")):
        data = read_text(spec.read_bytes(), spec.name).data
        validator().validate(data)
    assert valid(starter_text("Test"))
    assert valid(changed())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("{straight: 200}", "{straight: 1-5/8 in}"),
        ("{straight: 200}", "{bend: 45, radius: 63.5, rotation: 12 deg}"),
        ("    - {straight: 200}\n", "    {path: [{straight: 200}], target: 700, locked: true}\n"),
        ("    - {straight: 200}\n", "    {points: [[0, 0, 0], [0, 1 in, 0], [0, 9, 9]], radius: 63.5}\n"),
        ("\n    - {straight: 200}\n", " find\n"),
        ("pattern: line", "pattern: [[0, 0]]"),
        ("revision: A", "revision: 2"),
    ],
)
def test_other_ways_of_writing_are_valid(old: str, new: str) -> None:
    assert valid(changed((old, new)))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("thickness: 10", "thicknes: 10"),
        ("  thickness: 10\n", ""),
        ("units: mm", "units: cm"),
        ("{straight: 200}", "{straight: 200, bend: 45, radius: 63.5}"),
        ("{straight: 200}", "{bend: 45}"),
        ("{straight: 200}", "{straight: 3 ft}"),
        ("  1:\n    - {", "  one:\n    - {"),
        ("origin: [0, 0, 0]", "origin: [0, 0]"),
        ("{round: 38}", "{round: 38, oval: [38, 30]}"),
        ("pattern: line", "pattern: circle"),
    ],
)
def test_what_the_reader_refuses_is_not_valid(old: str, new: str) -> None:
    assert not valid(changed((old, new)))


def test_every_key_has_help_and_nothing_in_it_is_of_the_code() -> None:
    def entries(node: Any) -> list[dict[str, Any]]:
        parts = node if isinstance(node, list) else list(node.values()) if isinstance(node, dict) else []
        own = [node] if isinstance(node, dict) and "properties" in node else []
        return own + [entry for part in parts for entry in entries(part)]

    schemas = [json_schema(), study_schema(), StockFile.model_json_schema(), HandFile.model_json_schema()]
    found = [(key, value) for entry in entries(schemas) for key, value in entry["properties"].items()]
    assert len(found) > 80
    for key, value in found:
        help_text = value["description"]
        assert len(help_text.split()) >= 3 and help_text.endswith("."), f"{key}: {help_text}"
        assert help_text[0].isupper() and "  " not in help_text, f"{key}: {help_text}"
        assert "Entry" not in help_text
        assert set(re.findall(r"\w+_\w+", help_text)) <= {name for name, _ in found}  # keys may be named
