"""Pieces and joints on the report page, each joint with its place; the sheets of the bench show how they are cut."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.geometry.curves.centreline import frame_at
from headergen.model import Header, Shop
from headergen.model.shop import CutPiece, WeldJoint
from headergen.outputs.report.evidence import PageSection
from headergen.outputs.report.said import degrees
from headergen.outputs.report.sections import Sight, Table
from headergen.words.numbers import both
from headergen.words.say import capital


def bench_sections(header: Header, shop: Shop | None) -> Iterator[PageSection]:
    """None if the bench was not planned."""
    if shop is None or not shop.plan.pieces:
        return
    units, plan = header.draft.units, shop.plan
    pieces = Table(
        ("Piece", "From", "To", "What it is", "Remark"),
        [_piece_row(piece, units) for piece in plan.pieces],
    )
    note = "Net, along the middle of the tube; saw lines and stock are in sheets.pdf."
    missing = sum(piece.item is None for piece in plan.pieces)
    result = f"{len(plan.pieces)}, {f'{missing} not in stock' if missing else 'all from what is in stock'}"
    yield PageSection("Pieces", (note, pieces), result)
    if plan.joints:
        rows = [_joint_row(joint, units) for joint in plan.joints]
        table = Table(("Joint", "From the start", "Clocking", "Remark"), rows, [_sight(header, j) for j in plan.joints])
        blocked = sum(bool(joint.blocked) for joint in plan.joints)
        yield PageSection("Joints", (table,), f"{len(rows)}, {blocked or 'none'} with a remark")


def _piece_row(piece: CutPiece, units: str) -> tuple[str, ...]:
    what = "straight"
    if piece.is_bend:
        what = f"bend of {degrees(math.degrees(piece.angle))}, centre-line radius {both(units, piece.radius)}"
    remarks = [
        *(["not in stock"] if piece.item is None else []),
        *([] if piece.clampable else ["cut lying flat"]),
    ]
    name = f"{capital(piece.run)}, piece {piece.number}"
    return name, both(units, piece.start), both(units, piece.end), what, "; ".join(remarks)


def _joint_row(joint: WeldJoint, units: str) -> tuple[str, ...]:
    turn = "none" if joint.clocking is None else degrees(math.degrees(joint.clocking))
    return f"{capital(joint.run)}, joint {joint.number}", both(units, joint.at), turn, joint.blocked


def _sight(header: Header, joint: WeldJoint) -> Sight | None:
    for run, line in header.tubes:
        if run.name == joint.run:
            point = frame_at(line, joint.at)[0]
            return Sight((point, point), words=f"{joint.run}, joint {joint.number}")
    return None
