"""Templates at full size for cuts that are not square: a line on paper that is wrapped round the tube."""

from __future__ import annotations

import math
from typing import Any

from headergen.model import CutTemplate
from headergen.outputs.shop.data import ORDINATES
from headergen.outputs.shop.sheets.full_size import EDGE, PAPER_THICK, FullSize
from headergen.show.paper import BOLD, FONT, INK, MM, PALE
from headergen.words.numbers import in_units
from headergen.words.say import say_length, say_list

ROOM_ABOVE = 6.0  # mm, for the text at the witness line


def wrapped(template: CutTemplate, units: str) -> FullSize:
    """The template of one cut, printed 1:1: the part under the curve is kept.

    It is π(OD + paper) long, so that its ends meet on the tube. At the length s, the curve has the height of the cut at
    the angle 2πs/length. For a plane at α to square it is r·tan α·cos of that angle.
    """
    length, high = math.pi * (2 * template.radius + PAPER_THICK), max(template.heights)
    step = len(template.heights) // ORDINATES

    def draw(canvas: Any) -> None:
        canvas.translate(EDGE, EDGE)
        canvas.setStrokeColorRGB(*INK)
        canvas.setFillColorRGB(*INK)
        canvas.setLineWidth(0.3)
        for x in (0.0, length):
            canvas.line(x, 0, x, template.heights[0])
        canvas.line(0, 0, length, 0)
        _curve(canvas, template, length)
        for k in range(ORDINATES + 1):
            _ordinate(canvas, length * k / ORDINATES, template.heights[k * step % len(template.heights)], units)
        canvas.setFont(BOLD, 11 / MM)
        canvas.drawString(1.0, high + 2.0, "witness line")

    return FullSize(_said(template, units), (length + 2 * EDGE, high + ROOM_ABOVE + 2 * EDGE), draw)


def _said(template: CutTemplate, units: str) -> str:
    where = say_length(abs(template.base), units)
    if template.what == "fishmouth":
        return f"{template.name}, {template.run} on {template.collector}: base line {where} from its axis"
    if template.what == "lean":
        high = say_length(template.heights[0], units)
        return f"{template.name}, start of {template.run}: longest side at the witness line, {high} high"
    side = "before" if template.base < 0 else "past"
    which = f"{template.count} tubes of {template.collector}"
    if template.bores:
        which = f"the tube of bore {say_list([str(bore) for bore in template.bores])} of {template.collector}"
    return f"{template.name}, {template.what} of {which}: base line {where} {side} the mitre"


def _curve(canvas: Any, template: CutTemplate, length: float) -> None:
    path, count = canvas.beginPath(), len(template.heights)
    path.moveTo(0, template.heights[0])
    for k in range(1, count + 1):
        path.lineTo(length * k / count, template.heights[k % count])
    canvas.setLineWidth(0.4)
    canvas.drawPath(path)


def _ordinate(canvas: Any, x: float, height: float, units: str) -> None:
    """The line from base to cut, with its height along it."""
    canvas.saveState()
    canvas.setStrokeColorRGB(*PALE)
    canvas.setLineWidth(0.12)
    canvas.line(x, 0, x, height)
    canvas.translate(x - 0.8, 1.5)
    canvas.rotate(90)
    canvas.setFont(FONT, 11 / MM)
    if x > 0:
        canvas.drawString(0, 0, in_units(height, units))
    canvas.restoreState()
