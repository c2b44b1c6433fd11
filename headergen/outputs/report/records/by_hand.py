"""Builds by the shop's hand in the report: where runs are closed, and what is left of gaps."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Annotated

from pydantic import Field

from headergen.model import (
    NINE_IN_TEN,
    AnotherJoint,
    ByHand,
    Closing,
    GapByHand,
    MadeToMeasure,
    Otherwise,
    RunByHand,
)
from headergen.outputs.report.records.base import Degrees, Mm, Ordinal, Record
from headergen.outputs.report.sections import Block, Bullets, Section, Table
from headergen.words.closing import of_hundred, said_of_rare_closing, said_otherwise
from headergen.words.numbers import both
from headergen.words.say import capital

Share = Annotated[float, Field(ge=0, le=1)]
SHOWN = 12  # gaps in the section, smallest remainder first


class SpareRecord(Record):
    """Spare length on a piece at a closing joint."""

    piece: Ordinal
    spare_mm: Mm = Field(description="left on beyond its net length there")


class ClosingRecord(Record):
    """The joint at which a run is closed, built toward it from both ends; what nine of ten builds need at most."""

    joint: Ordinal
    closes: Share = Field(description="share of simulated builds that close there")
    closes_with_saddles: Share = Field(description="the same, where saddles hold the pieces while they are tacked")
    turn_deg: Degrees = Field(description="of the end piece in its sleeve")
    slide_mm: Mm = Field(description="of the end piece in its sleeve, either way")
    kink_deg: Degrees = Field(description="between the tubes at the joint")
    step_mm: Mm = Field(description="at the joint, before anything is sprung over")
    end_spare_mm: Mm = Field(description="left on at the collector end")
    joint_spare_mm: Mm = Field(description="left on at the joint")
    spare_on: tuple[SpareRecord, ...] = Field(description="how much of it is on which piece")


class MadeToMeasureRecord(Record):
    """A straight piece made to measure between two mitred joints, once both sides are tacked, in nine of ten builds."""

    piece: Ordinal
    shortest_mm: Mm = Field(description="that nineteen of twenty builds are longer than")
    longest_mm: Mm = Field(description="that nineteen of twenty builds are shorter than")
    mitre_deg: Degrees = Field(description="at either end, at most")


class AnotherJointRecord(Record):
    """A joint that no torch reaches as the path is."""

    joint: Ordinal
    closes: Share = Field(description="share of simulated builds that would close there")


class OtherwiseRecord(Record):
    """What would close a run in nine of ten builds."""

    slip_longer_mm: Mm | None = Field(description="by which its slip is longer; null where that does not help")
    straight: MadeToMeasureRecord | None = Field(description="null where no torch reaches both ends of one")
    with_room: AnotherJointRecord | None = Field(description="for a path that gives room there; null if there is none")
    step_mm: Mm = Field(description="that nine of ten builds need at its best joint, of which another path leaves less")
    kink_deg: Degrees = Field(description="the same, between the tubes there")


class ErrorShareRecord(Record):
    """How much of the variance of an open end is from one kind of error."""

    error: str = Field(description="its kind")
    share: Share = Field(description="of the variance of the end's place")


class PieceSpreadRecord(Record):
    """How far the open end has spread once a piece is on, built from the flange: one standard deviation."""

    piece: Ordinal
    place_mm: Mm = Field(description="in the widest direction")
    tilt_deg: Degrees = Field(description="about the widest axis")


class RunByHandRecord(Record):
    """A run by the hand of the shop."""

    run: str = Field(description="its name")
    spread: tuple[PieceSpreadRecord, ...] = Field(description="of the open end, piece by piece")
    shares: tuple[ErrorShareRecord, ...] = Field(description="the largest first")
    open_miss_median_mm: Mm = Field(
        description="sideways of its bore, welded from flange to collector with nothing measured"
    )
    open_miss_nine_in_ten_mm: Mm = Field(description="the same, which nine of ten builds stay within")
    closing: ClosingRecord | None = Field(description="null where it has no joint to close at")
    otherwise: OtherwiseRecord | None = Field(description="null where it closes in nine of ten builds")


class GapByHandRecord(Record):
    """A gap as planned, and what nine of ten builds leave of it at least."""

    a: str = Field(description="name of the run")
    b: str = Field(description="name of the other run, or of the chassis item")
    nominal_mm: Mm = Field(description="as planned")
    open_mm: Mm = Field(description="to first order, welded from flange to collector with nothing measured")
    held_mm: Mm = Field(description="to first order, both ends held")
    closed_mm: Mm = Field(description="to first order, closed from both ends as the sheets say")
    drawn_mm: Mm | None = Field(description="of simulated builds, closed so; null where the gap is too wide to matter")
    left_mm: Mm = Field(description="by which it is judged: of simulated builds, else to first order")
    judged: bool = Field(description="limits.nine_in_ten speaks of it; it does not where tubes may touch")
    share: float = Field(description="of limits.nine_in_ten that is required; less than 1 where tubes converge")


class ByHandRecord(Record):
    """What comes of a header by the hand of the shop."""

    runs: tuple[RunByHandRecord, ...]
    gaps: tuple[GapByHandRecord, ...]

    def tightest(self) -> list[GapByHandRecord]:
        """Those that are judged and near enough to matter, with least left first."""
        near = (gap for gap in self.gaps if gap.judged and gap.drawn_mm is not None)
        return sorted(near, key=lambda gap: gap.left_mm)


def by_hand_record(by_hand: ByHand | None) -> ByHandRecord | None:
    if by_hand is None:
        return None
    return ByHandRecord(runs=tuple(map(_run, by_hand.runs)), gaps=tuple(map(_gap, by_hand.gaps)))


def _run(run: RunByHand) -> RunByHandRecord:
    return RunByHandRecord(
        run=run.run,
        spread=tuple(
            PieceSpreadRecord(piece=each.piece, place_mm=each.place, tilt_deg=math.degrees(each.tilt))
            for each in run.pieces
        ),
        shares=tuple(ErrorShareRecord(error=kind, share=share) for kind, share in run.shares),
        open_miss_median_mm=run.miss[0],
        open_miss_nine_in_ten_mm=run.miss[1],
        closing=None if run.closing is None else _closing(run.closing),
        otherwise=None if run.otherwise is None else _otherwise(run.otherwise),
    )


def _otherwise(other: Otherwise) -> OtherwiseRecord:
    straight, room = other.straight, other.with_room
    return OtherwiseRecord(
        slip_longer_mm=other.slip_longer,
        straight=None
        if straight is None
        else MadeToMeasureRecord(
            piece=straight.piece,
            shortest_mm=straight.shortest,
            longest_mm=straight.longest,
            mitre_deg=math.degrees(straight.mitre),
        ),
        with_room=None if room is None else AnotherJointRecord(joint=room.joint, closes=room.closes),
        step_mm=other.step,
        kink_deg=math.degrees(other.kink),
    )


def _closing(closing: Closing) -> ClosingRecord:
    return ClosingRecord(
        joint=closing.joint,
        closes=closing.closes,
        closes_with_saddles=closing.closes_with_saddles,
        turn_deg=math.degrees(closing.turn),
        slide_mm=closing.slide,
        kink_deg=math.degrees(closing.kink),
        step_mm=closing.step,
        end_spare_mm=closing.end_spare,
        joint_spare_mm=closing.joint_spare,
        spare_on=tuple(SpareRecord(piece=piece, spare_mm=spare) for piece, spare in closing.spare_on),
    )


def _gap(gap: GapByHand) -> GapByHandRecord:
    return GapByHandRecord(
        a=gap.a,
        b=gap.b,
        nominal_mm=gap.nominal,
        open_mm=gap.open,
        held_mm=gap.held,
        closed_mm=gap.closed,
        drawn_mm=gap.drawn,
        left_mm=gap.left,
        judged=gap.judged,
        share=gap.share,
    )


def by_hand_section(record: ByHandRecord | None, units: str) -> Iterator[Section]:
    """Nothing if the bench was not planned."""
    if record is not None and record.runs:
        yield Section("By hand", tuple(_blocks(record, units)))


def _blocks(record: ByHandRecord, units: str) -> Iterator[Block]:
    yield (
        "What comes of the spreads under hand: in the spec, in simulated builds. Each tube is built from both ends, "
        "with flange and collector held in plates, and closed at one joint. None is sure to go in when it is welded "
        "from flange to collector with nothing measured."
    )
    heads = ("Tube", "Closed at joint", "Closes, of 100", "With saddles", "Turn", "Slide", "Kink", "Most from", "Open")
    yield Table(heads, [_row(run, units) for run in record.runs])
    yield (
        "Turn, slide and kink are what nine of ten builds need at most. Most from: the error with the greatest share. "
        "Open: how far sideways nine of ten ends miss their bore at most, welded with nothing measured."
    )
    yield "Spread of the open end, piece by piece from the flange (one standard deviation, widest direction):"
    yield Bullets(tuple(_spread(run, units) for run in record.runs))
    for run in record.runs:
        if run.closing is not None and run.closing.closes < NINE_IN_TEN:
            yield said_of_rare_closing(run.run)
            yield from said_otherwise(_noun_of(run.otherwise), units)
    gaps = record.tightest()[:SHOWN]
    if gaps:
        yield "What nine of ten builds leave of the tightest gaps at least:"
        yield Table(
            ("Between", "As planned", "Closed as the sheets say", "First order", "Both ends held", "Welded open"),
            [_gap_row(gap, units) for gap in gaps],
        )


def _noun_of(record: OtherwiseRecord | None) -> Otherwise | None:
    if record is None:
        return None
    straight, room = record.straight, record.with_room
    return Otherwise(
        record.slip_longer_mm,
        None
        if straight is None
        else MadeToMeasure(straight.piece, straight.shortest_mm, straight.longest_mm, math.radians(straight.mitre_deg)),
        None if room is None else AnotherJoint(room.joint, room.closes),
        record.step_mm,
        math.radians(record.kink_deg),
    )


def _row(run: RunByHandRecord, units: str) -> tuple[str, ...]:
    most = run.shares[0]
    ends = (f"{most.error}, {100 * most.share:.0f} %", both(units, run.open_miss_nine_in_ten_mm))
    closing = run.closing
    if closing is None:
        return (capital(run.run), "none", *("–",) * 5, *ends)
    return (
        capital(run.run),
        str(closing.joint),
        of_hundred(closing.closes),
        of_hundred(closing.closes_with_saddles),
        f"{closing.turn_deg:.1f}°",
        both(units, closing.slide_mm),
        f"{closing.kink_deg:.1f}°",
        *ends,
    )


def _spread(run: RunByHandRecord, units: str) -> str:
    ends = (f"piece {each.piece} {both(units, each.place_mm)}, {each.tilt_deg:.1f}°" for each in run.spread)
    return f"{capital(run.run)}: {'; '.join(ends)}"


def _gap_row(gap: GapByHandRecord, units: str) -> tuple[str, ...]:
    values: Sequence[float] = (gap.nominal_mm, gap.left_mm, gap.closed_mm, gap.held_mm, gap.open_mm)
    return (f"{capital(gap.a)} to {gap.b}", *(both(units, value) for value in values))
