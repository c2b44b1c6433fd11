"""The nipple that joins the last part of a run to the one before it, where the run ends on the side of another.

That last part stands on the bed the other way round, with its fishmouth up, so both parts have a socket there. A nipple
has a spigot for each, with a key of its own.
"""

from __future__ import annotations

import math
from itertools import pairwise

from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.frames import point_in, scaled
from headergen.mock.joint import CHAMFER, LEAST_BORE, RIB_LENGTH, SIDES, JointFit, rib_width, ribs
from headergen.mock.lettering import HEIGHT, on_round, text_solid, text_width
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.solid import MockError, inverse, placement, prism, seen_in
from headergen.mock.strength import section_at
from headergen.model import Frame, MockSettings

APART = 0.1  # mm from the plane where both parts meet to the ribs on either side
BESIDE = 1.5  # mm from letters to ribs
UNDER_LETTERS = 0.6  # mm of wall added: as deep as letters are


def nipple_part(
    name: str, run: str, ends: tuple[tuple[Frame, JointFit], tuple[Frame, JointFit]], settings: MockSettings
) -> MockPart:
    """The nipple, standing on the end that goes into the last part.

    `ends`: the joint of the part before, then that of the last part: z of either frame points out of its socket.

    Raises MockError if the tube is too thin for it, UnsoundPartError if it is not sound.
    """
    (frame, before), (last_frame, last) = ends
    bore = min(before.core, last.core) - settings.tube_wall - UNDER_LETTERS
    if bore < LEAST_BORE:
        raise MockError(f"{run}: the nipple {name} would be too slim")
    upper = _half(before, _widening(before)).transform(placement(frame))
    lower = _half(last, _pointed(last)).transform(placement(last_frame))
    length = before.length + last.length + 2.0
    through = prism(CrossSection.circle(bore, SIDES), -before.length - 1.0, length).transform(placement(frame))
    joined = prism(CrossSection.circle(bore + settings.tube_wall, SIDES), -1.0, 1.0).transform(placement(frame))
    letters = [letter.transform(placement(frame)) for letter in _letters(name, before)]
    solid = Manifold.batch_boolean([upper + lower + joined, through, *letters], OpType.Subtract)
    home = Frame(point_in(frame, (0.0, 0.0, last.length)), frame.x, scaled(frame.y, -1.0), scaled(frame.z, -1.0))
    standing = solid.transform(inverse(home))
    places = (last.length / 2, last.length + before.length / 2)
    level = (Frame((0.0, 0.0, z), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)) for z in places)
    least = min(section_at(standing, each, before.tip + 1.0).area for each in level)
    return MockPart(name, (run,), (), sound_mesh(name, standing), home, least, seen_in(home, frame), kind="nipple")


def _half(fit: JointFit, limit: Manifold) -> Manifold:
    """One spigot with its ribs, in the joint's axes, from the plane of the joint toward −z."""
    profile = [(0.0, -fit.length), (fit.core - CHAMFER, -fit.length), (fit.core, CHAMFER - fit.length)]
    core = Manifold.revolve(CrossSection([[*profile, (fit.core, 0.0), (0.0, 0.0)]]), SIDES)
    rods = (prism(rib, -RIB_LENGTH, -APART) ^ limit for rib in ribs(fit))
    return Manifold.batch_boolean([core, *rods], OpType.Add)


def _widening(fit: JointFit) -> Manifold:
    """Ribs that stand above the plane of the joint come out of the core at 45°."""
    high = fit.tip - fit.core + 1.0
    profile = [(0.0, -RIB_LENGTH), (fit.core + high, -RIB_LENGTH), (fit.core + high, -high), (fit.core, 0.0)]
    return Manifold.revolve(CrossSection([[*profile, (0.0, 0.0)]]), SIDES)


def _pointed(fit: JointFit) -> Manifold:
    """Those below it do so at their far ends."""
    high = fit.tip - fit.core + 1.0
    profile = [(0.0, -RIB_LENGTH), (fit.core, -RIB_LENGTH), (fit.core + high, high - RIB_LENGTH)]
    return Manifold.revolve(CrossSection([[*profile, (fit.core + high, 0.0), (0.0, 0.0)]]), SIDES)


def _letters(name: str, fit: JointFit) -> list[Manifold]:
    """The name between the two ribs that are farthest apart, upright as the nipple stands."""
    angles = [*(fit.rib_angles or (0.0,)), 2 * math.pi]
    gap, first = max((after - before, before) for before, after in pairwise(angles))
    room = gap * fit.core - rib_width(fit.core) - 2 * BESIDE
    height = HEIGHT * min(1.0, room / text_width(name))
    return text_solid(name, on_round(fit.core, first + gap / 2, -fit.length / 2), height)
