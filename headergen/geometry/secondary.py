"""Secondaries: their centrelines, and whether a tube can be made of one."""

from __future__ import annotations

from headergen.geometry.body import tube_body
from headergen.geometry.centreline import trace
from headergen.geometry.own_crossing import nearest_own_places
from headergen.model import Bend, Centreline, Secondary

TOUCHING = 1e-6  # mm of centreline distance that rounding may take from a tube that just touches itself


def secondary_line(secondary: Secondary) -> Centreline:
    return trace(secondary.start, secondary.steps, 0)


def tight_bends(secondary: Secondary) -> tuple[tuple[int, Bend], ...]:
    """Steps, from 1, whose bend is tighter than half the tube's width."""
    bends = ((number, step) for number, step in enumerate(secondary.steps, 1) if isinstance(step, Bend))
    return tuple((number, bend) for number, bend in bends if bend.radius < secondary.tube.radius)


def own_crossing(secondary: Secondary) -> float | None:
    """How near its middle comes to itself, where that is less than it is wide."""
    found = nearest_own_places(tube_body(secondary_line(secondary), secondary.tube.radius))
    return found[0] if found is not None and found[0] < secondary.tube.outside_diameter - TOUCHING else None


def can_be_made(secondary: Secondary) -> bool:
    return not tight_bends(secondary) and own_crossing(secondary) is None
