"""Planes that face the wrong way: a collector's, the flange's, or one of the chassis.

One wrong sign causes dozens of other findings, so it is reported first and alone; what follows from it is left out. It
is reported if reversing that one direction brings all tubes concerned to their bores, or puts the whole header on the
free side. Otherwise, the finding is only that all tubes arrive against a collector's normal.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from headergen.checks.measure import measure_end
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.run import line_of
from headergen.geometry.frames import add, dot, scaled, subtract
from headergen.model import Centreline, ChassisItem, Collector, Draft, End, Frame, Plane, Run, Survey, Vec, primary_name
from headergen.model.finding import Finding
from headergen.parts.collector import called
from headergen.parts.table import envelopes_of
from headergen.words.say import say_angle, say_length, say_way, shown_length

MUCH_BETTER = 0.1  # share of a miss that may remain after reversing a plane that is the cause
FAR = math.radians(30)  # off the axis of its bore, or a tube's radius beside it: more than an error of measurement
AGAINST = math.radians(150)
MISSES = frozenset({"end-position", "end-angle", "closing"})


@dataclass(frozen=True)
class Turned:
    """The planes that face the wrong way, and the findings that follow from them: ends of primaries, gaps to items."""

    findings: tuple[Finding, ...] = ()
    primaries: frozenset[str] = field(default_factory=frozenset)
    items: frozenset[str] = field(default_factory=frozenset)
    collectors: frozenset[str] = field(default_factory=frozenset)


def turned_over(survey: Survey) -> Turned:
    """The planes that face the wrong way."""
    planes = [(item, found) for item in survey.header.draft.chassis if (found := _item(survey, item)) is not None]
    items = frozenset(item.name for item, _ in planes)
    said = tuple(finding for _, finding in planes)
    ends = _ends(survey)
    return replace(ends, findings=(*ends.findings, *said), items=items)


def without_items(survey: Survey, turned: Turned) -> Survey:
    """The survey without the gaps that follow from planes that face the wrong way."""
    parts = {each.name for each in envelopes_of(survey.header) if each.collector in turned.collectors}
    return replace(
        survey,
        gaps=tuple(gap for gap in survey.gaps if gap.b not in turned.items),
        part_gaps=tuple(g for g in survey.part_gaps if g.b not in turned.items and g.a not in parts),
        reaches=tuple(gap for gap in survey.reaches if gap.b not in turned.items),
    )


def follows(finding: Finding, turned: Turned) -> bool:
    """Whether a finding reports a primary's miss of a bore that faces the wrong way."""
    return finding.rule in MISSES and finding.where in turned.primaries


def _item(survey: Survey, item: ChassisItem) -> Finding | None:
    plane, header = item.shape, survey.header
    if not isinstance(plane, Plane) or item.role != "obstacle":
        return None
    over = [dot(subtract(at, plane.origin), plane.normal) for line in header.centrelines for at in _places(line)]
    gaps = [gap for gap in survey.gaps if gap.b == item.name]
    if not gaps or max(over) > -header.draft.tube.radius:
        return None
    worst, units = min(gaps, key=lambda gap: gap.value), header.draft.units
    return Finding(
        rule="turned-over",
        level="error",
        where=item.name,
        value=shown_length(worst.value, units),
        limit=shown_length(worst.required, units),
        unit=units,
        message=(
            f"The {item.name} has the whole header behind it, {worst.place.run} "
            f"{say_length(-worst.value, units)} deep ({say_length(worst.required, units)} required): its normal points "
            f"{say_way(plane.normal)}, away from the tubes. Nothing may be behind a plane; turn its normal round, so "
            f"that it points {say_way(scaled(plane.normal, -1.0))}."
        ),
        point=plane.origin,
    )


def _places(line: Centreline) -> Iterator[Vec]:
    return (frame_at(line, line.length * k / 40)[0] for k in range(41))


def _ends(survey: Survey) -> Turned:
    """A flange or collector with one direction reversed; if several are, the one that explains most."""
    draft, meant = survey.header.draft, _as_meant(survey)
    ends = {primary.number: _arrival(primary) for primary in meant}
    wrong = {n for n, end in ends.items() if end.angle > FAR or _beside(end) > draft.tube.radius}
    found = []
    for way in _ways(draft, meant):
        after = {primary.number: _arrival(primary) for primary in way.primaries}
        if set(after) <= wrong and all(_size(after[n]) <= MUCH_BETTER * _size(ends[n]) for n in after):
            found.append((sum(map(_size, after.values())), way, after))
    if not found:
        return _against(draft, meant, ends)
    _, way, after = min(found, key=lambda each: each[0])
    collectors = frozenset({way.collector} - {""})
    return Turned((_of_way(draft, way, ends, after),), frozenset(map(primary_name, after)), collectors=collectors)


@dataclass(frozen=True)
class _Reversal:
    """One direction of a plane reversed: whose, which, its present value, and the primaries that it changes."""

    where: str
    which: str
    now: Vec
    primaries: tuple[Run, ...]
    collector: str = ""


def _as_meant(survey: Survey) -> tuple[Run, ...]:
    """The primaries with their guesses for values to fit, because a fit may end anywhere if a plane is wrong."""
    guesses = {primary.number: primary for primary in survey.header.draft.primaries}
    return tuple(guesses[p.number] if p.fits else p for p in survey.header.primaries)


def _ways(draft: Draft, primaries: Sequence[Run]) -> Iterator[_Reversal]:
    for collector in draft.collectors:
        mine = [primary for primary in primaries if primary.end.collector == collector.name]
        for which, now, turned in _turned_frames(collector.frame) if mine else ():
            changed = tuple(_into(primary, collector.frame, turned) for primary in mine)
            yield _Reversal(f"collector {collector.name}", which, now, changed, collector.name)
    for flange in draft.flanges:
        own = [primary for primary in primaries if primary.port.flange == flange.name]
        for which, now, turned in _turned_frames(flange.frame) if own else ():
            yield _Reversal(flange.part, which, now, tuple(_from(primary, flange.frame, turned) for primary in own))


def _turned_frames(frame: Frame) -> Iterator[tuple[str, Vec, Frame]]:
    x, y, z = (scaled(axis, -1.0) for axis in (frame.x, frame.y, frame.z))
    yield "normal", frame.z, Frame(frame.origin, frame.x, y, z)
    yield "x", frame.x, Frame(frame.origin, x, y, frame.z)


def _into(primary: Run, old: Frame, new: Frame) -> Run:
    return replace(primary, end=replace(primary.end, frame=_carried(primary.end.frame, old, new)))


def _from(primary: Run, old: Frame, new: Frame) -> Run:
    return replace(primary, start=replace(primary.port, frame=_carried(primary.port.frame, old, new)))


def _carried(frame: Frame, old: Frame, new: Frame) -> Frame:
    """A frame moved with another one, from `old` to `new`."""

    def direction(vector: Vec) -> Vec:
        u, v, w = (dot(vector, axis) for axis in (old.x, old.y, old.z))
        return add(add(scaled(new.x, u), new.y, v), new.z, w)

    origin = add(new.origin, direction(subtract(frame.origin, old.origin)))
    return Frame(origin, direction(frame.x), direction(frame.y), direction(frame.z))


def _arrival(primary: Run) -> End:
    return measure_end(primary, line_of(primary))


def _beside(end: End) -> float:
    return math.hypot(end.along, end.across)


def _size(end: End) -> float:
    """A miss as one number: 1 mm beside counts as much as half a degree."""
    return _beside(end) + 2 * math.degrees(end.angle)


def _of_way(draft: Draft, way: _Reversal, ends: Mapping[int, End], after: Mapping[int, End]) -> Finding:
    units, limits, before = draft.units, draft.limits, [ends[number] for number in sorted(after)]
    angle, beside = max(end.angle for end in before), max(_beside(end) for end in before)
    if angle > FAR:
        value, limit, unit = math.degrees(angle), math.degrees(limits.end_angle), "deg"
        miss = f"arrive{_s(after)} {say_angle(angle)} off the axis ({say_angle(limits.end_angle)} allowed)"
    else:
        value, limit, unit = shown_length(beside, units), shown_length(limits.end_position, units), units
        miss = f"miss{'es' if len(after) == 1 else ''} by up to {say_length(beside, units)}"
        miss += f" ({say_length(limits.end_position, units)} allowed)"
    left = say_length(max(map(_beside, after.values())), units)
    gas = " the way the gas goes," if way.which == "normal" else ""
    return Finding(
        rule="turned-over",
        level="error",
        where=way.where,
        value=round(value, 2 if unit == "deg" else 3),
        limit=round(limit, 2 if unit == "deg" else 3),
        unit=unit,
        message=(
            f"The {way.where} stands the wrong way round: {_tubes(after)} {miss}. Its {way.which} points "
            f"{say_way(way.now)}; turned round, so that it points{gas} {say_way(scaled(way.now, -1.0))}, "
            f"{'it ends' if len(after) == 1 else 'they end'} within {left} of {_bores(after)}."
            f"{' All other findings are for the header as it is written.' if not way.collector else ''}"
        ),
        point=before[0].point,
    )


def _against(draft: Draft, primaries: Sequence[Run], ends: Mapping[int, End]) -> Turned:
    """Collectors whose tubes all arrive against their normals, although reversing these does not bring the tubes in."""
    said, numbers = [], set[int]()
    for collector in draft.collectors:
        mine = {p.number: ends[p.number] for p in primaries if p.end.collector == collector.name}
        if mine and all(end.angle > AGAINST for end in mine.values()):
            angle = min(end.angle for end in mine.values())
            said.append(_finding_against(draft, collector, mine, angle))
            numbers |= set(mine)
    return Turned(tuple(said), frozenset(map(primary_name, numbers)))


def _finding_against(draft: Draft, collector: Collector, ends: Mapping[int, End], angle: float) -> Finding:
    limit, place, normal = draft.limits.end_angle, called(collector), "normal"
    if collector.mouth:
        place, normal = f"end of {place}", "direction"
    return Finding(
        rule="turned-over",
        level="error",
        where=called(collector),
        value=round(math.degrees(angle), 2),
        limit=round(math.degrees(limit), 2),
        unit="deg",
        message=(
            f"The {place} is met from behind: {_tubes(ends)} arrive{_s(ends)} {say_angle(angle)} "
            f"off its axis or more ({say_angle(limit)} allowed). Its {normal} points {say_way(collector.frame.z)}; if "
            "the gas does not go that way there, turn it round; if it does, look at the normal and x of the flange "
            "and at the rotation of the first bends. Where each tube ends is told once that is right."
        ),
        point=collector.frame.origin,
    )


def _tubes(ends: Mapping[int, End]) -> str:
    return {1: "its only tube", 2: "both tubes"}.get(len(ends), f"all {len(ends)} tubes")


def _bores(ends: Mapping[int, End]) -> str:
    return "its bore" if len(ends) == 1 else "their bores"


def _s(ends: Mapping[int, End]) -> str:
    return "s" if len(ends) == 1 else ""
