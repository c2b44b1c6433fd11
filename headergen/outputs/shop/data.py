"""shop.json: pieces, joints, stock and marks under stable keys with the unit in their names."""

from __future__ import annotations

import math
from typing import Any

from headergen.model import (
    Bend,
    BentTube,
    CutMark,
    CutPiece,
    CutTemplate,
    Header,
    HoleTemplate,
    LeanCut,
    MitreOffer,
    Plan,
    Run,
    Shop,
    ShopSettings,
    StockItem,
    StockStraight,
    Straight,
    TurnMark,
    WeldJoint,
)
from headergen.outputs.shop.by_hand import comes_of_closing, hand_data, run_data
from headergen.outputs.shop.order import order_list
from headergen.outputs.shop.steps import end_of, start_of, step_rows
from headergen.words.say import capital

ORDINATES = 16  # of a template
FORMAT = 3  # increased when a key changes its name or meaning


def shop_data(header: Header, shop: Shop, version: str) -> dict[str, Any]:
    """The bench as plain dicts and lists; lengths in millimetres, angles in degrees, rounded to 1e-6.

    Turns are positive clockwise when looking from the flange along the tube.
    """
    draft, figures = header.draft, shop.plan.figures
    return {
        "format": FORMAT,
        "tool": {"name": "headergen", "version": version},
        "job": {"title": draft.job.title, "revision": draft.job.revision, "date": draft.job.date},
        "shop_units": draft.units,
        "settings": _settings(draft.shop),
        "hand": hand_data(draft.hand),
        "figures": {
            "missing_bends": figures.missing,
            "broken_wishes": figures.broken,
            "joints": figures.joints,
            "arc_cuts": figures.arc_cuts,
            "not_clampable": figures.unclampable,
            "cost": _rounded(figures.cost),
            "currency": draft.stock.currency if draft.stock is not None else "",
        },
        "runs": [_run(header, shop, run) for run in header.runs if shop.plan.of_run(run.name)],
        "mitres": [_mitre(offer) for offer in shop.mitres],
        "bent": [_bent(shop, tube) for tube in shop.bent],
        "templates": [_template(each) for each in shop.templates],
        "holes": [_hole(each) for each in shop.holes],
        "stock": [_item(header, item) for item in shop.plan.items],
        "order": [line.__dict__ | {"quantity": _rounded(line.quantity)} for line in order_list(header, shop)],
        "notes": [capital(note) for note in shop.notes],
    }


def _settings(shop: ShopSettings) -> dict[str, Any]:
    """The printed size of 100 mm has two values, every other setting has one."""
    lengths = {name: value for name, value in vars(shop).items() if isinstance(value, float)}
    del lengths["mitre_under"]
    across, up = shop.print_scale
    said: dict[str, Any] = {f"{name}_mm": _rounded(value) for name, value in lengths.items()}
    said |= {"mitre_under_deg": _degrees(shop.mitre_under), "spares": shop.spares}
    return said | {"print_scale": {"x_mm": _rounded(across), "y_mm": _rounded(up)}}


def _mitre(offer: MitreOffer) -> dict[str, Any]:
    return {
        "run": offer.run,
        "step": offer.step,
        "bend_deg": _degrees(offer.angle),
        "cut_each_deg": _degrees(offer.cut_angle),
        "straights_longer_mm": _rounded(offer.setback),
        "centreline_longer_mm": _rounded(offer.longer),
        "corner_outside_the_bend_mm": _rounded(offer.off),
        "template_ordinates_mm": [_rounded(value) for value in offer.ordinates],
        "saves_pieces": offer.pieces,
        "saves_joints": offer.joints,
    }


def _bent(shop: Shop, tube: BentTube) -> dict[str, Any]:
    lengths = next(each for each in shop.lengths if each.run == tube.run)
    rows = [
        {
            "step": row.step,
            "radius_mm": _rounded(row.radius),
            "feed_mm": _rounded(row.feed),
            "rotation_deg": _degrees(row.rotation),
            "bend_deg": _degrees(row.angle),
            "bend_to_deg": _degrees(row.set_angle),
            "corner_mm": None if row.corner is None else [_rounded(value) for value in row.corner],
        }
        for row in tube.rows
    ]
    return {
        "run": tube.run,
        "centreline_length_mm": _rounded(lengths.centreline),
        "cut_length_mm": _rounded(lengths.cut),
        "blank_mm": _rounded(tube.blank),
        "for_the_clamp_mm": _rounded(tube.for_clamp),
        "last_straight_mm": _rounded(tube.last),
        "start_mm": [_rounded(value) for value in tube.start],
        "end_mm": [_rounded(value) for value in tube.end],
        "bends": rows,
        "leans": _leans(shop, tube.run),
        "finished": _finished(shop, tube.run),
    }


def _run(header: Header, shop: Shop, run: Run) -> dict[str, Any]:
    lengths = next(each for each in shop.lengths if each.run == run.name)
    line = next(line for each, line in header.tubes if each.name == run.name)
    return {
        "name": run.name,
        "starts_at": start_of(run),
        "ends_at": end_of(run),
        "leans": _leans(shop, run.name),
        "centreline_length_mm": _rounded(lengths.centreline),
        "cut_length_mm": _rounded(lengths.cut),
        "sawn_length_mm": _rounded(lengths.sawn),
        "steps": [_step(number, step) for number, step in enumerate(run.steps, 1)],
        "corners_mm": [[_rounded(value) for value in row.point] for row in step_rows(run, line) if row.point],
        "pieces": [_piece(shop.plan, piece, shop) for piece in shop.plan.of_run(run.name)],
        "joints": [_joint(joint) for joint in shop.plan.joints_of(run.name)],
        "turns": [_turn(mark, shop) for mark in shop.turns if mark.run == run.name],
        "bench": [
            {
                "piece": each.piece,
                "flat": each.flat,
                "along_mm": _rounded(each.along),
                "offset_left_mm": _rounded(each.offset),
                "height_mm": _rounded(each.height),
                "lean_deg": _degrees(each.lean),
            }
            for each in shop.heights
            if each.run == run.name
        ],
        "finished": _finished(shop, run.name),
        "by_hand": run_data(shop, run),
    }


def _finished(shop: Shop, run: str) -> dict[str, Any]:
    finished = next(each for each in shop.finished if each.run == run)
    lengths = {"out_mm": finished.out, "x_mm": finished.x, "y_mm": finished.y}
    return {key: _rounded(value) for key, value in lengths.items()} | {"lean_deg": _degrees(finished.lean)}


def _leans(shop: Shop, run: str) -> dict[str, Any] | None:
    """How the tube leaves a flange that it is not square to."""
    found = next((each for each in shop.leaning if each.run == run), None)
    if found is None:
        return None
    return {
        "lean_deg": _degrees(found.lean),
        "toward_deg": _degrees(found.toward),
        "along_x_deg": _degrees(found.along_x),
        "along_y_deg": _degrees(found.along_y),
        "first_end": _lean_cut(next((each for each in shop.lean_cuts if each.run == run), None)),
    }


def _lean_cut(cut: LeanCut | None) -> dict[str, Any] | None:
    """The first end, where it is sawn to the lean: to its longest side counts the cut length."""
    if cut is None:
        return None
    return {
        "saw_deg": _degrees(cut.angle),
        "longest_mm": _rounded(cut.sides[0]),
        "shortest_mm": _rounded(cut.sides[1]),
        "longest_side_deg": _degrees(cut.clock),
        "longest_side_arc_mm": _rounded(abs(cut.clock) * cut.radius),
        "from_line_of_bend_deg": None if cut.from_line is None else _degrees(cut.from_line),
        "from_line_of_bend_arc_mm": None if cut.from_line is None else _rounded(abs(cut.from_line) * cut.radius),
        "template": cut.name,
    }


def _step(number: int, step: Straight | Bend) -> dict[str, Any]:
    if isinstance(step, Straight) and step.growth is not None:
        return {
            "step": number,
            "kind": "step",
            "by": step.growth.by,
            "outside_diameter_mm": _rounded(step.growth.outside_diameter),
            "wall_mm": _rounded(step.growth.wall),
            "length_mm": _rounded(step.length),
        }
    if isinstance(step, Straight):
        return {"step": number, "kind": "straight", "length_mm": _rounded(step.length)}
    return {
        "step": number,
        "kind": "bend",
        "radius_mm": _rounded(step.radius),
        "angle_deg": _degrees(step.angle),
        "rotation_deg": _degrees(step.rotation),
        "length_mm": _rounded(step.radius * step.angle),
    }


def _piece(plan: Plan, piece: CutPiece, shop: Shop) -> dict[str, Any]:
    marks = [mark for mark in shop.cuts if (mark.run, mark.piece) == (piece.run, piece.number)]
    return {
        "piece": piece.number,
        "kind": "bend" if piece.is_bend else "straight",
        "from_mm": _rounded(piece.start),
        "to_mm": _rounded(piece.end),
        "step": piece.step,
        "first_straight_mm": _rounded(piece.legs[0]),
        "angle_deg": _degrees(piece.angle),
        "radius_mm": _rounded(piece.radius),
        "last_straight_mm": _rounded(piece.legs[1]),
        "clampable": piece.clampable,
        "item": piece.item,
        "place_in_item": None if piece.taken is None else _place(piece),
        "ends": [{"cut": end.cut, "leave_on_mm": _rounded(end.leave_on)} for end in piece.ends],
        "saw": [_mark(mark) for mark in marks],
    }


def _place(piece: CutPiece) -> dict[str, Any]:
    assert piece.taken is not None
    if piece.is_bend:
        return {"from_deg": _degrees(piece.taken[0]), "to_deg": _degrees(piece.taken[1]), "keeps": piece.kept_leg}
    return {"from_mm": _rounded(piece.taken[0]), "to_mm": _rounded(piece.taken[1])}


def _mark(mark: CutMark) -> dict[str, Any]:
    return {
        "end": mark.end,
        "measured_from": mark.measured_from,
        "outside_mm": _rounded(mark.outside),
        "middle_mm": _rounded(mark.middle),
        "inside_mm": _rounded(mark.inside),
        "angle_deg": _degrees(mark.angle),
        "chord_outside_mm": None if mark.chords is None else _rounded(mark.chords[0]),
        "chord_inside_mm": None if mark.chords is None else _rounded(mark.chords[1]),
        "leave_on_mm": _rounded(mark.leave_on),
        "leave_on_deg": _degrees(mark.leave_on_angle),
        "saw_at_mm": None if mark.saw_at is None else _rounded(mark.saw_at),
    }


def _joint(joint: WeldJoint) -> dict[str, Any]:
    clocking = None if joint.clocking is None else _degrees(joint.clocking)
    return {
        "joint": joint.number,
        "at_mm": _rounded(joint.at),
        "clocking_deg": clocking,
        "hi_lo_mm": _rounded(joint.hi_lo),
        "trouble": joint.blocked,
    }


def _turn(mark: TurnMark, shop: Shop) -> dict[str, Any]:
    return {
        "joint": mark.joint,
        "piece": mark.piece,
        "turns_from": mark.turns_from,
        "angle_deg": _degrees(mark.angle),
        "arc_mm": _rounded(mark.arc),
        "level_deg": _degrees(mark.level),
        "bends": "to the same side" if mark.same_side else "back",
        "comes_of_closing": comes_of_closing(mark, shop),
    }


def _template(each: CutTemplate) -> dict[str, Any]:
    """The ordinates are at 16 equal steps round the tube, starting at the witness line."""
    return {
        "template": each.name,
        "collector": each.collector,
        "cut": each.what,
        "tubes": each.count,
        **({"bores": list(each.bores)} if each.bores else {}),
        **({"run": each.run} if each.run else {}),
        **(_fishmouth(each) if each.what == "fishmouth" else {}),
        "outside_diameter_mm": _rounded(2 * each.radius),
        "base_mm": _rounded(each.base),
        "ordinates_mm": [_rounded(height) for height in each.heights[:: len(each.heights) // ORDINATES]],
    }


def _fishmouth(each: CutTemplate) -> dict[str, Any]:
    """Which end of its tube, and by how much the sides of the cut differ."""
    depth = max(each.heights) - min(each.heights)
    return {"end": "first" if each.at_start else "last", "depth_mm": _rounded(depth)}


def _hole(each: HoleTemplate) -> dict[str, Any]:
    """Places round the edge and the seat: degrees round the tube, and mm along it toward its end."""
    step = len(each.edge) // ORDINATES
    return {
        "template": each.name,
        "in": each.host,
        "for": each.run,
        "outside_diameter_mm": _rounded(2 * each.radius),
        "from_start_mm": _rounded(each.at),
        "faces": [_rounded(value) for value in each.out],
        **{
            name: [[_degrees(turn), _rounded(along)] for turn, along in places[::step]]
            for name, places in (("edge_deg_mm", each.edge), ("seat_deg_mm", each.seat))
        },
    }


def _item(header: Header, item: StockItem) -> dict[str, Any]:
    stock = header.draft.stock
    assert stock is not None
    said: dict[str, Any] = {"item": item.number, "kind": item.kind, "on_hand": item.on_hand}
    said["pieces"] = [{"run": run, "piece": number} for run, number in item.pieces]
    of = stock.straights[item.index] if item.kind == "straight" else stock.bends[item.index]
    own = header.draft.tube.outside_diameter
    said["outside_diameter_mm"] = _rounded(own if of.tube is None else of.tube.outside_diameter)
    if isinstance(of, StockStraight):
        return said | {"length_mm": _rounded(of.length)}
    bend = of
    return said | {
        "radius_mm": _rounded(bend.real_radius),
        "angle_deg": _degrees(bend.real_angle),
        "first_leg_mm": _rounded(bend.real_legs[0]),
        "second_leg_mm": _rounded(bend.real_legs[1]),
    }


def _rounded(value: float) -> float:
    return round(value, 6) + 0.0


def _degrees(radians: float) -> float:
    return _rounded(math.degrees(radians))
