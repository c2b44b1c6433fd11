"""One HTML file that needs nothing else: a template, its style, its scripts, three.js and the data it draws."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from headergen.show.three import three_js

SHARED = Path(__file__).with_name("templates")
SCRIPTS = ("page.js", "scene.js")  # what every page has before its own


def page(folder: Path, name: str, content: Mapping[str, Any], data: Mapping[str, Any], scripts: Sequence[str]) -> str:
    """The page that the template `name` in `folder` makes of `content`; `data` is plain data for its `scripts`.

    Every value is escaped. Raises ViewerError when three.js cannot be had.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    loader = FileSystemLoader([folder, SHARED])
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    read = [Markup(_text(SHARED / each)) for each in SCRIPTS] + [Markup(_text(folder / each)) for each in scripts]
    made = environment.get_template(name).render(
        **content, data=data, scripts=read, three=Markup(_three()), style=Markup(_text(SHARED / "page.css"))
    )
    return made if made.endswith("\n") else made + "\n"


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


@cache
def _three() -> str:
    return three_js()
