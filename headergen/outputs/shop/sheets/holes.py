"""Templates at full size for holes in tubes that carry others on their side: paper that is wrapped round the tube."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from headergen.model import HoleTemplate
from headergen.outputs.shop.sheets.full_size import EDGE, PAPER_THICK, FullSize
from headergen.show.paper import FONT, INK, MM, PALE
from headergen.words.say import say_length, say_way

BESIDE = 12.0  # mm of paper along the tube, before and after what stands on it
LINE = 5.2  # mm, of the text above the paper


def hole_wrapped(template: HoleTemplate, units: str) -> FullSize:
    """The template of one hole, printed 1:1, with the end of its tube up.

    It is π(OD + paper) long, so that its ends meet opposite the hole. A turn of t from the middle is at the length
    t·length/2π; what is along the tube stays as it is.
    """
    length = math.pi * (2 * template.radius + PAPER_THICK)
    low = min(along for _, along in template.seat) - BESIDE
    high = max(along for _, along in template.seat) + BESIDE - low
    words = (
        f"Line across: {say_length(template.at, units)} from its start along the middle; its start is down.",
        f"Line up: the middle of the side that faces {say_way(template.out)} as the engine stands.",
    )

    def draw(canvas: Any) -> None:
        canvas.translate(EDGE, EDGE)
        canvas.setStrokeColorRGB(*INK)
        canvas.setFillColorRGB(*INK)
        canvas.setFont(FONT, 11 / MM)
        for k, said in enumerate(words):
            canvas.drawString(0, high + LINE * (len(words) - k) - 3.0, said)
        canvas.setLineWidth(0.3)
        canvas.rect(0, 0, length, high)
        canvas.setLineWidth(0.15)
        canvas.line(0, -low, length, -low)
        canvas.line(length / 2, 0, length / 2, high)
        canvas.setLineWidth(0.4)
        _outline(canvas, _on_paper(template.edge, length, low))
        canvas.setStrokeColorRGB(*PALE)
        canvas.setLineWidth(0.25)
        canvas.setDash([2, 1])
        _outline(canvas, _on_paper(template.seat, length, low))
        canvas.setDash()

    title = f"{template.name}: hole in {template.host} for {template.run}"
    return FullSize(title, (length + 2 * EDGE, high + LINE * len(words) + 2 * EDGE), draw)


def _on_paper(places: Sequence[tuple[float, float]], length: float, low: float) -> list[tuple[float, float]]:
    return [(length * (0.5 - turn / (2 * math.pi)), along - low) for turn, along in places]


def _outline(canvas: Any, points: Sequence[tuple[float, float]]) -> None:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    path.close()
    canvas.drawPath(path)
