"""The fit coupon, printed first: one spigot, and rings with sockets of several gaps, each marked with its gap."""

from __future__ import annotations

import math
from dataclasses import replace

from manifold3d import CrossSection, Manifold, OpType

from headergen.mock.cuts import SOCKET_BOTTOM
from headergen.mock.joint import RIB_HEIGHT, SIDES, JointFit, keys_for, socket, spigot
from headergen.mock.lettering import HEIGHT, on_round, text_solid
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.solid import prism
from headergen.model import Frame, MockSettings, Tube

STEPS = (-0.1, -0.05, 0.0, 0.05, 0.1)  # mm around the set gap
LEAST_GAP = 0.05
STUB = 14.0  # mm of tube under the spigot
AXES = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))


def coupon_parts(tube: Tube, settings: MockSettings) -> tuple[MockPart, ...]:
    """The spigot and its rings, as they stand on the bed. The spigot is also tried in the steel tube itself.

    Raises UnsoundPartError if one is not sound.
    """
    bore = tube.radius - tube.wall
    tip = bore - settings.gap
    core = min(tube.radius - settings.wall - settings.gap, tip - RIB_HEIGHT)
    [turns] = keys_for(1, core, settings.gap)
    fit = JointFit(tip, core, core + settings.gap, settings.spigot, settings.gap, turns)
    gaps = [settings.gap + step for step in STEPS if settings.gap + step > LEAST_GAP - 1e-9]
    return (_stub(fit, tube.radius, settings), *(_ring(fit, gap, tube.radius, settings) for gap in gaps))


def _stub(fit: JointFit, radius: float, settings: MockSettings) -> MockPart:
    body = prism(CrossSection.circle(radius, SIDES), 0.0, STUB) + spigot(fit, 3.0)
    return _standing("coupon spigot", body - _bore(fit, settings, -fit.length, STUB))


def _ring(fit: JointFit, gap: float, radius: float, settings: MockSettings) -> MockPart:
    wide = replace(fit, cavity=fit.core + gap, gap=gap)
    middle = -(wide.depth + SOCKET_BOTTOM + 1.0 + HEIGHT / 2)
    far = middle - HEIGHT / 2 - 2.0
    figures = f"{gap:.2f}"
    away = [_bore(fit, settings, far, 0.0), socket(wide, radius, fit.core - settings.wall)]
    away += [bar.translate((0.0, 0.0, middle)) for bar in text_solid(figures, on_round(radius, math.pi, 0.0))]
    body = prism(CrossSection.circle(radius, SIDES), far, 0.0)
    return _standing(f"coupon ring {figures}", Manifold.batch_boolean([body, *away], OpType.Subtract))


def _bore(fit: JointFit, settings: MockSettings, low: float, high: float) -> Manifold:
    return prism(CrossSection.circle(fit.core - settings.wall, SIDES), low - 1.0, high + 1.0)


def _standing(name: str, solid: Manifold) -> MockPart:
    """Turned over, because joints point the other way: a spigot up, a socket down on the bed."""
    over = solid.rotate((180.0, 0.0, 0.0))
    low = over.bounding_box()[2]
    return MockPart(name, (), (), sound_mesh(name, over.translate((0.0, 0.0, -low))), AXES, 0.0, kind="coupon")
