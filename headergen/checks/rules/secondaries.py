"""Secondaries can be bent, do not cross themselves, and end on their bores, straight for as far as they go in."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.checks.measure import measure_end
from headergen.checks.part_findings import length_finding
from headergen.checks.rules.bends import SAME_RADIUS
from headergen.checks.words import say_angle, say_length
from headergen.finding import Finding
from headergen.geometry.secondary import own_crossing, secondary_line, tight_bends
from headergen.model import Bend, Draft, End, Header, Secondary, Straight


def secondaries(header: Header) -> Iterator[Finding]:
    for each in header.secondaries:
        end = measure_end(each.path, secondary_line(each))
        yield from _shape(header.draft, each)
        yield from _end(header.draft, each, end)
        yield from _straight_in(header.draft, each, end)


def _shape(draft: Draft, secondary: Secondary) -> Iterator[Finding]:
    for number, bend in tight_bends(secondary):
        said = (
            f"has in step {number} a centre-line radius of {say_length(bend.radius, draft.units)}, less than half its "
            f"width ({say_length(secondary.tube.radius, draft.units)}); no solid is made of it"
        )
        tight = bend.radius, secondary.tube.radius, said
        yield length_finding(draft, secondary.name, tight, None, rule="secondary-bend")
    wide = secondary.tube.outside_diameter
    for number, step in enumerate(secondary.steps, 1):
        if isinstance(step, Bend) and wide / 2 <= step.radius < wide - SAME_RADIUS:
            said = (
                f"has in step {number} a centre-line radius of {say_length(step.radius, draft.units)}, less than its "
                f"width ({say_length(wide, draft.units)}); bends that tight are hardly sold"
            )
            found = step.radius, wide, said
            yield length_finding(draft, secondary.name, found, None, rule="secondary-bend", level="warning")
    near = own_crossing(secondary)
    if near is not None:
        said = (
            f"runs into itself: two places of its middle are {say_length(near, draft.units)} apart, and it is "
            f"{say_length(wide, draft.units)} wide; no solid is made of it"
        )
        yield length_finding(draft, secondary.name, (near, wide, said), None, rule="secondary-crossing")


def _end(draft: Draft, secondary: Secondary, end: End) -> Iterator[Finding]:
    limits, bore = draft.limits, f"bore {secondary.bore.number} of collector {secondary.bore.collector}"
    miss = math.hypot(end.along, end.across)
    if miss > limits.end_position:
        side = "past" if end.along > 0 else "short of"
        said = (
            f"misses {bore} by {say_length(miss, draft.units)} ({say_length(end.across, draft.units)} beside it, "
            f"{say_length(abs(end.along), draft.units)} {side} the collector plane); "
            f"{say_length(limits.end_position, draft.units)} allowed"
        )
        found = miss, limits.end_position, said
        yield length_finding(draft, secondary.name, found, end.point, rule="secondary-end")
    if end.angle > limits.end_angle:
        said = f"arrives {say_angle(end.angle)} off the axis of {bore}; {say_angle(limits.end_angle)} allowed"
        yield Finding(
            rule="secondary-end",
            level="error",
            where=secondary.name,
            value=round(math.degrees(end.angle), 2),
            limit=round(math.degrees(limits.end_angle), 2),
            unit="deg",
            message=f"The {secondary.name} {said}.",
            point=end.point,
        )


def _straight_in(draft: Draft, secondary: Secondary, end: End) -> Iterator[Finding]:
    collector = next(each for each in draft.collectors if each.name == secondary.bore.collector)
    last = secondary.steps[-1]
    straight = last.length if isinstance(last, Straight) else 0.0
    if straight < collector.slip:
        said = (
            f"is straight for {say_length(straight, draft.units)} at its end, and goes "
            f"{say_length(collector.slip, draft.units)} into collector {collector.name}"
        )
        found = straight, collector.slip, said
        yield length_finding(draft, secondary.name, found, end.point, rule="secondary-slip")
