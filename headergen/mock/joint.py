"""The dimensions of a spigot and its socket, and their solids.

The bore of a steel tube is wider than the socket in a print of the same outside diameter can be. So the spigot has a
thin core, which fits the printed socket, and short ribs out to the steel bore, which go into notches of the socket. The
notch at the witness line is open to the outside, so that the rib shows; the others leave the skin whole where that is
as thick as the wall of a tube. Only beside the notches is the socket a full ring; behind them the wall of the tube goes
on, with fins in to the spigot. In a bend the axis of a socket leaves the centre of the tube; there, core and ribs are
thinner by as much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import cross
from headergen.mock.keys import Turns, key_turns
from headergen.mock.solid import MockError, prism
from headergen.model import Centreline, Frame, MockSettings, Tube
from headergen.words.numbers import with_unit

RIB_LENGTH, RIB_WIDTH, RIB_HEIGHT = 4.0, 4.0, 1.2
POINTER = 2.5  # mm wide and deep
END_GAP = 0.4  # between the tip of a spigot and the bottom of its socket, so that the faces meet first
NOTCH_DEPTH, NOTCH_BEYOND = RIB_LENGTH + END_GAP, 2.0  # of a socket's notches: from its face; beyond the tube's skin
FULL_RING = RIB_LENGTH + END_GAP / 2  # of a socket, from its face, that is a full ring but for the notches
TOE = 2.5  # mm in from the wall of a socket, and as much along it; its cutter leaves it a slope of 45°
FIN_TURN = math.radians(50)  # from fin to fin of a socket, about
CHAMFER = 0.8
LEAST_BORE = 1.5  # radius; a thinner tube needs another method
LEAST_RIB_TURN = math.radians(40)
RIBS_APART = 4.0  # mm of wall between two ribs, at least
SHEARED = 0.5  # of the width of a rib: the least that must be sheared off before a wrong spigot fits
SIDES = 96  # of the circle of a spigot; its sagitta is a hundredth of a millimetre


@dataclass(frozen=True)
class JointFit:
    """Radii of one joint: `tip` of its ribs, `core` of its spigot, `cavity` of its socket; `turns`: None if no key.

    `notch`: how far out the notches go that leave the skin whole; None if all go through it.
    """

    tip: float
    core: float
    cavity: float
    length: float
    gap: float
    turns: Turns | None
    notch: float | None = None

    @property
    def depth(self) -> float:
        """From the face of the socket to where its walls begin to close."""
        return self.length + END_GAP

    @property
    def rib_angles(self) -> tuple[float, ...]:
        return () if self.turns is None else (0.0, *self.turns)


def keys_for(count: int, core: float, gap: float, letter: str = "") -> tuple[Turns, ...]:
    """Keys for spigots with a core of at least this radius, on the bank with this letter.

    Even turned to the best fit, a wrong spigot has two ribs whose misses differ by a step; the gap on one side of each
    allows some of that. Raises MockError if there are not that many keys.
    """
    width = rib_width(core)
    least_turn = max(LEAST_RIB_TURN, (width + RIBS_APART) / core)
    return key_turns(count, least_turn, (SHEARED * width + 2 * gap) / core, letter)


def rib_width(core: float) -> float:
    """The width of a rib: smaller on thin spigots, so that there is room for enough different keys."""
    return min(RIB_WIDTH, core / 3)


def fit_at(
    line: Centreline,
    at: float,
    tube: Tube,
    settings: MockSettings,
    turns: Turns | None,
    slimmer: tuple[float, float] = (0.0, 0.0),
) -> JointFit:
    """The joint at a length from the flange; the socket is in the part before it.

    `slimmer`: how much thinner than the tube that part is, over the spigot and over its ribs. Raises MockError if the
    tube is too thin for spigots.
    """
    reach = zip((settings.spigot + END_GAP, RIB_LENGTH), slimmer, strict=True)
    sag, rib_sag = (leaves_the_axis(line, at, length) + less for length, less in reach)
    bore = tube.radius - tube.wall
    tip = bore - settings.gap - rib_sag
    core = min(tube.radius - settings.wall - settings.gap - sag, bore - settings.gap - sag, tip - RIB_HEIGHT)
    if core - settings.wall < LEAST_BORE:
        raise MockError(f"{line.run}: a spigot at {with_unit(at, settings.units)} from the flange would be too slim")
    notch = tube.radius - settings.tube_wall - rib_sag if tube.wall >= settings.tube_wall else None
    return JointFit(tip, core, core + settings.gap, settings.spigot, settings.gap, turns, notch)


def leaves_the_axis(line: Centreline, at: float, length: float) -> float:
    """Deviation of the centreline before a place (after it, if the length is negative) from the tangent there.

    What is before the start of a run, the outlet of a collector, is straight.
    """
    point, tangent, _ = frame_at(line, at)
    offsets = np.array([frame_at(line, max(at - length * k / 8, 0.0))[0] for k in range(1, 9)]) - np.array(point)
    beside = offsets - (offsets @ np.array(tangent))[:, None] * np.array(tangent)
    return float(np.linalg.norm(beside, axis=1).max())


def spigot(fit: JointFit, back: float) -> Manifold:
    """Core and ribs in the joint's axes: toward −z, from `back` inside the part. The bore is cut later."""
    profile = [(0, back), (0, -fit.length), (fit.core - CHAMFER, -fit.length), (fit.core, CHAMFER - fit.length)]
    core = Manifold.revolve(CrossSection([[*profile, (fit.core, back)]]), SIDES)
    return Manifold.batch_boolean([core, *(prism(rib, -RIB_LENGTH, back) for rib in ribs(fit))], OpType.Add)


def ribs(fit: JointFit) -> list[CrossSection]:
    """The sections of a spigot's ribs, the one at the witness line first."""
    return [_rib(fit, angle, 0.0, fit.tip) for angle in fit.rib_angles]


def socket(fit: JointFit, radius: float, bore: float) -> Manifold:
    """The cutter of a part for the spigot, in the joint's axes: from beyond its face toward −z.

    The bottom closes at 45°, so that the part can be printed on its face without support.
    """
    inner = max(bore - 1.0, 0.0)
    closed = -fit.depth - (fit.cavity - inner)
    cavity = CrossSection([[(0, 1.0), (0, closed), (inner, closed), (fit.cavity, -fit.depth), (fit.cavity, 1.0)]])
    through = radius + NOTCH_BEYOND
    reach = through if fit.notch is None else fit.notch
    notches = [
        prism(_rib(fit, angle, fit.gap, reach if angle else through), -NOTCH_DEPTH, 1.0) for angle in fit.rib_angles
    ]
    if fit.turns is None:  # the scale for the degree marks of the next part
        notches = [prism(bar(0.0, POINTER / 2, fit.core - 1.5, radius + NOTCH_BEYOND), -POINTER, 1.0)]
    return Manifold.batch_boolean([Manifold.revolve(cavity, SIDES), *notches], OpType.Add)


def fins(fit: JointFit, radius: float, width: float, low: float) -> Manifold:
    """What a socket has behind its full ring in the joint's axes: bars from the wall in to the spigot, between the
    notches, so that each stands on the ring, with toes below its tip, which stop an adapter. `radius`: of the tube's
    outside; `low`: where they begin, if not with their toes."""
    turns = [0.0, *sorted(turn % (2 * math.pi) for turn in fit.rib_angles if turn), 2 * math.pi]
    places = []
    for before, after in pairwise(turns):
        count = max(1, round((after - before) / FIN_TURN))
        places += [before + (after - before) * (k + 0.5) / count for k in range(count)]
    bars = [bar(place, width / 2, fit.cavity - 0.5, radius + NOTCH_BEYOND) for place in places]
    toes = [bar(place, width / 2, fit.cavity - TOE, radius + NOTCH_BEYOND) for place in places]
    below = prism(CrossSection.batch_boolean(toes, OpType.Add), min(low, -fit.depth - TOE), -fit.depth)
    return prism(CrossSection.batch_boolean(bars, OpType.Add), low, 0.0) + below


def degree_marks(radius: float) -> list[Manifold]:
    """Grooves round the end of a part whose joint has no key, 10° apart, the longest one at the witness line."""
    grooves = []
    for degrees in range(0, 360, 10):
        length = 6.0 if degrees == 0 else 4.0 if degrees % 90 == 0 else 2.5
        groove = bar(math.radians(degrees), 0.4, radius - 0.6, radius + 1.0)
        grooves.append(prism(groove, -1.0, length))
    return grooves


def _rib(fit: JointFit, angle: float, gap: float, outer: float) -> CrossSection:
    """A bar from inside the core out to a circle."""
    return bar(angle, rib_width(fit.core) / 2 + gap, fit.core - 1.5, outer)


def bar(angle: float, half_width: float, inner: float, outer: float) -> CrossSection:
    """A radial bar between two circles, in section."""
    made = CrossSection.square((outer + 1.0, 2 * half_width)).translate((0.0, -half_width))
    return (made.rotate(math.degrees(angle)) - CrossSection.circle(inner, SIDES)) ^ CrossSection.circle(outer, SIDES)


def joint_frame(line: Centreline, at: float) -> Frame:
    """Axes of a joint: z along the travel, x toward the witness line."""
    point, tangent, normal = frame_at(line, at)
    toward = cross(normal, tangent)
    return Frame(point, toward, normal, tangent)
