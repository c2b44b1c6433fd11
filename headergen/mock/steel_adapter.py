"""Steel adapters for joints at which steel follows plastic: one end in the printed socket, the other in the steel bore.

A steel tube has no spigot. The adapter's own half has the joint's key. The other half fits the tube with the same gap,
and the faces of plastic and steel meet over its middle. The rib at the witness line has a groove, visible through its
notch, to which the line of the steel is set.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.frames import point_in, scaled
from headergen.mock.joint import (
    CHAMFER,
    LEAST_BORE,
    RIB_HEIGHT,
    RIB_LENGTH,
    SIDES,
    JointFit,
    bar,
    joint_frame,
    leaves_the_axis,
    rib_width,
    ribs,
)
from headergen.mock.lettering import HEIGHT, on_round, text_solid, text_width
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.solid import MockError, inverse, placement, prism
from headergen.mock.strength import sections_at
from headergen.model import Centreline, Frame, MockSettings, Tube
from headergen.words.numbers import with_unit

LETTERS, LETTERS_FROM_END = 6.0, 2.0  # mm: their height, at most, and their room above and below
GROOVE = 1.2  # mm, width of the groove in the rib at the witness line
GROOVE_DEPTH = 0.7
BESIDE = 1.5  # mm from letters to ribs
LEAST_HOLLOW = 0.8  # mm wide, behind a rib


def adapter_length(settings: MockSettings) -> float:
    """How far an adapter reaches into the steel, mm."""
    return max(settings.spigot, LETTERS + 2 * LETTERS_FROM_END)


def adapter_part(
    name: str, line: Centreline, place: tuple[float, JointFit], tube: Tube, settings: MockSettings
) -> MockPart:
    """The adapter of the joint at a length from the flange, standing on its end in the steel.

    Raises MockError if the tube is too thin for it, UnsoundPartError if it is not sound.
    """
    at, fit = place
    length = adapter_length(settings)
    steel = _in_steel(line, at, length, (fit, tube, settings))
    bore = min(fit.core, steel.core) - settings.tube_wall
    if bore < LEAST_BORE:
        raise MockError(
            f"{line.run}: a steel adapter at {with_unit(at, settings.units)} from the flange would be too slim"
        )
    parts = [_core(fit, steel), _widening(steel) ^ _upper_ribs(fit)]
    parts += [prism(rib, -0.5, length) ^ _ramp(steel) for rib in ribs(steel)]
    away = [prism(CrossSection.circle(bore, SIDES), -fit.length - 1.0, length + 1.0)]
    away += [*_groove(fit, steel), *_letters(name, steel, length), *_hollows(fit, steel, bore, settings)]
    solid = Manifold.batch_boolean([Manifold.batch_boolean(parts, OpType.Add), *away], OpType.Subtract)
    frame = joint_frame(line, at)
    base = point_in(frame, (0.0, 0.0, length))
    home = Frame(base, frame.x, scaled(frame.y, -1.0), scaled(frame.z, -1.0))
    standing = solid.transform(placement(frame)).transform(inverse(home))
    level = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    halves = [(length + fit.length / 2, fit.length), (length / 2, length)]
    stations = [(line.run, replace(level, origin=(0.0, 0.0, z)), long) for z, long in halves]
    sections = sections_at(standing, stations, tube.radius)
    least = min(section.area for section in sections)
    joint = Frame((0.0, 0.0, length), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))
    mesh = sound_mesh(name, standing)
    return MockPart(name, (line.run,), (), mesh, home, least, joint, sections=sections, kind="steel adapter")


def _in_steel(line: Centreline, at: float, length: float, given: tuple[JointFit, Tube, MockSettings]) -> JointFit:
    """The half beyond the joint: like a spigot there, thinner where the tube bends away."""
    fit, tube, settings = given
    room = min(length, line.length - at)
    sag, rib_sag = (leaves_the_axis(line, at, -along) for along in (room, RIB_LENGTH))
    bore = tube.radius - tube.wall - settings.gap
    tip = bore - rib_sag
    turns = fit.turns or (math.pi / 2, math.pi, 3 * math.pi / 2)
    return JointFit(tip, min(fit.core, bore - sag, tip - RIB_HEIGHT), fit.cavity, length, settings.gap, turns)


def _core(fit: JointFit, steel: JointFit) -> Manifold:
    """Both halves; if the one in the socket is wider, it widens at 45°, so that there is no overhang."""
    lower, upper = steel.core, fit.core
    profile = [(0.0, -fit.length), (upper - CHAMFER, -fit.length), (upper, CHAMFER - fit.length)]
    profile += [(upper, lower - upper), (lower, 0.0), (lower, steel.length - CHAMFER)]
    profile += [(lower - CHAMFER, steel.length), (0.0, steel.length)]
    return Manifold.revolve(CrossSection([profile]), SIDES)


def _upper_ribs(fit: JointFit) -> Manifold:
    return Manifold.batch_boolean([prism(rib, -RIB_LENGTH, 0.0) for rib in ribs(fit)], OpType.Add)


def _widening(steel: JointFit) -> Manifold:
    """The cone that widens at 45° from the tips of the ribs in the steel."""
    high = RIB_LENGTH + 1.0
    profile = [(0.0, -high), (steel.tip + high, -high), (steel.tip, 0.0), (0.0, 0.0)]
    return Manifold.revolve(CrossSection([profile]), SIDES)


def _ramp(steel: JointFit) -> Manifold:
    """The limit at 45° where ribs end in the steel: they lead in, and there is no overhang."""
    high = RIB_LENGTH + steel.tip - steel.core
    profile = [(0.0, -1.0), (steel.core + high + 1.0, -1.0), (steel.core, high), (0.0, high)]
    return Manifold.revolve(CrossSection([profile]), SIDES)


def _groove(fit: JointFit, steel: JointFit) -> list[Manifold]:
    """Along the rib at the witness line, as far as its notch shows it."""
    if fit.turns is None:
        return []
    section = bar(0.0, GROOVE / 2, fit.tip - GROOVE_DEPTH, max(fit.tip, steel.tip) + 1.0)
    return [prism(section, -RIB_LENGTH - 1.0, 0.0)]


def _hollows(fit: JointFit, steel: JointFit, bore: float, settings: MockSettings) -> list[Manifold]:
    """Behind the ribs, but for the grooved one: the wall follows them, and closes again at 45° above and below."""
    wide, reach = rib_width(steel.core) - 2 * settings.tube_wall, min(fit.tip, steel.tip) - settings.tube_wall
    deep = reach - bore
    if wide < LEAST_HOLLOW or not 0.0 < deep < RIB_LENGTH:
        return []
    inner = bore - 1.0
    profile = [(inner, -RIB_LENGTH), (bore, -RIB_LENGTH), (reach, deep - RIB_LENGTH), (reach, RIB_LENGTH - deep)]
    profile += [(bore, RIB_LENGTH), (inner, RIB_LENGTH)]
    upright = prism(CrossSection([profile]), -wide / 2, wide / 2).rotate((90.0, 0.0, 0.0))
    return [upright.rotate((0.0, 0.0, math.degrees(angle))) for angle in steel.rib_angles[1:]]


def _letters(name: str, steel: JointFit, length: float) -> list[Manifold]:
    """The name between the two ribs that are farthest apart, upright as the adapter stands."""
    angles = [*steel.rib_angles, 2 * math.pi]
    gap, first = max((after - before, before) for before, after in pairwise(angles))
    room = gap * steel.core - rib_width(steel.core) - 2 * BESIDE
    height = min(LETTERS, HEIGHT * room / text_width(name))
    surface = on_round(steel.core, first + gap / 2, length / 2)
    return text_solid(name, surface, height)
