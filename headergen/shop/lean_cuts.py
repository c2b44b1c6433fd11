"""The first end of a tube that leans on its flange, sawn to the lean, so that it stands flat in the plate or on it.

A plane at the angle α to square cuts a tube of radius r at r·tan α·cos φ along it, φ round it from its longest side
(pattern development of a cut cylinder). The cut is parallel to the flange's face, where the tube begins in the plate
or on it, so its lowest edge is the longest side, away from where the tube leans to. A transition is made with a square
end, and so is the tube after it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from headergen.geometry.curves.stepped import growth_places
from headergen.geometry.frames import add, cross, dot, scaled, unit
from headergen.geometry.plate.flange import is_square, lean, tube_from
from headergen.model import BentTube, CutTemplate, Flange, Frame, Header, LeanCut, Plane, Run, Shop
from headergen.shop.angled_cuts import AngledCut, template_of

MIDDLE = (0.0, 0.0, 0.0)


def sawn_lean(flange: Flange, run: Run) -> float:
    """The angle (rad) from square at which the first end of a primary is sawn; 0 if it is square.

    Nor is an end sawn that grows before it has left the cut.
    """
    begins = tube_from(flange, run.port, run.tube)
    grows = any(place.start < begins for place in growth_places(run))
    if run.port.transition or grows or is_square(flange, run.port):
        return 0.0
    return lean(flange, run.port)


def longer_by(radius: float, angle: float) -> float:
    """How much longer the longest side is than the shortest, 2·r·tan α (mm)."""
    return 2 * radius * math.tan(angle) if angle else 0.0


def with_lean_cuts(header: Header, shop: Shop) -> Shop:
    """The bench with the cut of each first end that is not square, and its template."""
    cuts = tuple(lean_cuts(header, shop))
    if not cuts:
        return shop
    templates = tuple(_template(header, cut) for cut in cuts)
    return replace(shop, lean_cuts=cuts, templates=(*shop.templates, *templates))


def lean_cuts(header: Header, shop: Shop) -> Iterator[LeanCut]:
    """L1, L2, … with the bank's letter, by run, of those that have pieces or are bent in one."""
    bent = {tube.run: tube for tube in shop.bent}
    number = 0
    for run in header.primaries:
        flange = header.draft.flange_of(run.port)
        angle, pieces = sawn_lean(flange, run), shop.plan.of_run(run.name)
        if not angle or not (pieces or run.name in bent):
            continue
        number += 1
        first = _of_bent(bent[run.name]) if run.name in bent else pieces[0].legs[0]
        port, face = run.port.frame, flange.frame.z
        clock = math.atan2(dot(face, port.y), dot(face, port.x))
        turn = _first_turn(shop, run)
        yield LeanCut(
            run.name,
            f"{header.draft.letter}L{number}",
            run.tube.radius,
            angle,
            clock,
            None if turn is None else math.remainder(clock - turn - math.pi, math.tau),
            (first, first - longer_by(run.tube.radius, angle)),
        )


def _of_bent(tube: BentTube) -> float:
    return tube.rows[0].feed if tube.rows else tube.last


def _first_turn(shop: Shop, run: Run) -> float | None:
    """How the bend in the first piece is turned from x of the flange; None if there is no bend in that piece."""
    bent = next((tube for tube in shop.bent if tube.run == run.name), None)
    if bent is not None:
        return bent.rows[0].rotation if bent.rows else None
    return next((mark.angle for mark in shop.turns if mark.run == run.name and mark.joint == 0), None)


def _template(header: Header, cut: LeanCut) -> CutTemplate:
    """As those of a collector; the witness line is on the longest side, and the cut is toward the flange."""
    run = header.run(cut.run)
    flange, port = header.draft.flange_of(run.port), run.port.frame
    longest = add(scaled(port.x, math.cos(cut.clock)), port.y, math.sin(cut.clock))
    up = scaled(port.z, -1.0)
    middle = add(port.origin, port.z, flange.tube_start / math.cos(cut.angle))
    axes = Frame(middle, longest, cross(up, longest), up)
    down = scaled(flange.frame.z, -1.0)
    plane = Plane(MIDDLE, unit((dot(down, axes.x), dot(down, axes.y), dot(down, axes.z))))
    template = template_of(AngledCut(cut.name, flange.part, "lean", cut.radius, axes, (plane,), 1))
    return replace(template, run=cut.run)
