"""Tubes on the side of others in print: the fishmouth that sits on the other run, and what that has for it.

The end sits on the print of the run that carries it, as the steel does. Where a tube begins, two pins in the plane of
both axes go into holes of that print, so that it can be pushed on along its axis only. Where a tube ends on another,
the fishmouth alone finds its place, and the groove round it shows where it belongs. Under a fishmouth the other part is
as thick as at its joints, and in one piece.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.curves.sides import SideJoint, fishmouth_height, footprint, highest, on_run
from headergen.geometry.frames import cross, point_in, unit
from headergen.mock.cuts import SOCKET_BOTTOM, Between, least_length
from headergen.mock.joint import END_GAP, SIDES
from headergen.mock.lettering import NOSE, UNDER_LETTERS
from headergen.mock.solid import MockError, placement, prism
from headergen.model import Frame, Header, MockSettings, Run, Vec
from headergen.shop.side_cuts import named_joints
from headergen.words.numbers import with_unit

SEAT_GAP = 0.1  # mm between a fishmouth and the run that it sits on
PIN, PIN_DEPTH = 1.5, 2.5  # mm: largest radius of a pin, and how far it goes into the wall
BURIED = 0.25  # mm of wall beside a pin, at least
BESIDE = 3.0  # mm of the run beyond a fishmouth's rim that stay as thick as its joints
GROOVE_PLACES = 48  # round the groove that shows where a fishmouth sits


class SeatError(MockError):
    """Why a tube on the side of another is not printed."""


@dataclass(frozen=True)
class Branch:
    """What stands on a run: its joint, and the lengths along the run between which its fishmouth sits."""

    joint: SideJoint
    low: float
    high: float


def seats_of(header: Header, run: Run) -> tuple[SideJoint | None, SideJoint | None]:
    """Where a run begins and ends on the side of others; None for an end elsewhere."""
    mine = {joint.at_start: joint for _, joint in named_joints(header) if joint.run == run.name}
    return mine.get(True), mine.get(False)


def branches_of(header: Header, run: Run) -> tuple[Branch, ...]:
    """All that stands on a run."""
    mine = (joint for _, joint in named_joints(header) if joint.host == run.name)
    return tuple(Branch(joint, *footprint(joint)) for joint in mine)


def kept_whole(branches: Sequence[Branch], settings: MockSettings, from_both_ends: bool) -> tuple[Between, ...]:
    """The lengths of a run between which its print is in one piece: no socket is under a fishmouth."""
    socket = settings.spigot + END_GAP + SOCKET_BOTTOM + BESIDE
    before = socket if from_both_ends else BESIDE
    return tuple((each.low - before, each.high + socket) for each in branches)


def middle_cut(free: Between, settings: MockSettings) -> float:
    """Where a run that ends on another is cut if nothing else cuts it: its last part is printed the other way round.

    `free`: what is left of it between its fishmouths. Raises SeatError if both parts would be too short.
    """
    low, high = free
    if high - low < 2 * least_length(settings, True):
        raise SeatError(f"{with_unit(high - low, settings.units, 0)} between its ends are too short for two parts")
    return (low + high) / 2


def fishmouth_of(joint: SideJoint) -> Manifold:
    """What the run takes out of the end that sits on it, in engine axes."""
    low, high = (at - joint.at for at in footprint(joint))
    more = joint.branch.outside_diameter
    section = CrossSection.circle(joint.tube.radius + SEAT_GAP, 4 * SIDES)
    return prism(section, low - more, high + more).transform(placement(_along_run(joint)))


def pins_of(joint: SideJoint, settings: MockSettings) -> Manifold:
    """The pins of a beginning on a run, in engine axes."""
    return _rods(joint, settings, 0.0, PIN_DEPTH)


def seat_cuts(joint: SideJoint, settings: MockSettings) -> list[Manifold]:
    """What is cut out of a run for a tube on it, in engine axes: the groove round it, and the holes for its pins."""
    groove = [_groove(joint)]
    return [*groove, _rods(joint, settings, 2 * SEAT_GAP, PIN_DEPTH + 0.5)] if joint.at_start else groove


def _rods(joint: SideJoint, settings: MockSettings, wider: float, depth: float) -> Manifold:
    """Rods along the branch in the least wall that it has there, `depth` into the run's wall."""
    wall = settings.wall + UNDER_LETTERS
    radius, at = min(PIN, wall / 2 - BURIED), joint.branch.radius - wall / 2
    top, rods = highest(joint) + 1.0, []
    for turn in (0.0, math.pi):
        low = fishmouth_height(joint, turn, at) - depth / math.sin(joint.angle)
        rod = prism(CrossSection.circle(radius + wider, SIDES // 2), low, top)
        rods.append(rod.translate((at * math.cos(turn), 0.0, 0.0)))
    return Manifold.batch_boolean(rods, OpType.Add).transform(placement(joint.across))


def _groove(joint: SideJoint) -> Manifold:
    """A line round the fishmouth on the run's skin, in engine axes."""
    facing = _along_run(joint)
    beads = [
        Manifold.sphere(NOSE, 8).translate(_on_skin(joint, facing, 2 * math.pi * k / GROOVE_PLACES))
        for k in range(GROOVE_PLACES)
    ]
    links = (Manifold.batch_hull([bead, after]) for bead, after in zip(beads, [*beads[1:], beads[0]], strict=True))
    return Manifold.batch_boolean(list(links), OpType.Add)


def _on_skin(joint: SideJoint, facing: Frame, turn: float) -> Vec:
    round_it, along = on_run(joint, turn)
    radius = joint.tube.radius
    return point_in(facing, (radius * math.cos(round_it), -radius * math.sin(round_it), along))


def _along_run(joint: SideJoint) -> Frame:
    """At the place of the joint, z along the run and x toward the branch; turns of `on_run` go from x away from y."""
    left = unit(cross(joint.way, joint.out))
    return Frame(joint.place, cross(left, joint.way), left, joint.way)


def turned_round(branches: Iterable[Branch], length: float) -> Iterator[Branch]:
    """As seen from the end of the run, whose `length` is given."""
    yield from (Branch(each.joint, length - each.high, length - each.low) for each in branches)
