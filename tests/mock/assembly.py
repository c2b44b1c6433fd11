"""A mock put together by what is found on the parts' own meshes: stop faces, ribs, notches. No frame of the code's."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold, Mesh64

from headergen.geometry.mesh.triangles import Points, TriangleMesh
from headergen.mock.part import MockPart
from headergen.model import Frame

Place = tuple[Points, Points]  # rotation (3, 3) and shift (3,): engine = rotation @ part + shift


def manifold(mesh: TriangleMesh, place: Place | None = None) -> Manifold:
    made = Manifold(Mesh64(np.array(mesh.vertices, order="C"), np.array(mesh.faces, np.uint64, order="C")))
    return made if place is None else made.transform(np.column_stack(place))


@dataclass(frozen=True, eq=False)
class End:
    """One end as its mesh has it: middle and direction of travel of the flat face, bearings of ribs or notches."""

    middle: Points
    travel: Points
    x: Points
    bearings: tuple[float, ...]


def flat_face(mesh: TriangleMesh, near: Frame, radius: float, outward: float) -> tuple[Points, Points, Points]:
    """Middle, normal and area-weighted facets of the flat face in a neighbourhood of where the code says it is.

    The neighbourhood is 1 mm and 2°, so a wrong frame is found out and not repeated.
    """
    triangles = mesh.triangles
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    area = np.linalg.norm(normal, axis=1) / 2
    direction = normal / np.maximum(2 * area, 1e-12)[:, None]
    local = triangles.mean(axis=1) - np.array(near.origin)
    high = local @ np.array(near.z)
    beside = np.linalg.norm(local - high[:, None] * np.array(near.z), axis=1)
    picked = (direction @ np.array(near.z) * outward > math.cos(math.radians(2))) & (abs(high) < 1) & (beside < radius)
    weight = area[picked]
    facing = (direction[picked] * weight[:, None]).sum(axis=0)
    facing /= np.linalg.norm(facing)
    centre = (triangles[picked].mean(axis=1) * weight[:, None]).sum(axis=0) / weight.sum()
    return centre, facing, triangles[picked]


def circle_middle(points: Points) -> Points:
    """(2,) middle of the circle through points in a plane, by least squares (Kåsa's fit)."""
    rows = np.column_stack([2 * points, np.ones(len(points))])
    solved = np.linalg.lstsq(rows, (points**2).sum(axis=1), rcond=None)[0]
    return np.asarray(solved[:2])


def end_of(mesh: TriangleMesh, near: Frame, radius: float, depth: float, spigot: bool) -> End:
    """The end at a spigot (ribs) or a socket (notches), read from a slice `depth` beyond its flat face."""
    outward = -1.0 if spigot else 1.0
    through, facing, corners = flat_face(mesh, near, radius + 1, outward)
    travel = facing * outward
    x = np.array(near.x) - (np.array(near.x) @ travel) * travel
    x /= np.linalg.norm(x)
    axes = np.column_stack([x, np.cross(travel, x), travel])
    flat = (corners.reshape(-1, 3) - through) @ axes
    rim = flat[np.hypot(flat[:, 0], flat[:, 1]) > 0][:, :2]
    guess = (np.array(near.origin) - through) @ axes[:, :2]
    outer = rim[abs(np.linalg.norm(rim - guess, axis=1) - radius) < 0.06]
    middle = through + axes[:, :2] @ circle_middle(outer)
    local = manifold(mesh, (axes.T, -axes.T @ middle))
    section = local.slice(-depth)
    return End(middle, travel, x, _bearings(section, radius, spigot))


def _bearings(section: CrossSection, radius: float, spigot: bool) -> tuple[float, ...]:
    """Middles of the ribs of a spigot, or of the gaps of a socket's wall near its spigot, in the slice."""
    near = section ^ CrossSection.circle(radius + 2, 256)
    reach = [np.linalg.norm(polygon, axis=1) for polygon in near.to_polygons()]
    if spigot:
        found = near - CrossSection.circle(max(float(each.max()) for each in reach) - 0.4, 256)
    else:
        cavity = min(float(each.min()) for each in reach)
        found = CrossSection.circle(cavity + 0.8, 256) - CrossSection.circle(cavity + 0.4, 256) - near
    middles = []
    for piece in found.decompose():
        if piece.area() > 0.2:
            points = np.concatenate(piece.to_polygons())
            rough = math.atan2(*points.mean(axis=0)[::-1])
            spread = [math.remainder(math.atan2(y, x) - rough, 2 * math.pi) for x, y in points]
            middles.append(math.remainder(rough + (min(spread) + max(spread)) / 2, 2 * math.pi))
    return tuple(sorted(middles))


def turn_between(ribs: tuple[float, ...], notches: tuple[float, ...]) -> list[tuple[float, float]]:
    """Rotations that take each rib to a notch, with the worst miss of the best matching, least first."""
    found = []
    for notch in notches:
        turn = notch - ribs[0]
        misses = [min(abs(math.remainder(rib + turn - other, 2 * math.pi)) for other in notches) for rib in ribs]
        offsets = [min((math.remainder(other - rib - turn, 2 * math.pi) for other in notches), key=abs) for rib in ribs]
        found.append((max(misses), turn + sum(offsets) / len(offsets)))
    return sorted(found)


def place_after(spigot: End, socket: End, before: Place) -> Place:
    """Where the part with this spigot stands once it is in the socket of a part that stands at `before`."""
    rotation, shift = before
    middle, travel, x = rotation @ socket.middle + shift, rotation @ socket.travel, rotation @ socket.x
    turn = turn_between(spigot.bearings, socket.bearings)[0][1] if spigot.bearings else 0.0
    turned = math.cos(turn) * x + math.sin(turn) * np.cross(travel, x)
    theirs = np.column_stack([turned, np.cross(travel, turned), travel])
    mine = np.column_stack([spigot.x, np.cross(spigot.travel, spigot.x), spigot.travel])
    made = theirs @ mine.T
    return made, middle - made @ spigot.middle


def home(part: MockPart) -> Place:
    frame = part.home
    return np.column_stack([frame.x, frame.y, frame.z]), np.array(frame.origin)
