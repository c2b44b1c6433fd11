"""Mitred joints that could take the place of slight bends, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.model import MitreOffer, Shop
from headergen.words.say import capital, say_length


def said_of_offers(shop: Shop, units: str) -> Iterator[str]:
    """A sentence for each offer that saves a weld: what it saves, and what it costs."""
    return (_said(offer, units) for offer in worth_a_weld(shop))


def worth_a_weld(shop: Shop) -> Iterator[MitreOffer]:
    """The offers that save a weld."""
    return (offer for offer in shop.mitres if offer.joints > 0)


def said_to_save(offer: MitreOffer) -> str:
    """What an offer saves, as a sentence."""
    return f"That saves {_counted(offer.pieces, 'piece')} and {_counted(offer.joints, 'weld')}."


def _said(offer: MitreOffer, units: str) -> str:
    angle, cut = math.degrees(offer.angle), math.degrees(offer.cut_angle)
    off, longer = say_length(offer.off, units), say_length(offer.longer, units)
    return (
        f"{capital(offer.run)}, step {offer.step}: a bend of {angle:.1f}° could be a mitred joint, cut at {cut:.1f}° "
        f"on either side. {said_to_save(offer)} The gas meets a corner, which stands {off} outside the bend, and the "
        f"centreline is {longer} longer. Its figures are in shop/mitres.csv, its template is in sheets.pdf, behind "
        f"{offer.run}."
    )


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
