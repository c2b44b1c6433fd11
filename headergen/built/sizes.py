"""The sizes of a stepped run at its pieces: how wide each is at its faces, and which goes into which."""

from __future__ import annotations

from typing import Literal

from headergen.geometry.curves.stepped import GrowthPlace, growth_places
from headergen.hand.tube import RunInPieces
from headergen.shop.sizes import SAME, piece_tube


def radius_at(tube: RunInPieces, k: int, face: Literal["start", "end"]) -> float:
    """Half the outside diameter of piece k, from 0, at one of its faces (mm)."""
    own, cone = piece_tube(tube.run, tube.pieces[k]), cone_of(tube, k)
    if own is not None or cone is None:
        return (own or tube.run.tube).radius
    return (cone.before if face == "start" else cone.after).radius


def cone_of(tube: RunInPieces, k: int) -> GrowthPlace | None:
    """The cone that piece k is, from 0; None for tube."""
    middle = (tube.pieces[k].start + tube.pieces[k].end) / 2
    cones = (place for place in growth_places(tube.run) if place.by == "cone")
    return next((place for place in cones if place.start < middle < place.end), None)


def taken_in(tube: RunInPieces, k: int) -> float:
    """How much of the piece before goes into piece k, from 0, by a slip joint at its start (mm); 0 if none does."""
    if not 0 < k < len(tube.pieces):
        return 0.0
    slips = (place for place in growth_places(tube.run) if place.by == "slip")
    return next((p.end - p.start for p in slips if abs(p.start - tube.pieces[k].start) < SAME), 0.0)
