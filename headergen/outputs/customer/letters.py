"""Text of a sheet in fonts that have its letters: the sheet's own font, else one installed on this machine.

Each letter is drawn on its own, from left to right: scripts with joined letters are legible, but not well set.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

from headergen.show.paper import BOLD, FONT, MM, escaped

REPLACED = "?"
# first families with many scripts; then those with one script each, by name
WIDE = ("DejaVuSans", "NotoSans-Regular", "arial", "Arial Unicode", "DroidSansFallbackFull")
HEAVY = {"DejaVuSans": "DejaVuSans-Bold", "NotoSans-Regular": "NotoSans-Bold", "arial": "arialbd"}


def pieces(text: str, bold: bool = False) -> list[tuple[str, str]]:
    """The text in pieces, each with a font that has its letters; letters without a font become question marks."""
    fonts = [_font_of(letter, bold) for letter in text]
    told = ((font or _own(bold), letter if font else REPLACED) for font, letter in zip(fonts, text, strict=True))
    return [(font, "".join(letter for _, letter in group)) for font, group in groupby(told, key=lambda each: each[0])]


def replaced(text: str) -> str:
    """The letters of a text that no font on this machine has, each once."""
    return "".join(dict.fromkeys(letter for letter in text if _font_of(letter, False) is None))


def marked(text: str, bold: bool = False) -> str:
    """The text as paragraph markup, with the fonts of its pieces."""
    return "".join(
        escaped(words) if font == FONT else f"<font name='{font}'>{escaped(words)}</font>"
        for font, words in pieces(text, bold)
    )


def write(canvas: Any, at: tuple[float, float], text: str, points: float, bold: bool = False) -> None:
    """Write text that starts at a place, mm; the canvas is scaled to mm."""
    left, low = at
    for font, words in pieces(text, bold):
        canvas.setFont(font, points / MM)
        canvas.drawString(left, low, words)
        left += canvas.stringWidth(words, font, points / MM)


def write_to(canvas: Any, at: tuple[float, float], text: str, points: float) -> None:
    """Write text that ends at a place, mm."""
    wide = sum(canvas.stringWidth(words, font, points / MM) for font, words in pieces(text))
    write(canvas, (at[0] - wide, at[1]), text, points)


def _own(bold: bool) -> str:
    return BOLD if bold else FONT


@cache
def _font_of(letter: str, bold: bool) -> str | None:
    """The first registered or installed font that has a letter; None if there is none."""
    from reportlab.pdfbase import pdfmetrics

    if not letter.isprintable() or ord(letter) in pdfmetrics.getFont(_own(bold)).face.charToGlyph:
        return _own(bold)
    for path in _installed():
        heavy = _installed_by_name().get(HEAVY.get(path.stem, "")) if bold else None
        for each in (heavy, path):
            name = None if each is None else _registered(each)
            if name is not None and ord(letter) in pdfmetrics.getFont(name).face.charToGlyph:
                return name
    return None


@cache
def _registered(path: Path) -> str | None:
    """The name of an installed font for use in sheets; None if it cannot be used."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFError, TTFont

    try:
        pdfmetrics.registerFont(TTFont(path.stem, str(path)))
    except (TTFError, OSError, ValueError, KeyError):  # a kind of font that sheets cannot hold
        return None
    return path.stem


@cache
def _installed_by_name() -> dict[str, Path]:
    return {path.stem: path for folder in _folders() for path in sorted(folder.rglob("*.ttf"))}


@cache
def _installed() -> tuple[Path, ...]:
    known = _installed_by_name()
    narrow = sorted(name for name in known if name.startswith("NotoSans") and name.endswith("-Regular"))
    return tuple(known[name] for name in dict.fromkeys((*WIDE, *narrow)) if name in known)


def _folders() -> Iterator[Path]:
    home = Path.home()
    if sys.platform == "win32":
        yield Path(os.environ.get("WINDIR", "C:/Windows")) / "Fonts"
    elif sys.platform == "darwin":
        yield from (Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library" / "Fonts")
    else:
        yield from (Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".local" / "share" / "fonts")
