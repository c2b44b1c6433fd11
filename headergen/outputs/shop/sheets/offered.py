"""The wrap template of a mitred joint that could take the place of a slight bend: one for both straights."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from headergen.geometry.curves.stepped import tube_at
from headergen.model import Bend, CutTemplate, Header, MitreOffer, Run, Shop
from headergen.outputs.shop.offers import said_to_save, worth_a_weld
from headergen.outputs.shop.sheets.full_size import FullSize
from headergen.outputs.shop.sheets.templates import wrapped
from headergen.outputs.shop.steps import start_of
from headergen.show.paper import FONT, INK, MM
from headergen.words.say import capital, say_length

WRAP_OFFER = "For both straights: keep the tube under the curve, its highest place outside the corner."
UNDER = 20.0  # mm of paper under the lowest place of the curve
STEPS = 720  # round the tube
LINE = 5.2  # mm, of the text above the paper


def offered_templates(header: Header, shop: Shop, run: Run) -> Iterator[FullSize]:
    """A template for each offer of a run that saves a weld."""
    line = header.centrelines[header.runs.index(run)]
    for offer in worth_a_weld(shop):
        if offer.run == run.name:
            before = sum(each.length for each in line.segments if each.step < offer.step)
            template = template_of_offer(offer, tube_at(run, before).radius)
            yield _titled(offer, template, list(_words(offer, run, header.draft.units)), header.draft.units)


def template_of_offer(offer: MitreOffer, radius: float) -> CutTemplate:
    """A plane cut at α to square round a tube of r mm: r·tan α·cos φ from its middle, φ from the outside of the corner.

    Both straights have the same cut, which is the same clockwise and counter-clockwise.
    """
    high = radius * math.tan(offer.cut_angle)
    heights = tuple(UNDER + high * (1 + math.cos(math.tau * k / STEPS)) for k in range(STEPS))
    return CutTemplate("", "", "mitre", radius, 2, -(UNDER + high), heights, run=offer.run)


def _words(offer: MitreOffer, run: Run, units: str) -> Iterator[str]:
    longer = say_length(offer.setback, units)
    yield f"Each straight is {longer} longer than beside the bend, to the middle of the cut."
    yield f"Saw both at {math.degrees(offer.cut_angle):.1f}° from square. {said_to_save(offer)}"
    bend, bends = run.steps[offer.step - 1], [step for step in run.steps[: offer.step - 1] if isinstance(step, Bend)]
    assert isinstance(bend, Bend)
    way = "clockwise" if bend.rotation > 0 else "counter-clockwise"
    of = "that of the bend before" if bends else f"opposite x of the {start_of(run)}"
    yield f"Witness line, on both: {abs(math.degrees(bend.rotation)):.1f}° {way} from {of}."


def _titled(offer: MitreOffer, template: CutTemplate, words: Sequence[str], units: str) -> FullSize:
    figure = wrapped(template, units)
    wide, high = figure.size

    def draw(canvas: Any) -> None:
        canvas.setFillColorRGB(*INK)
        canvas.setFont(FONT, 11 / MM)
        for k, said in enumerate(words):
            canvas.drawString(0, high + LINE * (len(words) - k) - 4.0, said)
        figure.draw(canvas)

    base = say_length(-template.base, units)
    title = f"{capital(offer.run)}, step {offer.step} as a mitre: base line {base} before the corner"
    return replace(figure, title=title, size=(wide, high + LINE * len(words)), draw=draw)
