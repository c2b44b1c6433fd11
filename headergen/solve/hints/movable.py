"""Parts and tools whose place is a number of the spec: the numbers, and how such a part moves with them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from headergen.geometry.frames import cross, dot, subtract
from headergen.model import Boss, Collector, Draft, Header, OutletRing, Vec
from headergen.model.fitted import Bracket
from headergen.model.suggestion import NewSetting
from headergen.parts.boss import Seat, boss_seats, host_length
from headergen.parts.bracket import bracket_seat
from headergen.parts.rooms import rooms
from headergen.parts.tabs import tab_seats
from headergen.words.say import say_angle, say_length


@dataclass(frozen=True)
class Setting:
    """A number of the spec that places a part.

    `kind`: a length in mm along `axis`, or an angle in radians about it, through `centre`. `put`: returns the draft
    with the part moved by an amount, and what is then written. `room`: how far it may move backward and forward.
    """

    thing: str
    kind: Literal["length", "angle"]
    axis: Vec
    centre: Vec
    room: tuple[float, float]
    put: Callable[[float], tuple[Draft, tuple[NewSetting, ...]]]

    def goes(self, place: Vec) -> Vec:
        """The movement of a place of the part for one unit of the number."""
        return self.axis if self.kind == "length" else cross(self.axis, subtract(place, self.centre))

    def what(self, amount: float, units: str) -> str:
        """The change in words."""
        if self.kind == "angle":
            way = "on" if amount > 0 else "back"
            return f"Turn {self.thing} {say_angle(abs(amount))} {way}"
        way = "on along the gas" if amount > 0 else "back against the gas"
        return f"Move {self.thing} {say_length(abs(amount), units)} {way}"


def settings_of(header: Header, name: str) -> Iterator[Setting]:
    """The numbers that place a part, or the host of a tool or sensor; none if its place comes from the engine."""
    for boss, seat in boss_seats(header):
        if name in (boss.part, f"sensor in {boss.name}"):
            yield from _of_boss(header, boss, seat)
    for fitted in header.draft.fitted:
        if name == fitted.part and isinstance(fitted, Bracket):
            yield from _of_bracket(header, fitted)
    for collector in header.draft.collectors:
        yield from _of_collector(header, collector, name)


def _of_collector(header: Header, collector: Collector, name: str) -> Iterator[Setting]:
    """All tabs of a collector, each about its tube; its outlet's ring about the collector's axis."""
    tabs, ring = collector.tabs, collector.end
    tab = next((each for each in tab_seats(header, collector) if each.name == name), None)
    if tab is not None and tabs is not None:
        yield _turned(
            header.draft,
            (f"all tabs of collector {collector.name}", "tabs: turn", tabs.turn),
            (tab.frame.x, tab.frame.origin),
            lambda turn: replace(collector, tabs=replace(tabs, turn=turn)),
        )
    sockets = {room.what for room in rooms(header) if room.collector == collector.name}
    if isinstance(ring, OutletRing) and name in sockets:
        yield _turned(
            header.draft,
            (f"the outlet ring of collector {collector.name}", "end: ring: turn", ring.turn),
            (collector.frame.z, collector.frame.origin),
            lambda turn: replace(collector, end=replace(ring, turn=turn)),
        )


def _of_boss(header: Header, boss: Boss, seat: Seat) -> Iterator[Setting]:
    draft, long = header.draft, host_length(header, boss) or 0.0

    def with_boss(now: Boss) -> Draft:
        return replace(draft, bosses=tuple(now if each is boss else each for each in draft.bosses))

    def along(amount: float) -> tuple[Draft, tuple[NewSetting, ...]]:
        now = boss.at + amount
        return with_boss(replace(boss, at=now)), (NewSetting(f"boss {boss.name}", "at", boss.at, now),)

    def about(amount: float) -> tuple[Draft, tuple[NewSetting, ...]]:
        now = math.remainder(boss.clock + amount, 2 * math.pi)
        change = NewSetting(f"boss {boss.name}", "clock", boss.clock, now, is_angle=True)
        return with_boss(replace(boss, clock=now)), (change,)

    thing = f"boss {boss.name}"
    yield Setting(thing, "angle", seat.along, seat.place, (-math.pi, math.pi), about)
    yield Setting(thing, "length", seat.along, seat.place, (-boss.at, long - boss.at), along)


def _of_bracket(header: Header, bracket: Bracket) -> Iterator[Setting]:
    """Both of its feet by the same length, in the direction of the gas in the first tube."""
    seat = bracket_seat(header, bracket)
    if seat is None:
        return
    same = dot(seat.feet[0].along, seat.feet[1].along) >= 0
    long = [foot.line.length for foot in seat.feet]
    ends = [(-foot.at, length - foot.at) for foot, length in zip(seat.feet, long, strict=True)]
    ends = [ends[0], ends[1] if same else (-ends[1][1], -ends[1][0])]

    def put(amount: float) -> tuple[Draft, tuple[NewSetting, ...]]:
        feet, changes = [], []
        for foot, sign in zip(bracket.feet, (1.0, 1.0 if same else -1.0), strict=True):
            now = foot.at + amount * sign * (-1.0 if foot.from_end else 1.0)
            feet.append(replace(foot, at=now))
            key = f"between: {foot.run}, {'before_end' if foot.from_end else 'at'}"
            changes.append(NewSetting(bracket.part, key, foot.at, now))
        moved = replace(bracket, feet=(feet[0], feet[1]))
        fitted = tuple(moved if each is bracket else each for each in header.draft.fitted)
        return replace(header.draft, fitted=fitted), tuple(changes)

    room = (max(low for low, _ in ends), min(high for _, high in ends))
    yield Setting(bracket.part, "length", seat.feet[0].along, seat.frame.origin, room, put)


def _turned(
    draft: Draft, said: tuple[str, str, float], axis: tuple[Vec, Vec], changed: Callable[[float], Collector]
) -> Setting:
    """A thing that turns about an axis with a number of a collector; `said`: its name, the number's key, the number."""
    thing, key, was = said

    def put(amount: float) -> tuple[Draft, tuple[NewSetting, ...]]:
        now = math.remainder(was + amount, 2 * math.pi)
        made = changed(now)
        collectors = tuple(made if each.name == made.name else each for each in draft.collectors)
        change = NewSetting(f"collector {made.name}", key, was, now, is_angle=True)
        return replace(draft, collectors=collectors), (change,)

    return Setting(thing, "angle", *axis, (-math.pi, math.pi), put)
