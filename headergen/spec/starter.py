"""The commented spec that a new job starts from, and the place of the schema for its editor."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

SCHEMA = "headergen.schema.json"


def starter_text(name: str, schema: str = SCHEMA, date: str = "2026-01-01") -> str:
    """A spec that builds as it is, laid out as a measuring sheet; `schema` is the path of the schema for editors."""
    template = files("headergen.spec").joinpath("starter.yaml").read_text(encoding="utf-8")
    title = json.dumps(name, ensure_ascii=False)[1:-1]  # JSON's escapes in quotes are YAML's too
    return template.replace("@SCHEMA@", schema).replace("@DATE@", date).replace("@TITLE@", title)


def schema_beside(folder: Path) -> tuple[str, bool]:
    """The path of the schema from `folder`, and whether it has to be written there first."""
    places = (Path(SCHEMA), Path("specs", SCHEMA), Path("..", "specs", SCHEMA))
    found = next((place.as_posix() for place in places if (folder / place).is_file()), None)
    return found or SCHEMA, found is None
