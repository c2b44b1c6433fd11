"""How each run is closed, for shop.json and in sentences: built from both ends, plates first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from headergen.model import (
    AnotherJoint,
    Closing,
    HandSettings,
    Header,
    MadeToMeasure,
    Otherwise,
    Run,
    RunByHand,
    Shop,
    TurnMark,
)
from headergen.outputs.shop.steps import start_of
from headergen.words.closing import of_hundred, said_of_rare_closing, said_otherwise
from headergen.words.say import capital, say_angle, say_length, say_list

NEXT_TO_NOTHING = 0.1  # mm, the least that is said


@dataclass(frozen=True)
class _EndWords:
    """Where the end piece of a run stands while it is closed, in words."""

    hold: str
    stand: str
    end: str
    place: str
    tacked: str
    mouth: str
    cut_back: str


_IN_COLLECTOR = _EndWords(
    "Hold the collector in its plates.",
    "its sleeve, before that has a merge, or in the hole of its plate",
    "collector end",
    "sleeve",
    "sleeve",
    "the mouth of the sleeve",
    "cut the mouth back",
)
_END_OF_RUN = _EndWords(
    "Hold what the run ends in where it belongs, or its locating plates.",
    "its place, or in the holes of its locating plates",
    "end of the run",
    "place",
    "end",
    "the mouth that it ends in",
    "shorten the end or move the mouth",
)


def hand_data(hand: HandSettings) -> dict[str, Any]:
    """The spreads of the shop, one standard deviation, and the limits where a run is closed."""
    angles = ("clocking", "square", "bend", "saddle", "turn", "kink")
    lengths = ("length", "shrinkage", "spring", "step", "slip", "spare")
    return (
        {f"{name}_deg": round(math.degrees(getattr(hand, name)), 6) for name in angles}
        | {f"{name}_mm": round(getattr(hand, name), 6) for name in lengths}
        | {"radius_percent": round(100 * hand.radius, 6)}
    )


def run_data(shop: Shop, run: Run) -> dict[str, Any] | None:
    """The builds of a run by hand; None if they were not computed."""
    found = _of_run(shop, run.name)
    if found is None:
        return None
    pieces = [piece.number for piece in shop.plan.of_run(run.name)]
    return {
        "closing": None if found.closing is None else _closing(found.closing),
        "order": _order(run, pieces, found.closing),
        "otherwise": None if found.otherwise is None else _otherwise(found.otherwise),
        "joints_tried": [
            {
                "joint": each.joint,
                "closes": each.closes,
                "closes_with_saddles": each.closes_with_saddles,
                "least_to_spare_mm": None if each.to_spare is None else round(each.to_spare, 6),
            }
            for each in found.candidates
        ],
        "welded_open": {
            "sideways_in_the_median_mm": round(found.miss[0], 6),
            "sideways_in_nine_of_ten_mm": round(found.miss[1], 6),
            "goes_in": found.drops_in,
            "spread": [
                {"piece": each.piece, "place_mm": round(each.place, 6), "tilt_deg": round(math.degrees(each.tilt), 6)}
                for each in found.pieces
            ],
            "shares": {kind: round(share, 6) for kind, share in found.shares},
        },
    }


def _otherwise(other: Otherwise) -> dict[str, Any]:
    """What would close the run in nine of ten builds; null for what would not."""
    straight, room = other.straight, other.with_room
    return {
        "slip_longer_mm": None if other.slip_longer is None else round(other.slip_longer, 6),
        "straight": None
        if straight is None
        else {
            "piece": straight.piece,
            "shortest_mm": round(straight.shortest, 6),
            "longest_mm": round(straight.longest, 6),
            "mitre_deg": round(math.degrees(straight.mitre), 6),
        },
        "with_room": None if room is None else {"joint": room.joint, "closes": room.closes},
        "step_mm": round(other.step, 6),
        "kink_deg": round(math.degrees(other.kink), 6),
    }


def otherwise_of(run: Any) -> Otherwise | None:
    """The same as a noun, from a run of shop.json."""
    data = (run["by_hand"] or {}).get("otherwise")
    if data is None:
        return None
    straight, room = data["straight"], data["with_room"]
    return Otherwise(
        data["slip_longer_mm"],
        straight
        and MadeToMeasure(
            straight["piece"], straight["shortest_mm"], straight["longest_mm"], math.radians(straight["mitre_deg"])
        ),
        room and AnotherJoint(room["joint"], room["closes"]),
        data["step_mm"],
        math.radians(data["kink_deg"]),
    )


def _of_run(shop: Shop, run: str) -> RunByHand | None:
    runs = () if shop.by_hand is None else shop.by_hand.runs
    return next((each for each in runs if each.run == run), None)


def _closing(closing: Closing) -> dict[str, Any]:
    """`…_in_nine_of_ten`: the most that so many builds need."""
    return {
        "joint": closing.joint,
        "closes": closing.closes,
        "closes_with_saddles": closing.closes_with_saddles,
        "turn_deg": round(math.degrees(closing.turn), 6),
        "slide_mm": round(closing.slide, 6),
        "kink_deg": round(math.degrees(closing.kink), 6),
        "step_mm": round(closing.step, 6),
        "end_spare_mm": round(closing.end_spare, 6),
        "joint_spare_mm": round(closing.joint_spare, 6),
        "spare_on": [{"piece": piece, "spare_mm": round(spare, 6)} for piece, spare in closing.spare_on],
        "slides_out_mm": round(-closing.slides[0], 6),
        "slides_in_mm": round(closing.slides[1], 6),
        "bend_in_the_mouth_after_mm": round(closing.bend_at, 6),
    }


def _order(run: Run, pieces: list[int], closing: Closing | None) -> list[dict[str, Any]]:
    """The order of work on a run: what is held, tacked from either end, and closed."""
    start, ends = start_of(run), run.end.ends_run
    plates = {"do": "hold what the run ends in" if ends else "hold the collector in its plates"}
    if closing is None:
        return [plates, {"do": f"tack from the {start}", "pieces": pieces}]
    place = "place" if ends else "bore"
    return [
        plates,
        {"do": f"tack from the {start}", "pieces": pieces[: closing.joint]},
        {
            "do": f"tack on the bench, and stand in its {place} free to turn and slide",
            "pieces": pieces[closing.joint :],
        },
        {"do": "close", "joint": closing.joint},
    ]


def said_of_run(header: Header, shop: Shop, run: str) -> Iterator[str]:
    """How a run is built and closed, in sentences; nothing if that was not computed."""
    found = _of_run(shop, run)
    if found is None:
        return
    closing, units = found.closing, header.draft.units
    pieces = [piece.number for piece in shop.plan.of_run(run)]
    start, said = start_of(header.run(run)), _END_OF_RUN if header.run(run).end.ends_run else _IN_COLLECTOR
    if closing is None:
        yield f"It is one piece, with no joint to close it at: try it in its {said.place} before it is tacked."
        return
    yield f"{said.hold} Tack {_pieces(pieces[: closing.joint])} from the {start} on."
    yield (
        f"Tack {_pieces(pieces[closing.joint :])} on the bench. Stand the end piece in {said.stand}: free to turn and "
        "to slide, not tacked yet."
    )
    yield from _said_of_closing(closing, header.draft.hand, said, units)


def _pieces(numbers: list[int]) -> str:
    return f"piece{'' if len(numbers) == 1 else 's'} {say_list([str(each) for each in numbers])}"


def _said_of_closing(closing: Closing, hand: HandSettings, said: _EndWords, units: str) -> Iterator[str]:
    joint, needed = closing.joint, (closing.end_spare, closing.slide, hand.spring, hand.step, hand.spring + hand.step)
    end, slide, spring, step, most = (say_length(each, units) for each in needed)
    (first, spare), *others = closing.spare_on
    has = f"Piece {first} has {say_length(spare, units)}"
    for other, rest in others:
        has += f", and piece {other} {say_length(rest, units)},"
    has += " more than its net length there"
    yield (
        f"Close at joint {joint}, between pieces {joint} and {joint + 1}: turn and slide the end piece until the two "
        f"sides line up with least step and kink; where that is more than {most} of step or {say_angle(hand.kink)} of "
        f"kink, or leaves a hole, turn and slide on until none is. {has}, and the {said.end} {end}: "
        "cut off what stands over, dress both faces to the kink, half of it on each."
    )
    yield (
        f"Nine of ten builds need up to {say_angle(closing.turn)} of turn, {slide} of slide and "
        f"{say_angle(closing.kink)} of kink. A step of up to {spring} is sprung over, {step} may be left. The joint "
        f"is not clocked: mark the end piece at its {said.place}, tack the joint, then the {said.tacked}."
    )
    if closing.slides[1] > max(closing.bend_at, 0.0):
        by_more = f" by more than {say_length(closing.bend_at, units)}" if closing.bend_at >= NEXT_TO_NOTHING else ""
        yield (
            f"Where it slides in{by_more}, its last bend is in {said.mouth}: {said.cut_back} by as much as the bend "
            "is in it."
        )


def said_of_chances(header: Header, shop: Shop, run: str) -> Iterator[str]:
    """How often a run closes, its errors otherwise, and what to do if it closes too rarely."""
    found = _of_run(shop, run)
    if found is None:
        return
    closing = found.closing
    median, most = (say_length(each, header.draft.units) for each in found.miss)
    if closing is not None:
        bare, saddles = map(of_hundred, (closing.closes, closing.closes_with_saddles))
        yield f"Of 100 such tubes {bare} close, {saddles} where saddles hold the pieces while they are tacked."
        if not found.closes_in_nine_of_ten:
            yield said_of_rare_closing(run)
            yield from said_otherwise(found.otherwise, header.draft.units)
    built = header.run(run)
    end, place = ("its end", "its place") if built.end.ends_run else ("collector", "its bore")
    yield (
        f"Welded from {start_of(built)} to {end} with nothing measured, {run} would miss {place} sideways by {median} "
        f"in the median, by {most} or more in one of ten builds."
    )
    if found.shares:
        (first, share), *_ = found.shares
        yield f"{capital(first)} matters most: {100 * share:.0f} % of what moves its open end (of the variance)."


def comes_of_closing(mark: TurnMark, shop: Shop) -> bool:
    """Whether a bend is turned against one on the other side of the closing joint: nobody sets that turn."""
    closing = None if shop.by_hand is None else shop.by_hand.closing_of(mark.run)
    return closing is not None and mark.turns_from <= closing.joint < mark.piece
