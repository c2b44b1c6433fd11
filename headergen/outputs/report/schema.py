"""The JSON Schema of report.json, kept at specs/report.schema.json: that of the records."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from headergen.outputs.report.records.report import Report

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class _WithoutTitles(GenerateJsonSchema):
    """A key's title would only repeat the key."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def report_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) that every report.json meets: all keys are there, and no others."""
    made = Report.model_json_schema(mode="serialization", schema_generator=_WithoutTitles)
    return {"$schema": DIALECT, **made, "title": "headergen report"}
