"""A self-contained HTML file: a template, its style, its scripts and its data, with three.js if it draws."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from headergen.show.three import ViewerError, three_js

SHARED = Path(__file__).with_name("templates")
SCRIPT, VIEW = "page.js", "scene.js"  # scripts before a page's own: for every page, and for one that draws


def ready_for_pages_that_draw() -> None:
    """Load the library of templates, and read three.js; if it is not available, the first page says so."""
    import jinja2  # noqa: F401

    with suppress(ViewerError):
        _three()


def page(
    folder: Path,
    name: str,
    content: Mapping[str, Any],
    data: Mapping[str, Any],
    scripts: Sequence[str],
    draws: bool = True,
) -> str:
    """The page from the template `name` in `folder` with `content`; `data` is plain data for its `scripts`.

    Every value is escaped. `draws`: it shows meshes, so it includes three.js. Raises ViewerError if three.js is needed
    and not available.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    loader = FileSystemLoader([folder, SHARED])
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    shared = (SCRIPT, VIEW) if draws else (SCRIPT,)
    files = [*(SHARED / each for each in shared), *(folder / each for each in scripts)]
    read = [Markup(_text(file)) for file in files]
    three = Markup(_three()) if draws else ""
    made = environment.get_template(name).render(
        **content, data=data, scripts=read, three=three, style=Markup(_text(SHARED / "page.css"))
    )
    return made if made.endswith("\n") else made + "\n"


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


@cache
def _three() -> str:
    return three_js()
