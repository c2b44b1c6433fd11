"""SVG elements as text; their content is escaped."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from headergen.words.numbers import INCH

WIDTH = 360.0  # units, of a figure beside others


def element(name: str, inner: str = "", /, **attributes: object) -> str:
    """An element; `class_` stands for class, and an underscore for a hyphen."""
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_text(value))}"' for key, value in attributes.items()
    )
    return f"<{name}{said}>{inner}</{name}>" if inner else f"<{name}{said}/>"


def _text(value: object) -> str:
    return f"{round(value, 2):g}" if isinstance(value, float) else str(value)


def label(words: str, x: float, y: float, anchor: str = "start", **more: object) -> str:
    return element("text", escape(words), x=x, y=y, text_anchor=anchor, **more)


def length_label(millimetres: float, units: str, place: tuple[float, float], anchor: str, with_unit: bool) -> str:
    """A length that the page shows in the chosen unit."""
    said = {unit: said_length(millimetres, unit, with_unit) for unit in ("mm", "in")}
    x, y = place
    return label(said[units], x, y, anchor, data_mm=said["mm"], data_in=said["in"])


def said_length(millimetres: float, units: str, with_unit: bool) -> str:
    value = f"{millimetres / INCH:.2f}" if units == "in" else f"{millimetres:.1f}".removesuffix(".0")
    return f"{value} {units}" if with_unit else value


def path(points: Iterable[tuple[float, float]], closed: bool = False, **more: object) -> str:
    drawn = " L".join(f"{round(x, 1):g} {round(y, 1):g}" for x, y in points)
    return element("path", d=f"M{drawn}{'Z' if closed else ''}", **more)


def drawing(parts: Iterable[str], size: tuple[float, float], title: str) -> str:
    """The whole drawing, with its title for people who do not see it."""
    width, height = size
    return element(
        "svg",
        "".join(parts),
        viewBox=f"0 0 {width:g} {height:g}",
        role="img",
        aria_label=title,
        class_="figure",
    )
