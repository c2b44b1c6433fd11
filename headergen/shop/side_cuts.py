"""The ends of tubes that stand on the side of others: templates of each fishmouth and hole, and how they are used."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.geometry.curves.sides import SideJoint, fishmouth_height, on_run
from headergen.geometry.frames import cross, unit
from headergen.model import CutTemplate, Header, HoleTemplate
from headergen.parts.side import sound_joints
from headergen.shop.angled_cuts import ABOVE_BASE, PLACES
from headergen.words.say import say_angle, say_length, say_way


def fishmouth_templates(header: Header) -> Iterator[CutTemplate]:
    """B1, B2, … with the bank's letter, one for each end of a tube on the side of another.

    The witness line is on the side toward the other run's direction. Heights count toward that run's axis, as they do
    toward the cut in every template.
    """
    for name, joint in named_joints(header):
        heights = [-fishmouth_height(joint, 2 * math.pi * k / PLACES) for k in range(PLACES)]
        base = min(heights) - ABOVE_BASE
        above = tuple(height - base for height in heights)
        radius, at_start = joint.branch.radius, joint.at_start
        yield CutTemplate(name, joint.host, "fishmouth", radius, 1, base, above, run=joint.run, at_start=at_start)


def hole_templates(header: Header) -> Iterator[HoleTemplate]:
    """One for the hole under each fishmouth, by the same name."""
    for name, joint in named_joints(header):
        side = joint.tube.radius, joint.at, unit(cross(joint.way, cross(joint.out, joint.way)))
        bore = joint.branch.radius - joint.branch.wall
        edges = (tuple(on_run(joint, 2 * math.pi * k / PLACES, r) for k in range(PLACES)) for r in (bore, None))
        yield HoleTemplate(name, joint.run, joint.host, *side, *edges)


def named_joints(header: Header) -> Iterator[tuple[str, SideJoint]]:
    """The joints that can be made, each with the name of its templates."""
    for number, joint in enumerate(sound_joints(header), 1):
        yield f"{header.draft.letter}B{number}", joint


def fouls_inside(joint: SideJoint) -> float:
    """How much farther, in mm, the edge inside the wall reaches than the one outside, at most: to be ground off."""
    inside = joint.branch.radius - joint.branch.wall
    turns = (2 * math.pi * k / PLACES for k in range(PLACES))
    return max(fishmouth_height(joint, turn, inside) - fishmouth_height(joint, turn) for turn in turns)


def notes_on_sides(header: Header) -> Iterator[str]:
    units = header.draft.units
    for name, joint in named_joints(header):
        end = "start" if joint.at_start else "end"
        bore = say_length(joint.branch.outside_diameter - 2 * joint.branch.wall, units)
        ground = say_length(fouls_inside(joint), units)
        yield (
            f"{joint.run}: its {end} is a fishmouth on {joint.host}, at {say_angle(joint.angle)} to it. Saw its piece "
            f"square, as long as listed, which is to the axis of {joint.host}. Then cut it by template {name}, "
            f"its witness line on the side toward the end of {joint.host}, and "
            f"bevel the inside by up to {ground}, until it sits."
        )
        yield (
            f"{joint.host}: a hole of {bore} for {joint.run}, {say_length(joint.at, units)} from its start along the "
            f"middle, on the side that faces {say_way(joint.out)} as the engine stands. Mark it by the template of "
            f"the hole of {name}, try the finished fishmouth on it, and cut it before both are tacked."
        )
