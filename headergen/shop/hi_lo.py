"""How far two walls miss each other where a bend is cut inside its arc, where its tube is oval."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from headergen.model import CutPiece, Plan, Stock, Tube

LIMIT = 0.25  # of the wall: common practice for thin tube


@dataclass(frozen=True)
class HiLo:
    """The largest step from wall to wall at a joint, as the bends come (mm), and the limit for it once they fit."""

    run: str
    joint: int
    step: float
    limit: float


def oval_step(longer: float, angle: float) -> float:
    """Largest radial step between two equal ovals whose long axes are turned by `angle` (rad): (a − b)·|sin φ|.

    `longer`: a − b, half the long diameter less half the short one. For ovals of a few percent it is within 1 % of the
    exact ellipses'.
    """
    return longer * abs(math.sin(angle))


def steps_at_arcs(plan: Plan, stock: Stock | None, tube_at: Callable[[str, float], Tube]) -> Iterator[HiLo]:
    """Of every joint with a face cut inside an arc. `tube_at`: the tube of a run at a length along it.

    An oval meets a round face with half the difference of its half diameters.
    """
    clocking = {(joint.run, joint.number): joint.clocking for joint in plan.joints}
    pieces = {(piece.run, piece.number): piece for piece in plan.pieces}
    for joint in plan.joints:
        before, after = (pieces.get((joint.run, joint.number + k)) for k in (0, 1))
        if before is None or after is None:
            continue
        own = tube_at(joint.run, joint.at)
        ovals = [
            _longer(piece, stock, own, plan)
            for piece, end in ((before, before.ends[1]), (after, after.ends[0]))
            if end.cut == "arc"
        ]
        if not ovals:
            continue
        turned = clocking[joint.run, joint.number] or 0.0
        step = max(ovals) / 2 if len(ovals) == 1 else abs(ovals[0] - ovals[1]) / 2 + oval_step(min(ovals), turned)
        yield HiLo(joint.run, joint.number, step, LIMIT * own.wall)


def _longer(piece: CutPiece, stock: Stock | None, tube: Tube, plan: Plan) -> float:
    """Half the long diameter of a bend less half its short one: as measured, or by the oval of the stock list."""
    if stock is None:
        return 0.0
    if piece.item is not None:
        item = plan.items[piece.item - 1]
        measured = stock.bends[item.index].measured if item.kind == "bend" else None
        if measured is not None and measured.oval is not None:
            return (measured.oval[0] - measured.oval[1]) / 2
    return stock.oval * tube.outside_diameter / 2
