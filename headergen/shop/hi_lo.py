"""How far two walls miss each other where a bend is cut inside its arc, where its tube is oval."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

from headergen.model import CutPiece, Plan, Stock, Tube, WeldJoint

LIMIT = 0.25  # of the wall: common practice for thin tube


def oval_step(longer: float, angle: float) -> float:
    """Largest radial step between two equal ovals whose long axes are turned by `angle` (rad): (a − b)·|sin φ|.

    `longer`: a − b, half the long diameter less half the short one. For ovals of a few percent it is within 1 % of the
    exact ellipses'.
    """
    return longer * abs(math.sin(angle))


def with_hi_lo(plan: Plan, stock: Stock | None, tube_at: Callable[[str, float], Tube]) -> Plan:
    """The plan with the step from wall to wall at every joint; `tube_at`: the tube of a run at a length along it.

    An oval meets a round face with half the difference of its half diameters.
    """
    pieces = {(piece.run, piece.number): piece for piece in plan.pieces}
    joints = tuple(replace(joint, hi_lo=_step(plan, joint, pieces, (stock, tube_at))) for joint in plan.joints)
    return replace(plan, joints=joints)


def _step(
    plan: Plan,
    joint: WeldJoint,
    pieces: Mapping[tuple[str, int], CutPiece],
    of: tuple[Stock | None, Callable[[str, float], Tube]],
) -> float:
    faces = [(pieces.get((joint.run, joint.number + k)), 1 - k) for k in (0, 1)]
    tube = of[1](joint.run, joint.at)
    cut = [piece for piece, end in faces if piece is not None and piece.ends[end].cut == "arc"]
    ovals = [_longer(piece, of[0], tube, plan) for piece in cut]
    if len(ovals) < 2:
        return sum(ovals) / 2
    return abs(ovals[0] - ovals[1]) / 2 + oval_step(min(ovals), joint.clocking or 0.0)


def _longer(piece: CutPiece, stock: Stock | None, tube: Tube, plan: Plan) -> float:
    """Half the long diameter of a bend less half its short one: as measured, or by the oval of the stock list."""
    if stock is None:
        return 0.0
    if piece.item is not None:
        item = plan.items[piece.item - 1]
        bend = stock.bends[item.index] if item.kind == "bend" else None
        if bend is not None and bend.measured is not None and bend.measured.oval is not None:
            return (bend.measured.oval[0] - bend.measured.oval[1]) / 2
        if bend is not None:
            return stock.oval_of(bend) * tube.outside_diameter / 2
    return stock.oval * tube.outside_diameter / 2
