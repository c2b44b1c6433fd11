"""Bosses sit on straight tube; sensors lean so that water runs off, and sample all cylinders."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.part_findings import length_finding
from headergen.geometry.frames import dot
from headergen.model import Boss, Header, Outlet
from headergen.model.finding import Finding
from headergen.parts.boss import boss_seat, host_length
from headergen.words.say import say_angle, say_at_least, say_length

LEAST_RISE = math.radians(10)  # of a sensor's axis above horizontal; from memory, the sensor maker's manual decides
WIDEST = 0.9  # of a tube's diameter: the largest boss on it


def boss_place(header: Header) -> Iterator[Finding]:
    for boss in header.draft.bosses:
        seat, part = boss_seat(header, boss), f"boss {boss.name}"
        point = None if seat is None else seat.place
        room = 0.0 if seat is None else seat.straight
        needed = boss.outside_diameter / 2
        if seat is None:
            yield _off_its_tube(header, boss)
        elif room < needed:
            said = (
                f"has {say_length(room, header.draft.units)} of bare straight tube to the nearest end, bend or joint; "
                f"{say_length(needed, header.draft.units)} is required"
            )
            yield length_finding(header.draft, part, (room, needed, said), point, rule="boss-place")
        elif boss.outside_diameter > 2 * WIDEST * seat.radius:
            widest = 2 * WIDEST * seat.radius
            said = (
                f"is {say_length(boss.outside_diameter, header.draft.units)} wide; its tube takes at most "
                f"{say_length(widest, header.draft.units)}"
            )
            said_of = (boss.outside_diameter, widest, said)
            yield length_finding(header.draft, part, said_of, point, rule="boss-place")


def _off_its_tube(header: Header, boss: Boss) -> Finding:
    units, length = header.draft.units, host_length(header, boss)
    tube = f"the outlet of collector {boss.host}" if boss.on_outlet else boss.host
    if length is None:
        said = (
            f"has nothing to stand on: {tube} is not there ({say_length(0.0, units)} of it, and "
            f"{say_length(boss.at, units)} required); an outlet is made where its collector has half angle and outlet, "
            "and a merge of its bores is possible"
        )
    else:
        needed = boss.at + boss.outside_diameter / 2
        back = f"move the boss back by at least {say_at_least(needed - length, units)}"
        if boss.on_outlet:
            back = f"make the outlet at least {say_at_least(needed, units)} long, or move the boss back"
        said = (
            f"stands {say_length(boss.at, units)} along {tube}, beyond its end: it is {say_length(length, units)} "
            f"long; {back}"
        )
    found = (boss.at, length or 0.0, said)
    return length_finding(header.draft, f"boss {boss.name}", found, None, rule="boss-place")


def sensor_lean(header: Header) -> Iterator[Finding]:
    """The connector is up, so that condensate runs off."""
    for boss in header.draft.bosses:
        seat = boss_seat(header, boss) if boss.sensor else None
        rise = math.pi / 2 if seat is None else math.asin(max(-1.0, min(1.0, dot(seat.out, header.draft.up))))
        if rise < LEAST_RISE:
            way = "rises" if rise >= 0 else "hangs"
            yield Finding(
                rule="sensor-lean",
                level="error",
                where=f"boss {boss.name}",
                value=round(math.degrees(rise), 2),
                limit=round(math.degrees(LEAST_RISE), 2),
                unit="deg",
                message=f"The boss {boss.name} {way} {say_angle(abs(rise))} from the horizontal; its sensor needs its "
                f"connector up, at least {say_angle(LEAST_RISE)} above the horizontal, so that water runs off it.",
                point=None if seat is None else seat.place,
            )


def sensor_sees(header: Header) -> Iterator[Finding]:
    all_of_them = len(header.primaries)
    for boss in header.draft.bosses:
        seen = len(_ports_into(header, boss.host) if boss.on_outlet else _ports_through(header, boss.host))
        if boss.sensor and seen < all_of_them:
            share = 100 * seen / all_of_them
            yield Finding(
                rule="sensor-sees",
                level="info",
                where=f"boss {boss.name}",
                value=round(share, 1),
                limit=100.0,
                unit="%",
                message=f"The boss {boss.name} has a sensor that samples {seen} of {all_of_them} cylinders, "
                f"{share:.1f} %{_where_all_are(header)}.",
                point=None,
            )


def _where_all_are(header: Header) -> str:
    """The collector through which all cylinders exhaust, as a clause; empty if collectors are separate."""
    collectors = [each for each in header.draft.collectors if not each.mouth]
    last = [each.name for each in collectors if len(_ports_into(header, each.name)) == len(header.primaries)]
    return f"; on the outlet of collector {last[0]} it would sample all of them, 100.0 %" if last else ""


def _ports_into(header: Header, collector: str, known: frozenset[str] = frozenset()) -> set[int]:
    """The ports whose gas goes through a collector, including by way of other collectors."""
    runs = [run.name for run in header.runs if run.end.collector == collector]
    return {port for name in runs for port in _ports_through(header, name, known)}


def _ports_through(header: Header, name: str, known: frozenset[str] = frozenset()) -> set[int]:
    """The ports whose gas goes through a run; branches bring theirs, but a crossover between two runs brings none.

    `known`: runs that are asked already.
    """
    run, known = header.run(name), known | {name}
    branches = {r.name for r in header.runs if r.end.side is not None and r.end.side.run == name}
    found = {
        port for each in branches - known if not _leaves(header, each) for port in _ports_through(header, each, known)
    }
    if run.is_primary:
        return found | {run.number}
    host = _leaves(header, name)
    if host:
        return found | (set() if host in known else _ports_through(header, host, known))
    return found | _ports_into(header, run.source, known)


def _leaves(header: Header, name: str) -> str:
    """The run whose side a run leaves; empty if it begins elsewhere."""
    start = header.run(name).start
    return start.side.run if isinstance(start, Outlet) and start.side is not None else ""
