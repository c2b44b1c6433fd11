"""Brackets: gusset plates between two runs, welded to both.

The plate lies in the plane between the two centrelines at its feet. The plane contains the line from one foot to the
other and the mean of the tubes' directions there. The ends are coped to the tubes: the tubes are cut out of the plate
as a whole. Its solid is made by its shape, in `solids/sheet.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import cut_out, frame_at
from headergen.geometry.curves.stepped import tube_at
from headergen.geometry.distance.convex import frustum_solid
from headergen.geometry.distance.distance_convex import gap_to_frustum
from headergen.geometry.distance.extruded import extruded_solid
from headergen.geometry.frames import add, cross, dot, norm, point_in, scaled, subtract, unit
from headergen.geometry.plate.outline import Outline, polygon
from headergen.model import Centreline, Frame, Header, Run, Vec
from headergen.model.fitted import Bracket, BracketFoot
from headergen.parts.boss import boss_frustum, boss_seats
from headergen.parts.kind import Demand, Envelope, Footing, PartKind, PlateBody, Seated
from headergen.parts.run_place import bare_about
from headergen.parts.sheet import Sheet, back_of, lowest_skin, skin_heights
from headergen.words.say import say_at_least, say_length

RIM = 3.0  # mm of metal round a hole, at least
LEAST_BETWEEN = 3.0  # mm between two tubes for a plate to be welded in; common practice, no source
MOST_BETWEEN = 100.0  # mm; a longer plate is a strut and buckles; common practice, no source
MOST_SLANT = math.sin(math.radians(30))  # of the line of the feet from square to a tube
BESIDE_BOSS = 5.0  # mm of tube between a bracket and a boss, room for the torch
BEYOND = 5.0  # mm of tube past both ends of a foot that is used to fit the foot
PLACES = 33  # along a foot, for its cope in a drawing
STRAIGHT = 1e-3  # mm by which a cope may differ from a line and still be drawn as one
SAME = 1e-6  # mm


@dataclass(frozen=True)
class FootSeat:
    """A foot in place: the run, the length along it, the point on its axis, and its tangent there."""

    run: Run
    line: Centreline
    at: float
    place: Vec
    along: Vec

    @property
    def radius(self) -> float:
        """Of the tube's outside there."""
        return tube_at(self.run, self.at).radius


@dataclass(frozen=True)
class BracketSeat:
    """`frame`: on the first tube's axis, x to the second tube, y along the tubes, z across the plate.

    `apart`: the distance from axis to axis.
    """

    bracket: Bracket
    feet: tuple[FootSeat, FootSeat]
    frame: Frame
    apart: float


def bracket_seat(header: Header, bracket: Bracket) -> BracketSeat | None:
    """The seat of a bracket; None if a place is beyond its tube, or the feet coincide or are in line with the tubes."""
    one, other = (_foot(header, foot) for foot in bracket.feet)
    if one is None or other is None:
        return None
    way = subtract(other.place, one.place)
    apart = norm(way)
    if apart < SAME:
        return None
    x = scaled(way, 1 / apart)
    mean = add(one.along, other.along, 1.0 if dot(one.along, other.along) >= 0 else -1.0)
    along = add(mean, x, -dot(mean, x))
    if norm(along) < SAME:
        return None
    y = unit(along)
    return BracketSeat(bracket, (one, other), Frame(one.place, x, y, cross(x, y)), apart)


def _foot(header: Header, foot: BracketFoot) -> FootSeat | None:
    for run, line in header.tubes:
        at = line.length - foot.at if foot.from_end else foot.at
        if run.name == foot.run and 0.0 <= at <= line.length:
            place, along, _ = frame_at(line, at)
            return FootSeat(run, line, at, place, along)
    return None


def _footings(seat: BracketSeat) -> tuple[tuple[Frame, Centreline], ...]:
    """For each foot, a frame on its tube's axis, x along the tubes and y to the other, and the tube below it."""
    found = []
    for foot, out in zip(seat.feet, (seat.frame.x, scaled(seat.frame.x, -1.0)), strict=True):
        frame = Frame(foot.place, seat.frame.y, out, cross(seat.frame.y, out))
        reach = seat.bracket.length / 2 + foot.radius + BEYOND  # the ends of a slanted plate are inside
        low, high = max(foot.at - reach, 0.0), min(foot.at + reach, foot.line.length)
        found.append((frame, cut_out(foot.line, low, high)))
    return tuple(found)


def _cope(seat: BracketSeat) -> tuple[Array, Array, Array]:
    """Places along the tubes (n,), and the height of each tube's skin over its axis there (n,), in the mid-plane."""
    half = seat.bracket.length / 2
    places = np.linspace(-half, half, PLACES)
    one, other = (
        skin_heights((line, foot.radius), frame, places, np.zeros(PLACES), foot.radius + half)
        for foot, (frame, line) in zip(seat.feet, _footings(seat), strict=True)
    )
    return places, one, other


def bracket_sheet(seat: BracketSeat) -> Sheet:
    """The plate from inside one tube to inside the other, and its cut outline."""
    half, (one, other) = seat.bracket.length / 2, (foot.radius for foot in seat.feet)
    hole = seat.bracket.hole / 2
    places, skin, opposite = _cope(seat)
    middle = (float(skin[PLACES // 2]) + seat.apart - float(opposite[PLACES // 2])) / 2
    return Sheet(
        outline=_rectangle(one / 2, seat.apart - other / 2, half),
        holes=(((middle, 0.0), hole),) if hole else (),
        frame=seat.frame,
        thickness=seat.bracket.thickness,
        tubes=tuple((line, foot.radius) for foot, (_, line) in zip(seat.feet, _footings(seat), strict=True)),
        flat=polygon([*_edge(skin, places), *reversed(_edge(seat.apart - opposite, places))]),
    )


def _rectangle(low: float, high: float, half: float) -> Outline:
    return polygon([(low, -half), (high, -half), (high, half), (low, half)])


def _edge(x: Array, y: Array) -> list[tuple[float, float]]:
    """The corners of a coped edge; only two if it is straight."""
    straight = np.interp(y, y[[0, -1]], x[[0, -1]])
    rows = [0, -1] if float(np.abs(x - straight).max()) < STRAIGHT else range(len(x))
    return [(float(x[row]), float(y[row])) for row in rows]


def between_skins(seat: BracketSeat) -> float:
    """The least metal from tube to tube in the middle of the plate; negative if the tubes cross there."""
    _, one, other = _cope(seat)
    return float((seat.apart - one - other).min())


def _demands(header: Header) -> Iterator[Demand]:
    for bracket in brackets(header):
        seat = bracket_seat(header, bracket)
        if seat is None:
            yield from _no_place(header, bracket)
            continue
        yield from _of_feet(header, seat)
        yield from _of_plate(header, seat)
        if between_skins(seat) > 0.0:
            yield from _of_bosses(header, seat)


def brackets(header: Header) -> Iterator[Bracket]:
    """All brackets of a header."""
    return (each for each in header.draft.fitted if isinstance(each, Bracket))


def _no_place(header: Header, bracket: Bracket) -> Iterator[Demand]:
    units, lengths = header.draft.units, {run.name: line.length for run, line in header.tubes}
    beyond = [foot for foot in bracket.feet if foot.at > lengths.get(foot.run, 0.0)]
    for foot in beyond:
        length = lengths.get(foot.run, 0.0)
        said = (
            f"stands {say_length(foot.at, units)} along {foot.run}, which is {say_length(length, units)} long; move "
            f"its place by {say_at_least(foot.at - length, units)} or more"
        )
        yield Demand(bracket.part, foot.at, length, said, None, "a place is beyond its tube")
    if not beyond:
        said = (
            f"has no plane: its tubes are {say_length(0.0, units)} apart, or lie in one line, and "
            f"{say_length(LEAST_BETWEEN, units)} between them are required; move one of its places"
        )
        yield Demand(bracket.part, 0.0, LEAST_BETWEEN, said, None, "its tubes leave it no plane")


def _of_feet(header: Header, seat: BracketSeat) -> Iterator[Demand]:
    """Requires bare straight tube under each foot, in the plane of the plate."""
    bracket, units = seat.bracket, header.draft.units
    half = bracket.length / 2
    for foot, other, sign in zip(seat.feet, reversed(seat.feet), (1.0, -1.0), strict=True):
        room, what = bare_about(header, foot.run, foot.line, foot.at)
        if room < half:
            said = (
                f"has {say_length(max(room, 0.0), units)} of bare straight tube on {foot.run.name} to {what}; "
                f"{say_length(half, units)} required: move it, or make it shorter"
            )
            yield Demand(bracket.part, max(room, 0.0), half, said, foot.place)
        aside = half * abs(dot(foot.along, seat.frame.z))
        most = foot.radius / 2
        if aside > most:
            said = (
                f"has {foot.run.name} {say_length(aside, units)} out of its plane at the end of its foot; at most "
                f"{say_length(most, units)}, since the two tubes cross at a steep angle: make it shorter"
            )
            yield Demand(bracket.part, aside, most, said, foot.place, "its tubes are not in one plane")
        slant = sign * seat.apart * dot(seat.frame.x, foot.along)  # how far along this tube the other foot is
        if abs(slant) > MOST_SLANT * seat.apart:
            way = "toward the collector" if slant > 0 else "away from the collector"
            said = (
                f"stands aslant: {other.run.name}'s place is {say_length(abs(slant), units)} from square to "
                f"{foot.run.name}; at most {say_length(MOST_SLANT * seat.apart, units)}: move the place on "
                f"{foot.run.name} {say_length(abs(slant), units)} {way}"
            )
            yield Demand(bracket.part, abs(slant), MOST_SLANT * seat.apart, said, foot.place, "it stands aslant")
            return


def _of_plate(header: Header, seat: BracketSeat) -> Iterator[Demand]:
    """Requires room for a plate between the tubes, and for its hole."""
    bracket, units, free = seat.bracket, header.draft.units, between_skins(seat)
    point = point_in(seat.frame, (seat.apart / 2, 0.0, 0.0))
    one, other = bracket.hosts
    if free <= 0.0:
        said = (
            f"has no room: {one} and {other} reach {say_length(-free, units)} into each other there, and "
            f"{say_length(LEAST_BETWEEN, units)} between them are required; weld them to each other, or move it"
        )
        yield Demand(bracket.part, free, LEAST_BETWEEN, said, point, "its tubes touch there")
    elif free < LEAST_BETWEEN:
        said = f"has {say_length(free, units)} between {one} and {other}; {say_length(LEAST_BETWEEN, units)} required"
        yield Demand(bracket.part, free, LEAST_BETWEEN, said, point)
    elif free > MOST_BETWEEN:
        said = (
            f"spans {say_length(free, units)} from {one} to {other}; at most {say_length(MOST_BETWEEN, units)}: move "
            "it to where they are nearer"
        )
        yield Demand(bracket.part, free, MOST_BETWEEN, said, point)
    rim, widest = (free - bracket.hole) / 2, free - 2 * RIM
    fits = f"a hole of {say_length(widest, units)} leaves that" if widest > RIM else "leave the hole out"
    if bracket.hole and free > 0.0 and rim < RIM:
        said = (
            f"has {say_length(max(rim, 0.0), units)} of metal between its hole and a tube; {say_length(RIM, units)} "
            f"required: {fits}"
        )
        yield Demand(bracket.part, max(rim, 0.0), RIM, said, point, "its hole leaves no metal" if rim <= 0 else "")


def _of_bosses(header: Header, seat: BracketSeat) -> Iterator[Demand]:
    plate, units = extruded_solid(*bracket_plate(seat)), header.draft.units
    for boss, boss_place in boss_seats(header):
        shape = boss_frustum(boss, boss_place)
        body = frustum_solid(shape)
        if math.dist(plate.middle, body.middle) - plate.reach - body.reach >= BESIDE_BOSS:
            continue
        free = gap_to_frustum(plate, shape).value
        if free < BESIDE_BOSS:
            is_in = f"reaches {say_length(-free, units)} into" if free < 0.0 else f"is {say_length(free, units)} from"
            said = f"{is_in} the boss {boss.name}; {say_length(BESIDE_BOSS, units)} between them required: move one"
            yield Demand(seat.bracket.part, free, BESIDE_BOSS, said, boss_place.place)


def bracket_plate(seat: BracketSeat) -> tuple[Outline, Frame, float]:
    """The plate around it: an outline in x and y of a frame, and the thickness along z.

    Its ends reach as deep as the tubes' skins fall away across the plate.
    """
    half, sheet = (seat.bracket.length / 2, seat.bracket.thickness / 2), bracket_sheet(seat)
    one, other = (
        lowest_skin((line, foot.radius), frame, half)
        for foot, (frame, line) in zip(seat.feet, _footings(seat), strict=True)
    )
    return _rectangle(one, seat.apart - other, half[0]), back_of(sheet), sheet.thickness


def _seats(header: Header) -> Iterator[Seated]:
    impossible = {demand.part: demand.infeasibility for demand in _demands(header) if demand.infeasibility}
    for bracket in brackets(header):
        seat = bracket_seat(header, bracket)
        infeasibility = impossible.get(bracket.part, "")
        sheet = None if seat is None or infeasibility else bracket_sheet(seat)
        yield Seated(BRACKET, bracket.part, sheet, infeasibility=infeasibility)


def _envelopes(header: Header) -> Iterator[Envelope]:
    """Over the length where tubes may converge, a bracket may be as near to tubes of its collector as they may."""
    for seat in _with_room(header):
        solid = extruded_solid(*bracket_plate(seat))
        yield Envelope(seat.bracket.part, solid, joined=seat.bracket.hosts, beside=_converging(header, seat))


def _with_room(header: Header) -> Iterator[BracketSeat]:
    for bracket in brackets(header):
        seat = bracket_seat(header, bracket)
        if seat is not None and between_skins(seat) > 0.0:
            yield seat


def _plates(header: Header) -> Iterator[PlateBody]:
    return (PlateBody(seat.bracket.part, *bracket_plate(seat)) for seat in _with_room(header))


def _feet_on_runs(header: Header) -> Iterator[Footing]:
    for bracket in brackets(header):
        seat = bracket_seat(header, bracket)
        for foot in seat.feet if seat is not None else ():
            yield Footing(foot.run.name, bracket.part, foot.at, bracket.length)


def _welds(header: Header) -> Iterator[float]:
    """Round both feet of each."""
    seated = (each for each in brackets(header) if bracket_seat(header, each) is not None)
    return (2 * 2 * (each.length + each.thickness) for each in seated)


def _converging(header: Header, seat: BracketSeat) -> tuple[str, ...]:
    together, (one, other) = header.draft.limits.together, seat.feet
    near_end = all(foot.line.length - foot.at <= together for foot in seat.feet)
    collector = one.run.end.collector
    if not near_end or collector != other.run.end.collector:
        return ()
    return tuple(run.name for run in header.runs if run.end.collector == collector)


def _sizes(bracket: Bracket, header: Header) -> dict[str, float]:
    seat = bracket_seat(header, bracket)
    sizes = {"length along the tubes": bracket.length, "thickness": bracket.thickness}
    if seat is not None:
        sizes["between the tubes"] = between_skins(seat)
    return sizes | ({"hole": bracket.hole} if bracket.hole else {})


BRACKET = PartKind(
    "bracket",
    "sheet",
    _seats,
    _envelopes,
    follows_runs=True,
    is_drawn=True,
    demands=_demands,
    noun=Bracket,
    sizes=_sizes,
    footings=_feet_on_runs,
    plates=_plates,
    welds=_welds,
)
