"""The JSON Schema of a spec, which tells editors its keys, their meaning and their kinds."""

from __future__ import annotations

from typing import Any

from headergen.spec.fields import ANGLE_SCHEMA, LENGTH_SCHEMA
from headergen.spec.mirror_file import MirrorFile
from headergen.spec.models import SpecFile
from headergen.spec.study import StudyFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"
NUMBERED = "^[1-9][0-9]?$"  # ports and primaries: in JSON all keys are text


def json_schema() -> dict[str, Any]:
    """The schema of a spec, draft 2020-12. Checks that need the reader, above all ranges, are left out."""
    schema: dict[str, Any] = _tidied(SpecFile.model_json_schema(by_alias=True))
    other: dict[str, Any] = _tidied(MirrorFile.model_json_schema(by_alias=True))
    entries = {**other.pop("$defs"), **schema.pop("$defs")}
    numbered = (schema["properties"]["primaries"], other["properties"]["primaries"])
    entries |= {"length": LENGTH_SCHEMA, "angle": ANGLE_SCHEMA}
    for mapping in (*numbered, entries["FlangeEntry"]["properties"]["ports"]):
        mapping["patternProperties"] = {NUMBERED: mapping["additionalProperties"]}
        mapping["additionalProperties"] = False
        mapping.pop("propertyNames", None)
    steps = {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/StepEntry"}}
    for name in ("PrimaryEntry", "SecondaryEntry"):
        entries[name] = {"anyOf": [steps, {"const": "find"}, entries[name]]}
    for name, plain in (("LengthValue", "length"), ("BendValue", "angle"), ("TurnValue", "angle")):
        entries[name] = {"anyOf": [{"$ref": f"#/$defs/{plain}"}, entries[name]]}
    entries |= {"SpecFile": schema, "MirrorFile": other}
    return {
        "$schema": DIALECT,
        "title": "headergen spec",
        "if": {"required": ["mirror_of"]},
        "then": {"$ref": "#/$defs/MirrorFile"},
        "else": {"$ref": "#/$defs/SpecFile"},
        "$defs": entries,
    }


def study_schema() -> dict[str, Any]:
    """The schema of the file of a study, draft 2020-12."""
    return {"$schema": DIALECT, **_tidied(StudyFile.model_json_schema(by_alias=True)), "title": "headergen study"}


def _tidied(node: Any) -> Any:
    """The schema without titles, without nulls (which no spec may hold), and with repeated parts written once.

    Numeric defaults are left to the descriptions, which give their unit.
    """
    if isinstance(node, list):
        return [_tidied(part) for part in node]
    if not isinstance(node, dict):
        return node
    tidy = {
        key: {name: _tidied(part) for name, part in value.items()} if key in ("properties", "$defs") else _tidied(value)
        for key, value in node.items()
        if not (key == "title" or (key == "default" and not isinstance(value, (str, bool))))
    }
    if "anyOf" in tidy:
        tidy |= _choice([part for part in tidy.pop("anyOf") if part != {"type": "null"}])
    parts = tidy.get("prefixItems", [])
    if parts and all(part == parts[0] for part in parts):
        del tidy["prefixItems"]
        tidy["items"] = parts[0]
    return tidy


def _choice(parts: list[Any]) -> dict[str, Any]:
    for name, known in (("length", LENGTH_SCHEMA), ("angle", ANGLE_SCHEMA)):
        if parts == known["anyOf"]:
            return {"$ref": f"#/$defs/{name}"}
    return parts[0] if len(parts) == 1 else {"anyOf": parts}
