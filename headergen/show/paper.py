"""The common parts of all printed sheets: fonts, paper, and the notice on a header that is not clear."""

from __future__ import annotations

from typing import Any

MM = 72 / 25.4  # points
PAPER = {"mm": (210.0, 297.0), "in": (215.9, 279.4)}  # A4 and Letter, in mm, by the unit of the job
MARGIN = 14.0  # mm
FONT, BOLD = "Vera", "VeraBd"  # they come with reportlab, so that a sheet is the same everywhere
INK, STEEL, PALE = (0.1, 0.12, 0.14), (0.80, 0.82, 0.84), (0.45, 0.48, 0.5)
WRONG = (0.64, 0.13, 0.10)


def register_fonts() -> None:
    """Register the fonts of all sheets; and write their streams as bytes.

    The library would encode streams as text, which takes time and a fifth more room.
    """
    from reportlab import rl_config
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name in (FONT, BOLD):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
    rl_config.useA85 = 0


def escaped(text: str) -> str:
    """Text for a paragraph: markup is not interpreted."""
    from xml.sax.saxutils import escape

    return escape(text)


def draw_not_clear(canvas: Any, size: tuple[float, float]) -> None:
    """Across a page of `size` mm, pale enough to read through; the canvas is scaled to mm."""
    canvas.saveState()
    canvas.translate(size[0] / 2, size[1] / 2)
    canvas.rotate(52)
    canvas.setFillColorRGB(*WRONG, alpha=0.30)
    canvas.setFont(BOLD, 96 / MM)
    canvas.drawCentredString(0, -12, "NOT CLEARED")
    canvas.restoreState()
