"""Tubes on the side of others: the joint is where the run is straight, and the branch no wider than the run."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.model import Header
from headergen.model.finding import Finding
from headergen.parts.side import SideFault, side_faults
from headergen.words.say import capital, say_angle, say_length, shown_length

ADVICE = {
    "off": "give at a place that it has",
    "flat": "turn along, or give angle",
    "wide": "take a narrower tube, or let the wider one go through",
    "room": "move at along the run, or lengthen its straight",
}


def sides(header: Header) -> Iterator[Finding]:
    units = header.draft.units
    for fault in side_faults(header):
        is_angle = fault.what == "flat"
        found, limit = (
            round(math.degrees(each), 2) if is_angle else shown_length(each, units)
            for each in (fault.found, fault.required)
        )
        yield Finding(
            rule="branch-place",
            level="error",
            where=fault.joint.run,
            value=found,
            limit=limit,
            unit="deg" if is_angle else units,
            message=f"{_said(fault, units)}; {ADVICE[fault.what]}.",
            point=fault.joint.place,
        )


def _said(fault: SideFault, units: str) -> str:
    joint, host = fault.joint, fault.joint.host
    branch = capital(joint.run)
    verb = "leaves" if joint.at_start else "joins"
    at = f"{say_length(joint.at, units)} from its start"
    if fault.what == "off":
        return f"{branch} {verb} {host} {at}, but {host} is {say_length(fault.required, units)} long"
    if fault.what == "flat":
        least = say_angle(fault.required)
        return (
            f"{branch} and {host} meet at {say_angle(fault.found)}; at least {least} is required to weld between them"
        )
    if fault.what == "wide":
        own, other = say_length(fault.found, units), say_length(fault.required, units)
        return f"{branch} is {own} wide and stands on {host}, which is {other} wide"
    needed, left = say_length(fault.required, units), say_length(fault.found, units)
    return f"{branch} {verb} {host} {at}, {left} from {fault.beside}; its joint needs {needed} of straight tube there"
