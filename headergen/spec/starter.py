"""The commented spec that a new job starts from."""

from __future__ import annotations

import json
from importlib.resources import files


def starter_text(name: str, schema: str = "headergen.schema.json", date: str = "2026-01-01") -> str:
    """A spec that builds as it is, laid out as a measuring sheet; `schema` is the path editors find the schema at."""
    template = files("headergen.spec").joinpath("starter.yaml").read_text(encoding="utf-8")
    title = json.dumps(name, ensure_ascii=False)[1:-1]  # what JSON escapes in quotes, YAML does too
    return template.replace("@SCHEMA@", schema).replace("@DATE@", date).replace("@TITLE@", title)
