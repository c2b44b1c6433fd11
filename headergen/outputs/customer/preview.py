"""preview.html: the header in a view the customer can turn, beside its picture and the facts to sign for."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from headergen.geometry.frames import unit
from headergen.model import Vec
from headergen.model.sign_off import SignOff
from headergen.outputs.customer.facts import groups, verdict
from headergen.show.meshes import ShownMesh, packed
from headergen.show.page import page
from headergen.show.surfaces import SURFACES

FILE = "preview.html"
TEMPLATES = Path(__file__).with_name("templates")


def write_preview(
    path: Path, facts: SignOff, units: str, shown: Sequence[ShownMesh], looks: tuple[Vec, bytes | None, str]
) -> None:
    """Write the page.

    `looks`: the direction from the header to the eye, the picture as JPEG if there is one, and the tool's version.
    Raises ViewerError if three.js is not available, OSError if the file cannot be written.
    """
    direction, picture, version = looks
    content = {
        "facts": facts,
        "verdict": verdict(facts),
        "groups": groups(facts),
        "units": units,
        "surfaces": SURFACES,
        "header_parts": [each.name for each in shown if each.group == "header"],
        "has_chassis": any(each.group == "chassis" for each in shown),
        "picture": None if picture is None else base64.b64encode(picture).decode("ascii"),
        "version": version,
    }
    data = {
        "meshes": [packed(each) for each in shown],
        "surfaces": [asdict(each) for each in SURFACES],
        "finish": facts.finish,
        "seenFrom": [round(value, 4) for value in unit(direction)],
    }
    path.write_text(page(TEMPLATES, FILE, content, data, ["preview.js"]), encoding="utf-8", newline="\n")
