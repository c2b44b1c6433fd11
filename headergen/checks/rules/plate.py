"""A flange has enough metal between and around its holes, and room for its relief slots."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.part_findings import length_finding
from headergen.geometry.frames import point_in
from headergen.geometry.plate.flange import WEB, plate_of, slot_runs, webs
from headergen.model import Draft, Flange, Header
from headergen.model.finding import Finding
from headergen.parts.flange import PlateSeat
from headergen.parts.outlet_plate import mouths
from headergen.words.say import say_length, shown_length

LEAST_WEB = 3.0  # mm; common practice, no source


def plate_web(header: Header) -> Iterator[Finding]:
    for name, seat in _plates(header):
        yield from _web(header.draft, name, seat)


def _plates(header: Header) -> Iterator[tuple[str, PlateSeat]]:
    """The plates of heads and outlets, by their names."""
    for flange in header.draft.flanges:
        yield flange.part, PlateSeat(flange, header.draft.tube)
    for mouth in mouths(header):
        yield mouth.name, mouth.plate


def _web(draft: Draft, name: str, seat: PlateSeat) -> Iterator[Finding]:
    units, flange = draft.units, seat.flange
    plate = plate_of(flange, seat.tube)
    ports = {hole.what for hole in plate.ports} if flange in draft.flanges else set()
    for what, other, web, spot in webs(plate, LEAST_WEB):
        if flange not in draft.flanges:
            what, other = (each.replace("port", "opening") for each in (what, other))
        required = f"at least {say_length(LEAST_WEB, units)} is required"
        if web < 0:
            said = f"runs the holes of {what} and {other} into each other, {say_length(-web, units)} deep; {required}"
            if {what, other} <= ports:
                said += "; two ports that share one opening are written as one port, oval or free"
        else:
            said = f"leaves {say_length(web, units)} of web between {what} and {other}; {required}"
        yield Finding(
            rule="plate-web",
            level="error" if web < 0 else "warning",
            where=name,
            value=shown_length(web, units),
            limit=shown_length(LEAST_WEB, units),
            unit=units,
            message=f"The {name} {said}.",
            point=point_in(flange.frame, (*spot, 0.0)),
        )


def plate_edge(header: Header) -> Iterator[Finding]:
    draft = header.draft
    for name, seat in _plates(header):
        flange, margin = seat.flange, seat.flange.margin
        if margin < LEAST_WEB:
            said = (
                f"has an edge distance of {say_length(margin, draft.units)} round its holes; at least "
                f"{say_length(LEAST_WEB, draft.units)} is required"
            )
            found = margin, LEAST_WEB, said
            yield length_finding(draft, name, found, flange.frame.origin, rule="plate-edge", level="warning")


def plate_relief(header: Header) -> Iterator[Finding]:
    """Relief slots are cut where the spec wants them, except between ports that leave no room for one."""
    for flange in header.draft.flanges:
        yield from _relief(header.draft, flange)


def _relief(draft: Draft, flange: Flange) -> Iterator[Finding]:
    for middle, _, run in slot_runs(flange, plate_of(flange, draft.tube)):
        if run < flange.relief:
            off = f"{say_length(WEB, draft.units)} off holes and edge"
            said = (
                "gets no relief slot where two of its ports stand too near to each other or to a bolt: it could run "
                f"{say_length(run, draft.units)}, {off}, and at least its width of "
                f"{say_length(flange.relief, draft.units)} is required"
            )
            point = point_in(flange.frame, (*middle, 0.0))
            found = run, flange.relief, said
            yield length_finding(draft, flange.part, found, point, rule="plate-relief", level="warning")
