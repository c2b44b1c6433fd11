"""Joints of tubes on the side of others: what stops them, and what is cut out of branch and run for the sound ones."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from headergen.geometry.curves.sides import SideJoint, footprint, side_joints
from headergen.geometry.frames import add
from headergen.model import Centreline, Header, Run, Vec
from headergen.parts.run_place import bare_about

FLATTEST = math.radians(20)  # between two tubes: under it no torch reaches into the crotch of their joint
ROUNDING = 1e-6  # mm, radians


@dataclass(frozen=True)
class SideFault:
    """Why a joint cannot be made: what of it is `found` where `required` is the limit (mm, or radians of an angle).

    `beside`: what ends the bare straight of the run nearest to the joint.
    """

    joint: SideJoint
    what: Literal["off", "flat", "wide", "room"]
    found: float
    required: float
    beside: str = ""


@dataclass(frozen=True)
class SideCut:
    """A cylinder cut out of a tube: the run's outside out of a branch, or a branch's bore out of the run's wall."""

    start: Vec
    way: Vec
    radius: float
    length: float


def side_faults(header: Header) -> Iterator[SideFault]:
    """The first fault of each joint that has one."""
    lines = {run.name: (run, line) for run, line in header.tubes}
    for joint in side_joints(header.tubes):
        fault = _fault(header, joint, *lines[joint.host])
        if fault is not None:
            yield fault


def _fault(header: Header, joint: SideJoint, host: Run, line: Centreline) -> SideFault | None:
    if joint.at > line.length + ROUNDING:
        return SideFault(joint, "off", joint.at, line.length)
    flat = min(joint.angle, math.pi - joint.angle)
    if flat < FLATTEST - ROUNDING:
        return SideFault(joint, "flat", flat, FLATTEST)
    wide = joint.branch.outside_diameter
    if wide > joint.tube.outside_diameter + ROUNDING:
        return SideFault(joint, "wide", wide, joint.tube.outside_diameter)
    low, high = footprint(joint)
    room, beside = bare_about(header, host, line, joint.at)
    required = max(joint.at - low, high - joint.at)
    return SideFault(joint, "room", max(room, 0.0), required, beside) if room < required - ROUNDING else None


def sound_joints(header: Header) -> tuple[SideJoint, ...]:
    """The joints that can be made."""
    faulty = {(fault.joint.run, fault.joint.at_start) for fault in side_faults(header)}
    return tuple(each for each in side_joints(header.tubes) if (each.run, each.at_start) not in faulty)


def side_cuts(joints: Iterator[SideJoint] | tuple[SideJoint, ...], run: str) -> tuple[SideCut, ...]:
    """What is cut out of the tube of a run: the run that it stands on, and the bores of what stands on it."""
    return tuple(_skin(j) if j.run == run else _bore(j) for j in joints if run in (j.run, j.host))


def _skin(joint: SideJoint) -> SideCut:
    """The outside of the run, as far along it as the branch reaches."""
    low, high = (at - joint.at for at in footprint(joint))
    beyond = joint.branch.outside_diameter
    start = add(joint.place, joint.way, low - beyond)
    return SideCut(start, joint.way, joint.tube.radius, high - low + 2 * beyond)


def _bore(joint: SideJoint) -> SideCut:
    """The branch's bore, from the run's axis outward until it is past the run's wall everywhere."""
    radius = joint.branch.radius - joint.branch.wall
    past = (joint.tube.radius + joint.branch.radius) / math.sin(joint.angle)
    return SideCut(joint.place, joint.out, radius, past)
