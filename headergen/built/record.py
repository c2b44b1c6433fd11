"""The record of a header: of each joint and piece what was planned, measured and done; plain data for one file."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from headergen.built.stage import Corrected
from headergen.built.state import planned_pieces
from headergen.model import Act, Arc, Draft, Segment

FORMAT = 1


def record_of(draft: Draft, corrected: Sequence[Corrected]) -> dict[str, Any]:
    """Lengths in mm, angles in degrees; None for what was not measured.

    `centreline`: of a run once that is done, in engine axes, with every kink, and with a step at a face that was
    measured away from where its pieces put it; None if nothing closes it.
    """
    return {
        "record": FORMAT,
        "header": draft.job.title,
        "revision": draft.job.revision,
        "date": draft.job.date,
        "runs": [
            {
                "run": each.correction.run,
                "pieces": list(_pieces(each)),
                "joints": list(_joints(each, draft.shop.shrinkage)),
                "centreline": None if each.line is None else [_segment(part) for part in each.line.segments],
            }
            for each in corrected
        ],
    }


def _segment(part: Segment) -> dict[str, Any]:
    """A straight, or an arc whose centre is `radius` from its start, toward `inside`."""
    found: dict[str, Any] = {"start": list(part.start), "along": list(part.tangent), "length": part.length}
    if isinstance(part, Arc):
        found |= {"radius": part.radius, "angle": math.degrees(part.angle), "inside": list(part.normal)}
    return found


def _pieces(each: Corrected) -> Iterator[dict[str, Any]]:
    built, acts = each.before.built, each.correction.acts
    for number, piece in enumerate(planned_pieces(each.before.tube), 1):
        own = built.piece(number)
        is_bend = piece.angle > 0
        planned = {
            "length": None if is_bend else piece.first,
            "angle": math.degrees(piece.angle) if is_bend else None,
            "radius": piece.radius if is_bend else None,
        }
        measured = {
            "length": None if own is None else own.length,
            "angle": None if own is None or own.angle is None else math.degrees(own.angle),
            "radius": None if own is None else own.radius,
            "legs": None if own is None or own.legs is None else list(own.legs),
            "oval": None if own is None or own.oval is None else list(own.oval),
        }
        done = [_done(act) for act in acts if act.piece == number and act.kind in ("length", "angle")]
        yield {"piece": number, "planned": planned, "measured": measured, "done": done}


def _joints(each: Corrected, shrinkage: float) -> Iterator[dict[str, Any]]:
    built, acts, planned = each.before.built, each.correction.acts, planned_pieces(each.before.tube)
    for number in range(len(planned) + 1):
        own = built.joint(number)
        bends = number < len(planned) and planned[number].angle > 0
        yield {
            "joint": number,
            "state": "welded" if number in built.welded else "tacked" if number in built.tacked else "open",
            "planned": {
                "shrinkage": shrinkage if 0 < number < len(planned) else 0.0,
                "clocking": math.degrees(planned[number].turn) if bends else None,
            },
            "measured": {
                "shrinkage": None if own is None or own.marks is None else own.marks[0] - own.marks[1],
                "clocking": None if own is None or own.clocking is None else math.degrees(own.clocking),
                "pulled": None if own is None or own.pulled is None else math.degrees(own.pulled),
                "toward": None if own is None or own.pulled is None else math.degrees(own.toward),
            },
            "done": [_done(act) for act in acts if act.piece == number + 1 and act.kind in ("turn", "tilt")],
        }


def _done(act: Act) -> dict[str, Any]:
    is_length = act.kind in ("length", "slide")
    done = {"what": act.kind, "by": act.amount if is_length else math.degrees(act.amount)}
    return done | ({"toward": math.degrees(act.toward)} if act.kind == "tilt" else {})
