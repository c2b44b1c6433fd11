"""preview.html: the header in a view the customer can turn, beside its picture and the facts to sign for."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from headergen.geometry.frames import unit
from headergen.model import Vec
from headergen.model.sign_off import SignOff
from headergen.outputs.customer.facts import glance, groups, verdict
from headergen.show.meshes import ShownMesh
from headergen.show.page import page
from headergen.show.surfaces import SURFACES

FILE = "preview.html"
TEMPLATES = Path(__file__).with_name("templates")


@dataclass(frozen=True)
class Label:
    """A name at its place in the view; `kind`: "end" for an end of the header, "around" for the chassis."""

    words: str
    at: Vec
    kind: Literal["end", "around"]


@dataclass(frozen=True, eq=False)
class PreviewLooks:
    """The direction from the header to the eye, the picture as JPEG if there is one, and the labels in the view.

    The most important label comes first, and hides labels for which there is no room.
    """

    direction: Vec
    picture: bytes | None = None
    labels: tuple[Label, ...] = ()


def write_preview(
    path: Path, facts: SignOff, units: str, shown: Sequence[ShownMesh], looks: PreviewLooks, version: str
) -> None:
    """Write the page.

    `looks`: the direction from the header to the eye, the picture as JPEG if there is one, and the tool's version.
    Raises ViewerError if three.js is not available, OSError if the file cannot be written.
    """
    picture = looks.picture
    content = {
        "facts": facts,
        "verdict": verdict(facts),
        "glance": glance(facts),
        "groups": groups(facts),
        "units": units,
        "surfaces": SURFACES,
        "header_parts": [each.name for each in shown if each.group == "header"],
        "has_chassis": any(each.group == "chassis" for each in shown),
        "picture": None if picture is None else base64.b64encode(picture).decode("ascii"),
        "version": version,
    }
    data = {
        "meshes": [each.packed for each in shown],
        "surfaces": [asdict(each) for each in SURFACES],
        "finish": facts.finish,
        "labels": [{**asdict(each), "at": [round(value, 2) for value in each.at]} for each in looks.labels],
        "seenFrom": [round(value, 4) for value in unit(looks.direction)],
    }
    path.write_text(page(TEMPLATES, FILE, content, data, ["preview.js"]), encoding="utf-8", newline="\n")
