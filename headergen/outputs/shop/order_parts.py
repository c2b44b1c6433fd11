"""The order for what is not a run: sleeves, merges and outlets, and all that is fitted to them and to the tubes."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.merge.design import AnyMerge
from headergen.geometry.merge.flow import lobe_outline, outlet_arc
from headergen.geometry.merge.uneven import UnevenMerge, cone_outline, mouth_of, turning_point
from headergen.geometry.plate.outline import area
from headergen.geometry.transition.development import patterns
from headergen.geometry.transition.rulings import rounds
from headergen.model import Boss, Collector, CutTemplate, Header, OutletBall, OutletBell, OutletRing, Shop, ShopSettings
from headergen.outputs.shop.order_line import OrderLine, in_pieces, whole_area, whole_length
from headergen.parts.boss import boss_seats
from headergen.parts.collector import merge_seats, spike_has_room
from headergen.parts.kind import Seated
from headergen.parts.sheet import Sheet
from headergen.parts.table import parts_to_make
from headergen.parts.transition import TransitionSeat
from headergen.words.say import plural, say_length

BEFORE_CUTTING = "before cutting out"


def lines_of_parts(header: Header, shop: Shop) -> Iterator[OrderLine]:
    """What collectors are made of, then rings, bells, transitions, sheets and bosses."""
    units = header.draft.units
    for collector, merge in merge_seats(header):
        cuts = [cut for cut in shop.templates if cut.collector == collector.name and cut.what == "end"]
        yield from _tubes(collector, merge, cuts, header.draft.shop, units)
        yield from _outlet(collector, merge, header.draft.shop, units)
        yield from _end(collector, units)
    parts = parts_to_make(header)
    yield from _transitions(parts, units)
    yield from _sheets(parts, units)
    yield from _bosses((boss for boss, _ in boss_seats(header)), units)


def _tubes(
    collector: Collector, merge: AnyMerge, cuts: Sequence[CutTemplate], shop: ShopSettings, units: str
) -> Iterator[OrderLine]:
    """Straight tube from mouth to end: the two halves at a mitre are cut from one piece."""
    sizes: dict[tuple[float, float], list[float]] = {}
    for cut in cuts:
        if isinstance(merge, UnevenMerge):
            tube = next(t for bore, t in zip(collector.bores, merge.tubes, strict=True) if bore.number in cut.bores)
            before, wall = math.dist(mouth_of(merge, tube), turning_point(merge, tube)), tube.outer - tube.inner
        else:
            before, wall = merge.mitre - merge.mouth, merge.outer - merge.inner
        long = before + cut.base + max(cut.heights) + 2 * shop.kerf + 3 * shop.dressing
        sizes.setdefault((cut.radius, round(wall, 6)), []).extend([long] * cut.count)
    what = "tube for the merge" if merge.is_welded else "tube for the sleeves and merge"
    for (radius, wall), lengths in sizes.items():
        each = f"{len(lengths)} of {say_length(max(lengths), units)}" if len(lengths) > 1 else "1"
        size = f"{_across(radius, wall, units)}, {each}"
        total = whole_length(sum(lengths), units)
        yield OrderLine(f"{what} of {collector.name}", size, len(lengths), 0, total, units)


def _outlet(collector: Collector, merge: AnyMerge, shop: ShopSettings, units: str) -> Iterator[OrderLine]:
    """Sheet for the cone between lobes and outlet, and the outlet's tube."""
    wall = merge.outlet_outer - merge.outlet_inner
    thick = f"{say_length(wall, units)} thick, {BEFORE_CUTTING}"
    yield OrderLine(f"sheet for the cone of {collector.name}", thick, 1, 0, *whole_area(cone_area(merge), units))
    if collector.spike and spike_has_room(merge):
        yield OrderLine(f"spike for {collector.name}", "as its solid", 1, 0, 1, in_pieces(1))
    long = merge.end - merge.cone_end
    if long <= 0:
        return
    if merge.taper_to is not None:
        ends = f"from {say_length(2 * merge.outlet_outer, units)} to {say_length(2 * merge.taper_to, units)}"
        size = f"{ends}, {say_length(long, units)} long"
        yield OrderLine(f"cone for the outlet of {collector.name}", size, 1, 0, 1, in_pieces(1))
        return
    size, total = _across(merge.outlet_outer, wall, units), whole_length(long + shop.kerf + 2 * shop.dressing, units)
    yield OrderLine(f"tube for the outlet of {collector.name}", size, 1, 0, total, units)


def _across(radius: float, wall: float, units: str) -> str:
    return f"{say_length(2 * radius, units)} × {say_length(wall, units)}"


def cone_area(merge: AnyMerge) -> float:
    """The outside of the ruled cone from the tubes' lobes to the outlet, mm², between places on its rulings."""
    high = merge.cone_end - merge.cut
    if isinstance(merge, UnevenMerge):
        low, top = (cone_outline(merge, False, share) for share in (0.0, 1.0))
        return _ruled_area(np.concatenate([low, low[:1]]), np.concatenate([top, top[:1]]), high)
    low, top = lobe_outline(merge, merge.outer), outlet_arc(merge, merge.outlet_outer)
    return merge.count * _ruled_area(low, top, high)


def _ruled_area(low: Array, top: Array, high: float) -> float:
    """Of the strip between two lines (n, 2), `high` apart, by two triangles between neighbouring rulings."""
    below, above = np.column_stack([low, np.zeros(len(low))]), np.column_stack([top, np.full(len(top), high)])
    first = np.cross(below[1:] - below[:-1], above[:-1] - below[:-1])
    other = np.cross(above[1:] - above[:-1], above[1:] - below[1:])
    return float(np.linalg.norm(first, axis=1).sum() + np.linalg.norm(other, axis=1).sum()) / 2


def _end(collector: Collector, units: str) -> Iterator[OrderLine]:
    """What is on the end of an outlet; plates are with the flanges."""
    end = collector.end
    if isinstance(end, OutletRing):
        size = f"{say_length(end.thickness, units)} thick, {BEFORE_CUTTING}"
        disc = whole_area(math.pi * (end.outside_diameter / 2) ** 2, units)
        yield OrderLine(f"plate for the outlet ring of {collector.name}", size, 1, 0, *disc)
    elif isinstance(end, OutletBell):
        size = f"{say_length(end.inside_diameter, units)} inside, {say_length(end.length, units)} deep"
        yield OrderLine(f"outlet bell for {collector.name}", size, 1, 0, 1, in_pieces(1))
    elif isinstance(end, OutletBall):
        size = f"ball of {say_length(end.diameter, units)}, {say_length(end.length, units)} long"
        yield OrderLine(f"outlet ball flange for {collector.name}", size, 1, 0, 1, in_pieces(1))


def _transitions(parts: Sequence[Seated], units: str) -> Iterator[OrderLine]:
    """Sheet by the flat patterns, for all of one wall."""
    flat, count = dict[float, float](), Counter[float]()
    for part in parts:
        seat = part.seat
        if isinstance(seat, TransitionSeat):
            halves = patterns(seat.port.shape, seat.tube, seat.port.transition)
            band = rounds(seat.port.shape, seat.tube)[0] * seat.lead
            size = band + sum(half.count * half.area for half in halves)
            flat[seat.tube.wall] = flat.get(seat.tube.wall, 0.0) + size
            count[seat.tube.wall] += 1
    for wall, size in flat.items():
        thick = f"{say_length(wall, units)} thick, {BEFORE_CUTTING}"
        yield OrderLine("sheet for transitions", thick, count[wall], 0, *whole_area(size, units))


def _sheets(parts: Sequence[Seated], units: str) -> Iterator[OrderLine]:
    """Plate for tabs, brackets and dividers, for all of one thickness."""
    flat, count = dict[tuple[str, float], float](), Counter[tuple[str, float]]()
    for part in parts:
        if isinstance(part.seat, Sheet):
            kind = part.kind.role, part.seat.thickness
            flat[kind] = flat.get(kind, 0.0) + area(part.seat.flat or part.seat.outline)
            count[kind] += 1
    for (role, thickness), size in flat.items():
        thick = f"{say_length(thickness, units)} thick, {BEFORE_CUTTING}"
        yield OrderLine(f"plate for {plural(role)}", thick, count[role, thickness], 0, *whole_area(size, units))


def _bosses(bosses: Iterator[Boss], units: str) -> Iterator[OrderLine]:
    sizes = Counter(
        f"{boss.thread or f'bore {say_length(boss.hole, units)}'}, {say_length(boss.outside_diameter, units)} across, "
        f"{say_length(boss.height, units)} high"
        for boss in bosses
    )
    for size, count in sizes.items():
        yield OrderLine("boss", size, count, 0, count, in_pieces(count))
