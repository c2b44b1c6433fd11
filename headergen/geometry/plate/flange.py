"""The flange plate in its plane: its outline, the holes for tubes and bolts, and the relief slots."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.frames import axes_matrix, dot, point_in, subtract
from headergen.geometry.plate.outline import (
    Outline,
    circle,
    circles_round,
    grown,
    hull,
    moved,
    points_on,
    polygon,
    port_outline,
)
from headergen.model import Draft, Flange, Port, Run, Tube, Vec2

SEAT_GAP = 0.2  # mm on each side between a tube and its socket
WEB = 6.0  # mm of metal between a relief slot and any hole or edge; common practice
SPACING = 0.5  # mm between the points at which a web is measured
ON_OUTLINE = 1e-6  # mm within which a point is on an outline: whether it is inside would be rounding
SQUARE = 1e-9  # sine of a port's lean that counts as none


@dataclass(frozen=True)
class Hole:
    """An opening through the plate, as it is on the gasket face; `what` says what it is for, in shop words."""

    what: str
    outline: Outline


@dataclass(frozen=True)
class Plate:
    """The plate in the flange's x and y, seen from outside the head. `thickness` is that of the finished plate."""

    outline: Outline
    ports: tuple[Hole, ...]
    bolts: tuple[Hole, ...]
    slots: tuple[Hole, ...]
    thickness: float

    @property
    def holes(self) -> tuple[Hole, ...]:
        return (*self.ports, *self.bolts, *self.slots)


@lru_cache(maxsize=64)  # envelopes, rules, sheets and drawings ask for the same few
def plate_of(flange: Flange, tube: Tube) -> Plate:
    """The plate of a flange: the hull of its holes grown by the margin.

    Here and below, `tube` is that of the header, which stands on every port that has none of its own.
    """
    ports = tuple(
        Hole(f"port {port.number}", _in_face(flange, port, hole_outline(flange, port, tube))) for port in flange.ports
    )
    bolts = tuple(Hole(f"bolt {k}", circle(bolt.at, bolt.hole / 2)) for k, bolt in enumerate(flange.bolts, 1))
    openings = [_in_face(flange, port, port_outline(port.shape)) for port in flange.ports]
    around = [hole.outline for hole in (*ports, *bolts)] + openings
    outline = hull(each for one in around for each in circles_round(one, flange.margin))
    bare = Plate(outline, ports, bolts, (), flange.finished)
    return Plate(outline, ports, bolts, tuple(_slots(flange, bare)), flange.finished)


def hole_outline(flange: Flange, port: Port, tube: Tube) -> Outline:
    """The outline of a port's hole, square to the port's axis: round what is seated in it, or the gas passage."""
    tube = port.tube or tube
    if flange.seat == "butt":
        return port_outline(port.shape) if port.transition else circle((0.0, 0.0), tube.radius - tube.wall)
    if port.transition:
        return grown(port_outline(port.shape), tube.wall + SEAT_GAP)
    return circle((0.0, 0.0), tube.radius + SEAT_GAP)


def is_square(flange: Flange, port: Port) -> bool:
    """Whether a port is square to the face."""
    return 1 - dot(flange.frame.z, port.frame.z) < SQUARE


def lean(flange: Flange, port: Port) -> float:
    """Angle between a port and the flange's normal."""
    return math.acos(max(-1.0, min(1.0, dot(flange.frame.z, port.frame.z))))


def seated_from(flange: Flange, port: Port, tube: Tube) -> float:
    """Length along the port from the gasket face to the start of the tube or transition.

    A leaning tube is deeper on one side: it starts farther out, so that no side is nearer to the face.
    """
    angle = lean(flange, port)
    wide = _seated_radius(port, tube)
    return flange.tube_start / math.cos(angle) + (wide * math.tan(angle) if angle > 1e-9 else 0.0)


def far_side(flange: Flange, port: Port, tube: Tube) -> tuple[float, float]:
    """For the tube or transition at a leaning port, sawn square: how far above the gasket face its far side ends, mm.

    Second: how much longer that side would be if it were sawn to the lean, mm.
    """
    angle, across = lean(flange, port), 2 * _seated_radius(port, tube)
    return flange.tube_start + across * math.sin(angle), across * math.tan(angle)


def _seated_radius(port: Port, tube: Tube) -> float:
    """The largest distance (mm) from a port's axis to the outside of the tube or transition there."""
    tube = port.tube or tube
    if not port.transition:
        return tube.radius
    return float(np.linalg.norm(points_on(port_outline(port.shape), 1.0), axis=1).max()) + tube.wall


def transition_lead(flange: Flange, port: Port) -> float:
    """How far a transition keeps the port's shape: up to where all of it has left the plate."""
    return max(flange.finished - flange.tube_start, 0.0) / math.cos(lean(flange, port)) if port.transition else 0.0


def bare_from(flange: Flange, port: Port, tube: Tube) -> float:
    """Length along a primary from the gasket face to where the tube is alone: clear of plate and transition."""
    plate = max(flange.finished - flange.tube_start, 0.0) / math.cos(lean(flange, port))
    return seated_from(flange, port, tube) + plate + port.transition


def tube_from(flange: Flange, port: Port, tube: Tube) -> float:
    """Length along a primary from the gasket face to where its tube begins: in the plate, or after a transition."""
    return seated_from(flange, port, tube) + transition_lead(flange, port) + port.transition


def run_from(draft: Draft, run: Run) -> float:
    """Length along a run to where its tube begins: a primary's as in `tube_from`, any other's at its start."""
    return tube_from(draft.flange_of(run.port), run.port, run.tube) if run.is_primary else 0.0


def _in_face(flange: Flange, port: Port, outline: Outline) -> Outline:
    """An outline across a port's axis, projected along it onto the gasket face; for a leaning port a fine polygon."""
    axes = axes_matrix(flange.frame)
    x, y, _ = axes @ subtract(port.frame.origin, flange.frame.origin)
    if is_square(flange, port):
        return moved(outline, (float(x), float(y)))
    spots: list[Vec2] = []
    for u, v in points_on(outline, SPACING).tolist():
        local = axes @ subtract(point_in(port.frame, (u, v, 0.0)), flange.frame.origin)
        way = axes @ np.array(port.frame.z)
        hit = local - way * (local[2] / way[2])
        spots.append((float(hit[0]), float(hit[1])))
    return polygon(spots)


def _slots(flange: Flange, plate: Plate) -> Iterator[Hole]:
    """Round-ended slots midway between neighbouring ports, as long as WEB on all sides allows."""
    for middle, way, run in slot_runs(flange, plate):
        if run >= flange.relief:
            ends = [(middle[0] + s * run / 2 * way[0], middle[1] + s * run / 2 * way[1]) for s in (-1, 1)]
            yield Hole("relief slot", hull([(*end, flange.relief / 2) for end in ends]))


def slot_runs(flange: Flange, plate: Plate) -> Iterator[tuple[Vec2, Vec2, float]]:
    """Between neighbouring ports: the centre of a relief slot, its direction, and the longest cutter travel, mm.

    No slot is made where the travel is shorter than the slot's width.
    """
    if flange.relief <= 0:
        return
    edge = points_on(plate.outline, SPACING)
    holes = np.concatenate([points_on(hole.outline, SPACING) for hole in (*plate.ports, *plate.bolts)])
    keep_off = np.concatenate([edge, holes])
    for a, b in pairwise(_in_a_row([points_on(hole.outline, SPACING).mean(axis=0) for hole in plate.ports])):
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        apart = math.dist(a, b)
        way = (-(b[1] - a[1]) / apart, (b[0] - a[0]) / apart)
        yield middle, way, 2 * _reach(keep_off, middle, way, flange.relief / 2 + WEB)


def _in_a_row(middles: list[NDArray[np.float64]]) -> list[Vec2]:
    """The centres of ports in their order along the line that fits them best."""
    places = np.array(middles)
    along = np.linalg.svd(places - places.mean(axis=0))[2][0]
    return [(float(x), float(y)) for x, y in places[np.argsort(places @ along, kind="stable")]]


def _reach(keep_off: NDArray[np.float64], middle: Vec2, way: Vec2, off: float) -> float:
    """Half the length of the longest line about `middle` along `way` that stays `off` everything; 0 if none does."""
    along = (keep_off - middle) @ np.array(way)
    beside = np.abs((keep_off - middle) @ np.array((way[1], -way[0])))
    near = beside < off
    if not near.any():
        return float(np.abs(along).max())
    free = np.abs(along[near]) - np.sqrt(off**2 - beside[near] ** 2)
    return max(float(free.min()), 0.0)


def webs(plate: Plate, within: float) -> Iterator[tuple[str, str, float, Vec2]]:
    """The web, mm, between every two port or bolt holes nearer than `within`, and its place.

    Negative where the holes overlap.
    """
    places = [(hole.what, points_on(hole.outline, SPACING)) for hole in (*plate.ports, *plate.bolts)]
    balls = [_ball(each) for _, each in places]
    for k, (what, mine) in enumerate(places):
        for m, (other, theirs) in enumerate(places[k + 1 :], k + 1):
            if math.dist(balls[k][0], balls[m][0]) - balls[k][1] - balls[m][1] > within:
                continue
            apart = np.linalg.norm(mine[:, None] - theirs[None], axis=2)
            i, j = np.unravel_index(int(apart.argmin()), apart.shape)
            between = mine[i] + theirs[j]
            depth = _depth(mine, theirs)
            web = float(apart[i, j]) if depth is None else -depth
            if web < within:
                yield what, other, web, (float(between[0]) / 2, float(between[1]) / 2)


def holes_are_apart(plate: Plate) -> bool:
    """Whether no two holes overlap; if they do, the plate cannot exist."""
    return not any(web < 0.0 for _, _, web, _ in webs(plate, 0.0))


def _ball(places: NDArray[np.float64]) -> tuple[Vec2, float]:
    middle = places.mean(axis=0)
    return (float(middle[0]), float(middle[1])), float(np.linalg.norm(places - middle, axis=1).max())


def _depth(one: NDArray[np.float64], other: NDArray[np.float64]) -> float | None:
    """How far one of two outlines reaches into the other, by the points on both; None if neither does.

    If they coincide, only the centroids are inside.
    """
    for on_one, on_other in ((one, other), (one.mean(axis=0)[None], other.mean(axis=0)[None])):
        depths = [
            float(np.linalg.norm(outline - place, axis=1).min())
            for outline, places in ((one, on_other), (other, on_one))
            for place in places[_inside(outline, places)]
        ]
        if max(depths, default=0.0) > ON_OUTLINE:
            return max(depths)
    return None


def _inside(outline: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of the points are inside the closed polygon `outline` (even-odd rule)."""
    a, b = outline, np.roll(outline, -1, axis=0)
    x, y = places[:, 0, None], places[:, 1, None]
    spans = (a[:, 1] > y) != (b[:, 1] > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    odd: NDArray[np.bool_] = (spans & (x < at)).sum(axis=1) % 2 == 1
    return odd
