"""The facts a customer signs for, taken from a result; and, in words, what has changed since the signature."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

from headergen.geometry.frames import add, dot, norm, subtract
from headergen.geometry.merge.design import AnyMerge, possible_merge, sleeve_radii
from headergen.model import Collector, Draft, Gap, OutletPlate, Plane, Result, Vec
from headergen.model.finding import Finding, worst_level
from headergen.model.materials import finish_of
from headergen.model.sign_off import LeastGap, OutletPlace, SensorPlace, SignOff
from headergen.parts.boss import boss_seat
from headergen.parts.collector import called, shifted
from headergen.parts.outlet import end_frame
from headergen.parts.outlet_plate import plate_reach
from headergen.words.say import plural, say_length, say_list, say_way

LEVEL = math.cos(math.radians(5))  # between a normal and up: a floor or the ground may be slightly tilted
SEEN = 0.05  # mm; a smaller movement is not reported
PARTS = (("flange", "flanges"), ("transition", "transitions"), ("primary", "primaries"), ("secondary", "secondaries"))


def sign_off(result: Result, hash: str, grams: float | None = None, size: Vec | None = None) -> SignOff:
    """`grams` and `size` are those of the made parts; None if none are made."""
    draft, job = result.header.draft, result.header.draft.job
    gaps = tuple(_least_gaps(result))
    floors = {i.name for i in draft.chassis if isinstance(i.shape, Plane) and dot(i.shape.normal, draft.up) > LEVEL}
    between = [gap for gap in result.survey.gaps if gap.is_between_runs and not gap.together]
    return SignOff(
        hash=hash,
        title=job.title,
        revision=job.revision,
        date=job.date,
        customer=job.customer,
        finish=finish_of(draft.tube.material, job.finish),
        tube=f"{_sizes(draft)}, {draft.tube.material}",
        clear=worst_level(result.findings) != "error",
        outlets=tuple(_outlets(result)),
        sensors=tuple(_sensors(result)),
        lengths=tuple(
            (run.name, length) for run, length in zip(result.header.runs, result.survey.lengths, strict=True)
        ),
        gaps=gaps,
        between=min((LeastGap(g.b, g.a, g.value) for g in between), key=lambda gap: gap.value, default=None),
        ground=next((gap for gap in gaps if gap.item in floors), None),
        included=tuple(_included(result)),
        excluded=job.excluded,
        size=size,
        grams=grams,
        workshop=job.workshop,
    )


def _sizes(draft: Draft) -> str:
    """The tube at the ports, and what the primaries grow to."""
    first = dict.fromkeys([*(run.tube for run in draft.primaries)] or [draft.tube])
    sizes = [*first, *(tube for run in draft.primaries for tube in run.tubes[1:] if tube not in first)]
    said = [
        f"{say_length(tube.outside_diameter, draft.units)} × {say_length(tube.wall, draft.units)}"
        for tube in dict.fromkeys(sizes)
    ]
    start, grown = say_list(said[: len(first)]), said[len(first) :]
    return f"{start}, growing to {say_list(grown)}" if grown else start


def _zero(draft: Draft) -> Vec:
    return min(draft.ports, key=lambda port: port.number).frame.origin


def _outlets(result: Result) -> Iterator[OutletPlace]:
    """Of each collector whose outlet goes into no other: the end of the outlet; for bare bores, the plane; and the end
    of each run in a place of its own.
    """
    draft, zero = result.header.draft, _zero(result.header.draft)
    goes_on = {run.source for run in result.header.runs}
    for collector in draft.collectors:
        if collector.name not in goes_on and collector.mouth != "side":
            merge = possible_merge(draft.tube, collector)
            frame = collector.frame if merge is None else end_frame(collector, merge)
            if isinstance(collector.end, OutletPlate):
                frame = shifted(frame, plate_reach(collector.end))
            yield OutletPlace(collector.name, subtract(frame.origin, zero), frame.z, _width(draft, collector, merge))


def _width(draft: Draft, collector: Collector, merge: AnyMerge | None) -> float:
    """The outside diameter of an outlet; at the end of a run, of the tube that arrives."""
    if merge is not None:
        return 2 * merge.end_outer
    if collector.mouth:
        return next(run for run in draft.runs if run.end.collector == collector.name).tubes[-1].outside_diameter
    return 2 * sleeve_radii(draft.tube, collector)[0]


def _sensors(result: Result) -> Iterator[SensorPlace]:
    for boss in result.header.draft.bosses:
        seat = boss_seat(result.header, boss)
        if seat is not None:
            skin = tuple(p + seat.radius * o for p, o in zip(seat.place, seat.out, strict=True))
            host = f"the outlet of collector {boss.host}" if boss.on_outlet else boss.host
            yield SensorPlace(boss.name, host, subtract((skin[0], skin[1], skin[2]), _zero(result.header.draft)))


def _least_gaps(result: Result) -> Iterator[LeastGap]:
    """For each chassis item the smallest gap of any tube or part, smallest first.

    The mouth that a run ends in is no part of the header: its wall is assumed, so the tube counts in its place.
    """
    draft = result.header.draft
    items = {item.name for item in draft.chassis}
    mouths = {f"mouth of {called(each)}" for each in draft.collectors if each.mouth}
    all_gaps = (*result.survey.gaps, *result.survey.part_gaps, *result.part_gaps)
    found: dict[str, Gap] = {}
    for gap in all_gaps:
        if gap.b not in items or gap.a in mouths or gap.is_between_runs:
            continue
        if gap.b not in found or gap.value < found[gap.b].value:
            found[gap.b] = gap
    yield from sorted((LeastGap(gap.b, gap.a, gap.value) for gap in found.values()), key=lambda gap: gap.value)


def _included(result: Result) -> Iterator[str]:
    """What the job includes, counted: "4 primaries", "1 flange" …"""
    draft = result.header.draft
    made = [part.role for part in result.parts] or [
        *("flange" for _ in draft.flanges),
        *(run.role for run in result.header.runs),
    ]
    if not result.parts:
        made += ["collector"] * len(draft.collectors) + ["boss"] * len(draft.bosses)
    for role in dict.fromkeys(made):
        count = made.count(role)
        yield f"{count} {dict(PARTS).get(role, plural(role)) if count > 1 else role}"


def signed_findings(signed: SignOff | None, now: SignOff, signed_hash: str, of: Draft) -> Iterator[Finding]:
    """A warning if the spec is not what the customer signed, at the place of the change if it has one.

    `signed` is None if the signed data is missing; `of`: the present draft.
    """
    if not signed_hash or signed_hash == now.hash:
        return
    what, place = "", None
    if signed is None:
        said = (
            f"The customer signed {signed_hash}, and the spec is {now.hash} now. What was signed is not at hand: put "
            "sign_off.json of that build beside the spec to see what differs."
        )
    else:
        found = list(differences(signed, now, of.units))
        differs = f"since then {say_list(found)}" if found else "nothing differs that the sheet shows"
        said = (
            f"The customer signed {signed_hash}, and the spec is {now.hash} now: {differs}. Have the new sheet signed."
        )
        what, place = _changed(signed, now)
    point = None if place is None else add(_zero(of), place)
    yield Finding("signed", "warning", "job", None, None, "", said, point, what)


def _changed(signed: SignOff, now: SignOff) -> tuple[str, Vec | None]:
    """The first change that has a place: an outlet, a sensor, or a tube, which is found by its name."""
    outlets = {each.collector: each for each in signed.outlets}
    for outlet in now.outlets:
        was = outlets.get(outlet.collector)
        if was is None or list(_places({outlet.collector: was}, replace(now, outlets=(outlet,)), "mm")):
            return f"outlet of {outlet.collector}", outlet.place
    sensors = {each.name: each for each in signed.sensors}
    for sensor in now.sensors:
        before = sensors.get(sensor.name)
        if before is None or norm(subtract(sensor.place, before.place)) > SEEN:
            return sensor.name, sensor.place
    lengths = dict(signed.lengths)
    longer = (name for name, length in now.lengths if abs(lengths.get(name, 0.0) - length) > SEEN)
    return next(longer, ""), None


def differences(signed: SignOff, now: SignOff, units: str) -> Iterator[str]:
    """What the sheet would now show differently, as clauses: "the outlet of main moved 12.0 mm up"."""
    for word in ("title", "revision", "date", "customer", "workshop", "finish", "tube"):
        one, other = getattr(signed, word), getattr(now, word)
        if one != other:
            yield f"{word} was {one or 'empty'} and is {other or 'empty'}"
    yield from _places({each.collector: each for each in signed.outlets}, now, units)
    yield from _moved(
        {each.name: each.place for each in signed.sensors},
        {each.name: each.place for each in now.sensors},
        units,
    )
    yield from _lengths(dict(signed.lengths), dict(now.lengths), units)
    yield from _gaps(signed, now, units)
    if signed.excluded != now.excluded:
        yield "what is not included differs"


def _places(signed: Mapping[str, OutletPlace], now: SignOff, units: str) -> Iterator[str]:
    present = {each.collector: each for each in now.outlets}
    yield from _moved(
        {f"outlet of {name}": each.place for name, each in signed.items()},
        {f"outlet of {name}": each.place for name, each in present.items()},
        units,
    )
    for name in signed.keys() & present.keys():
        one, other = signed[name], present[name]
        turned = math.degrees(2 * math.asin(min(1.0, norm(subtract(one.way, other.way)) / 2)))
        if turned > SEEN:
            yield f"the outlet of {name} turned by {turned:.1f}°"
        if abs(one.diameter - other.diameter) > SEEN:
            yield (
                f"the outlet of {name} was {say_length(one.diameter, units)} wide and is "
                f"{say_length(other.diameter, units)}"
            )


def _moved(signed: Mapping[str, Vec], now: Mapping[str, Vec], units: str) -> Iterator[str]:
    yield from (f"there is no {name} any more" for name in signed if name not in now)
    yield from (f"there is a new {name}" for name in now if name not in signed)
    for name in (each for each in signed if each in now):
        move = subtract(now[name], signed[name])
        far = norm(move)
        if far > SEEN:
            way = say_way((move[0] / far, move[1] / far, move[2] / far))
            yield f"the {name} moved {say_length(far, units)} {way}"


def _lengths(signed: Mapping[str, float], now: Mapping[str, float], units: str) -> Iterator[str]:
    yield from (f"there is no {name} any more" for name in signed if name not in now)
    yield from (f"there is a new {name}" for name in now if name not in signed)
    for name in (each for each in signed if each in now):
        more = now[name] - signed[name]
        if abs(more) > SEEN:
            yield f"{name} is {say_length(abs(more), units)} {'longer' if more > 0 else 'shorter'}"


def _gaps(signed: SignOff, now: SignOff, units: str) -> Iterator[str]:
    before, after = ({gap.item: gap.value for gap in each.gaps} for each in (signed, now))
    yield from (f"{name} is no longer in the chassis" for name in before if name not in after)
    yield from (f"{name} is new in the chassis" for name in after if name not in before)
    for name in (each for each in before if each in after):
        if abs(after[name] - before[name]) > SEEN:
            was, now_is = (say_length(value, units) for value in (before[name], after[name]))
            yield f"the gap to {name} was {was} and is {now_is}"
