"""Whether what was measured of pieces and joints can be: of the right kind, of one that is held, and of its size."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.built.sizes import radius_at
from headergen.built.state import planned_pieces
from headergen.hand.tube import RunInPieces
from headergen.model import RunAsBuilt, SpecPath
from headergen.model.built import JointAsBuilt, PieceAsBuilt
from headergen.words.say import say_angle, say_length

# farther from the sheets it is another piece or a slip of the pen: length (mm), angle, shares of radius and diameter
LENGTH_OFF, ANGLE_OFF, RADIUS_OFF, OVAL_OFF = 100.0, math.radians(20), 0.3, 0.1


def what_cannot_be(built: RunAsBuilt, tube: RunInPieces, units: str) -> Iterator[tuple[SpecPath, str]]:
    """Places, below the run's own, and what is wrong there; all pieces and joints are those of the sheets."""
    for index, piece in enumerate(built.pieces):
        message = _of_piece(piece, tube, units)
        if message:
            yield ("pieces", index), message
    for index, joint in enumerate(built.joints):
        message = _of_joint(joint, built, tube)
        if message:
            yield ("joints", index), message


def _of_piece(own: PieceAsBuilt, tube: RunInPieces, units: str) -> str:
    plan, name = planned_pieces(tube)[own.piece - 1], f"piece {own.piece}"
    if plan.angle > 0 and own.length is not None:
        return f"{name} is a bend and has no length of its own: give its legs, [first, second]"
    if plan.angle == 0 and (own.angle, own.radius, own.legs, own.oval) != (None, None, None, None):
        return f"{name} is straight: of a straight only its length is measured"
    first, second = own.legs or (None, None)
    pairs = (
        (first, plan.first, LENGTH_OFF, "{} long in its first leg", say_length),
        (second, plan.last, LENGTH_OFF, "{} long in its second leg", say_length),
        (own.length, plan.first, LENGTH_OFF, "{} long", say_length),
        (own.angle, plan.angle, ANGLE_OFF, "bent by {}", lambda angle, _: say_angle(angle)),
        (own.radius, plan.radius, RADIUS_OFF * plan.radius, "bent to a radius of {}", say_length),
    )
    for measured, planned, most, words, said in pairs:
        if measured is not None and abs(measured - planned) > most:
            here = words.format(said(measured, units))
            return (
                f"{name} is {here} here and {said(planned, units)} on its sheet: check its number, or measure it again"
            )
    wide = 2 * radius_at(tube, own.piece - 1, "start")
    if own.oval is not None and abs(sum(own.oval) / 2 - wide) > OVAL_OFF * wide:
        across, tube_is = " × ".join(say_length(each, units) for each in own.oval), say_length(wide, units)
        return f"{name} is {across} here, and its tube is {tube_is} wide; an oval keeps its mean: measure both again"
    return ""


def _of_joint(own: JointAsBuilt, built: RunAsBuilt, tube: RunInPieces) -> str:
    pieces, number = planned_pieces(tube), own.joint
    if number not in {*built.welded, *built.tacked}:
        return f"joint {number} is neither welded nor tacked, so nothing of it can be measured yet"
    if own.clocking is not None and (number == len(pieces) or pieces[number].angle == 0):
        return f"no bend begins at joint {number}, so it has no clocking"
    return ""
