"""The notes of a plan: what is missing, where a joint is awkward, what a small change saves."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

from headergen.geometry.curves.stepped import tube_at, tube_of_step
from headergen.model import Bend, Draft, Header, Plan, Run, Stock, Tube
from headergen.shop.hi_lo import LIMIT
from headergen.shop.shelf import shelf_of
from headergen.shop.sizes import growth_notes, piece_tube
from headergen.words.say import say_angle, say_length, say_list

NEARLY = math.radians(0.3)  # of a shelf angle, within which a bend should have that angle
EXACT = 1e-6  # rad
RADIUS_OFF = 0.3  # mm by which measured bends may differ from the path's radius without a note


def notes_of(header: Header, plan: Plan, bent: Collection[str]) -> Iterator[str]:
    """`bent`: runs in one piece from the shop's own bender, which need no notes."""
    planned = {piece.run for piece in plan.pieces} | set(bent)
    for run in header.runs:
        if run.name not in planned:
            yield f"{run.name} has no pieces: it bends before its tube has left plate and transition."
    for piece in plan.pieces:
        if piece.is_bend and piece.item is None:
            size = f"{say_angle(piece.angle)} of CLR {say_length(piece.radius, header.draft.units)}"
            if header.draft.stock is None:
                yield f"{piece.run}, piece {piece.number}: no stock list is given, so a bend of {size} is assumed."
            else:
                yield f"{piece.run}, piece {piece.number}: no bend in the stock list holds {size}."
    for joint in plan.joints:
        if joint.blocked:
            yield f"{joint.run}, joint {joint.number}: {joint.blocked}; plan when to weld it."
    yield from growth_notes(header, plan)
    yield from _sizes_without_stock(header, plan)
    stock = header.draft.stock
    yield from _oval_joints(header, plan)
    for run in header.runs:
        if stock is not None and run.name not in bent:
            yield from _nearly_whole(run, stock, header.draft.tube)
            yield from _measured_otherwise(run, stock, header.draft)


def _sizes_without_stock(header: Header, plan: Plan) -> Iterator[str]:
    """The tubes of which the stock list has nothing."""
    draft, stock = header.draft, header.draft.stock
    if stock is None:
        return
    sizes: dict[tuple[str, str], list[str]] = {}
    for piece in plan.pieces:
        tube = piece_tube(header.run(piece.run), piece)
        if tube is not None and not stock.is_for(tube, draft.tube):
            size = say_length(tube.outside_diameter, draft.units), say_length(tube.wall, draft.units)
            runs = sizes.setdefault(size, [])
            runs += [piece.run] if piece.run not in runs else []
    listed = say_list([say_length(each, draft.units) for each in stock.diameters or (draft.tube.outside_diameter,)])
    for (outside, wall), runs in sizes.items():
        yield (
            f"There is no stock of tube {outside} × {wall}, for {', '.join(runs)}: the stock list is of tube {listed}; "
            "all pieces of that size are in the order list."
        )


def _oval_joints(header: Header, plan: Plan) -> Iterator[str]:
    """Where a bend is cut inside its arc, and walls miss each other by more than is allowed until they are squeezed."""
    draft = header.draft
    for each in plan.joints:
        limit = LIMIT * tube_at(header.run(each.run), each.at).wall
        if each.hi_lo > limit:
            step, allowed = say_length(each.hi_lo, draft.units), say_length(limit, draft.units)
            yield (
                f"{each.run}, joint {each.number}: the bend is oval where its arc is cut, so the walls miss each other "
                f"by up to {step}; squeeze the faces until they meet within {allowed}, a quarter of the wall."
            )


def _nearly_whole(run: Run, stock: Stock, tube: Tube) -> Iterator[str]:
    """Only the whole shelf angle keeps both legs, so a bend that is nearly one should be one.

    `tube`: that of the header.
    """
    for number, step in enumerate(run.steps, 1):
        if not isinstance(step, Bend):
            continue
        shelf = shelf_of(stock, tube_of_step(run, number), tube)
        angles = [bend.real_angle for _, bend in shelf.of_radius(step.radius)]
        nearest = min(angles, key=lambda angle: abs(angle - step.angle), default=step.angle)
        if EXACT < abs(nearest - step.angle) <= NEARLY:
            off, whole = step.angle - nearest, f"{math.degrees(nearest):g}"
            yield (
                f"{run.name}, step {number}: the bend is {say_angle(abs(off))} {'more' if off > 0 else 'less'} than "
                f"one of {whole}° in the stock list; written as {whole}, with other values marked fit, it keeps both "
                "legs."
            )


def _measured_otherwise(run: Run, stock: Stock, draft: Draft) -> Iterator[str]:
    """A path has the radius in the spec; the measured one may differ."""
    said, units = set[tuple[Tube, float]](), draft.units
    for number, step in enumerate(run.steps, 1):
        tube = tube_of_step(run, number)
        if not isinstance(step, Bend) or (tube, step.radius) in said:
            continue
        said.add((tube, step.radius))
        off = [bend.real_radius for _, bend in shelf_of(stock, tube, draft.tube).of_radius(step.radius)]
        off = [radius for radius in off if abs(radius - step.radius) > RADIUS_OFF]
        if off:
            written, measured = say_length(step.radius, units), say_length(off[0], units)
            yield (
                f"{run.name}: its path has bends of CLR {written}, and {measured} was measured on those in stock; "
                "write the measured radius into path and stock list, so that the path is that of the bends there are."
            )
