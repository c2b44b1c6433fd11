"""Closed plane outlines of lines and arcs: the shapes of ports, holes and plates, with exact areas and perimeters.

Outlines run counter-clockwise. Millimetres and radians.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from headergen.geometry.arrays import Array
from headergen.model import PortShape, Vec2

SAME = 1e-9  # mm within which two points of an outline are the same
LEAST_SWEEP = 1e-9  # radians


@dataclass(frozen=True)
class Edge:
    """A straight edge, or, with a `centre`, an arc that turns by `sweep` (counter-clockwise positive)."""

    start: Vec2
    end: Vec2
    centre: Vec2 | None = None
    sweep: float = 0.0

    @property
    def radius(self) -> float:
        return 0.0 if self.centre is None else math.dist(self.start, self.centre)

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end) if self.centre is None else self.radius * abs(self.sweep)

    def at(self, share: float) -> Vec2:
        """The point of the edge at a share of its length."""
        if self.centre is None:
            return (_mix(self.start[0], self.end[0], share), _mix(self.start[1], self.end[1], share))
        return _turned(self.start, self.centre, self.sweep * share)


Outline = tuple[Edge, ...]


def circle(centre: Vec2, radius: float) -> Outline:
    """Two half arcs."""
    east, west = (centre[0] + radius, centre[1]), (centre[0] - radius, centre[1])
    return (Edge(east, west, centre, math.pi), Edge(west, east, centre, math.pi))


def is_circle(outline: Outline) -> bool:
    return all(edge.centre is not None and edge.centre == outline[0].centre for edge in outline)


def polygon(corners: Sequence[Vec2]) -> Outline:
    """Straight edges through the corners, reversed if they are not counter-clockwise."""
    made = tuple(Edge(a, b) for a, b in pairwise([*corners, corners[0]]))
    return made if area(made) > 0 else polygon(list(reversed(corners)))


def port_outline(shape: PortShape) -> Outline:
    """The opening about its own centre, in the flange's x and y, turned as the spec says.

    oval: two half circles and their tangents, the longer axis along its larger size. d: flat below (toward −y) with
    rounded corners, and above it an arc from side to side: half a circle where the height allows that, else a flatter
    arc of the full width.
    """
    size = shape.size
    if shape.kind == "round":
        made = circle((0.0, 0.0), size[0] / 2)
    elif shape.kind == "oval":
        made = hull([(*place, min(size) / 2) for place in _oval_middles(size)])
    elif shape.kind == "rectangle":
        made = _rounded([(-1, -1), (1, -1), (1, 1), (-1, 1)], size)
    elif shape.kind == "d":
        made = _d_outline(*size)
    else:
        made = polygon(shape.points)
    return moved(made, (0.0, 0.0), shape.turn)


def _oval_middles(size: tuple[float, ...]) -> list[Vec2]:
    reach = abs(size[0] - size[1]) / 2
    return [(-reach, 0.0), (reach, 0.0)] if size[0] >= size[1] else [(0.0, -reach), (0.0, reach)]


def _rounded(corners: Sequence[tuple[int, int]], size: tuple[float, ...]) -> Outline:
    width, height, corner = size
    if corner <= SAME:
        return polygon([(i * width / 2, j * height / 2) for i, j in corners])
    return hull([(i * (width / 2 - corner), j * (height / 2 - corner), corner) for i, j in corners])


def _d_outline(width: float, height: float, corner: float) -> Outline:
    half, low, high = width / 2, -height / 2, height / 2
    rise = min(half, height - corner)  # height of the arc above its ends
    radius = (half**2 + rise**2) / (2 * rise)
    centre = (0.0, high - radius)
    shoulder = high - rise
    spread = 2 * math.atan2(half, shoulder - centre[1]) if radius > half + SAME else math.pi
    right, left = (half, shoulder), (-half, shoulder)
    edges = [Edge(right, left, centre, spread), Edge(left, (-half, low + corner))]
    if corner > SAME:
        edges.append(Edge((-half, low + corner), (-half + corner, low), (-half + corner, low + corner), math.pi / 2))
    edges.append(Edge((-half + corner, low), (half - corner, low)))
    if corner > SAME:
        edges.append(Edge((half - corner, low), (half, low + corner), (half - corner, low + corner), math.pi / 2))
    edges.append(Edge((half, low + corner), right))
    return tuple(edge for edge in edges if edge.length > SAME)


def moved(outline: Outline, by: Vec2, turn: float = 0.0) -> Outline:
    """The outline turned about the origin, then moved."""

    def there(place: Vec2) -> Vec2:
        x, y = _turned(place, (0.0, 0.0), turn) if turn else place
        return (x + by[0], y + by[1])

    return tuple(
        Edge(there(e.start), there(e.end), None if e.centre is None else there(e.centre), e.sweep) for e in outline
    )


def hull(circles: Iterable[tuple[float, float, float]]) -> Outline:
    """The convex hull of circles (x, y, radius): their outer common tangents and arcs between them.

    The walk starts at the lowest circle and always goes on to the one whose common tangent turns least to the left.
    """
    left = _not_swallowed(list(dict.fromkeys(circles)))
    if len(left) == 1:
        x, y, radius = left[0]
        return circle((x, y), radius)
    first = min(range(len(left)), key=lambda k: (left[k][1] - left[k][2], left[k][0]))
    arrivals: list[tuple[int, float]] = []  # circle, and the direction of the tangent that arrives at it
    heading, at = 0.0, first
    while True:
        turn, after = min((_left_turn(heading, _tangent(left[at], left[k])), k) for k in range(len(left)) if k != at)
        heading, at = heading + turn, after
        if arrivals and heading >= arrivals[0][1] + 2 * math.pi - SAME:  # all the way round
            return _hull_edges(left, arrivals)
        arrivals.append((at, heading))


def _hull_edges(circles: list[tuple[float, float, float]], arrivals: list[tuple[int, float]]) -> Outline:
    edges: list[Edge] = []
    spots: list[tuple[Vec2, Vec2]] = []
    for (before, _), (at, heading) in pairwise([arrivals[-1], *arrivals]):
        side = (math.sin(heading), -math.cos(heading))  # the outside of a counter-clockwise walk is on its right
        a, b = circles[before], circles[at]
        spots.append(((a[0] + a[2] * side[0], a[1] + a[2] * side[1]), (b[0] + b[2] * side[0], b[1] + b[2] * side[1])))
    for k, (at, heading) in enumerate(arrivals):
        after = arrivals[(k + 1) % len(arrivals)][1]
        sweep = (after - heading) % (2 * math.pi)
        edges.append(Edge(*spots[k]))
        if circles[at][2] > SAME and sweep > LEAST_SWEEP:
            edges.append(Edge(spots[k][1], spots[(k + 1) % len(spots)][0], circles[at][:2], sweep))
    return tuple(edge for edge in edges if edge.length > SAME)


def _not_swallowed(circles: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """The circles that are not wholly inside another; of equal ones the first."""
    x, y, radius = np.array(circles).T
    reaches = np.hypot(x[:, None] - x, y[:, None] - y) <= radius - radius[:, None] + SAME
    earlier = np.arange(len(x)) < np.arange(len(x))[:, None]
    within = reaches & ((radius > radius[:, None] + SAME) | earlier)
    return [circle for circle, is_within in zip(circles, within.any(axis=1), strict=True) if not is_within]


def _tangent(a: tuple[float, float, float], b: tuple[float, float, float]) -> float:
    """Direction of the outer tangent from a to b that has both on its left."""
    apart = math.dist(a[:2], b[:2])
    lean = math.asin(max(-1.0, min(1.0, (b[2] - a[2]) / apart)))
    return math.atan2(b[1] - a[1], b[0] - a[0]) - lean


def _left_turn(heading: float, goal: float) -> float:
    turn = (goal - heading) % (2 * math.pi)
    return 0.0 if turn > 2 * math.pi - 1e-12 else turn


def grown(outline: Outline, by: float) -> Outline:
    """The outward offset of a convex outline by `by`; sharp corners are rounded with that radius."""
    made: list[Edge] = []
    for edge, after in pairwise([*outline, outline[0]]):
        start, end = _beside(edge, 0.0, by), _beside(edge, 1.0, by)
        made.append(Edge(start, end, edge.centre, edge.sweep))
        corner = math.remainder(_heading(after, 0.0) - _heading(edge, 1.0), 2 * math.pi)
        if corner > LEAST_SWEEP:
            made.append(Edge(end, _beside(after, 0.0, by), edge.end, corner))
    return tuple(edge for edge in made if edge.length > SAME)


def _beside(edge: Edge, share: float, by: float) -> Vec2:
    """The point `by` outside the point at a share of an edge: on the right of its direction."""
    (x, y), heading = edge.at(share), _heading(edge, share)
    return (x + by * math.sin(heading), y - by * math.cos(heading))


def is_convex(outline: Outline) -> bool:
    """Whether the outline never turns clockwise, at a corner or along an arc, and goes round once."""
    turn = 0.0
    for before, after in pairwise([*outline, outline[0]]):
        corner = math.remainder(_heading(after, 0.0) - _heading(before, 1.0), 2 * math.pi)
        if corner < -1e-9 or after.sweep < 0.0:
            return False
        turn += corner + after.sweep
    return abs(turn - 2 * math.pi) < 1e-6


def _heading(edge: Edge, share: float) -> float:
    if edge.centre is None:
        return math.atan2(edge.end[1] - edge.start[1], edge.end[0] - edge.start[0])
    x, y = edge.at(share)
    quarter = math.copysign(math.pi / 2, edge.sweep)
    return math.atan2(y - edge.centre[1], x - edge.centre[0]) + quarter


def area(outline: Outline) -> float:
    """mm², by Green's theorem: the polygon of the ends, plus the segment r²(sweep − sin sweep)/2 of each arc."""
    polygon_area = sum(e.start[0] * e.end[1] - e.end[0] * e.start[1] for e in outline) / 2
    return polygon_area + sum(e.radius**2 * (e.sweep - math.sin(e.sweep)) / 2 for e in outline if e.centre is not None)


def perimeter(outline: Outline) -> float:
    """The length all round, mm."""
    return sum(edge.length for edge in outline)


def points_on(outline: Outline, spacing: float) -> Array:
    """(n, 2) points along the outline at most `spacing` apart, with the ends of every edge among them."""
    return np.array(
        [
            edge.at(k / count)
            for edge in outline
            for count in [max(1, math.ceil(edge.length / spacing))]
            for k in range(count)
        ]
    )


def bounds(outline: Outline) -> tuple[Vec2, Vec2]:
    """Lowest and highest x and y."""
    places = [edge.start for edge in outline]
    for edge in outline:
        if edge.centre is not None:
            begin = math.atan2(edge.start[1] - edge.centre[1], edge.start[0] - edge.centre[0])
            turns = [k * math.pi / 2 for k in range(4)]
            places += [
                (edge.centre[0] + edge.radius * math.cos(turn), edge.centre[1] + edge.radius * math.sin(turn))
                for turn in turns
                if ((turn - begin) * math.copysign(1.0, edge.sweep)) % (2 * math.pi) <= abs(edge.sweep)
            ]
    xs, ys = zip(*places, strict=True)
    return (min(xs), min(ys)), (max(xs), max(ys))


def circles_round(outline: Outline, margin: float) -> list[tuple[float, float, float]]:
    """Circles whose hull is the hull of an outline grown by a margin; a flat arc is replaced by points on it."""
    found: list[tuple[float, float, float]] = []
    for edge in outline:
        if edge.centre is not None and abs(edge.sweep) >= math.pi / 2 - SAME and _stays_within(edge, outline):
            found.append((*edge.centre, edge.radius + margin))
            continue
        count = 1 if edge.centre is None else max(2, math.ceil(abs(edge.sweep) / math.radians(4)))
        found += [(*edge.at(k / count), margin) for k in range(count + 1)]
    return found


def _stays_within(edge: Edge, outline: Outline) -> bool:
    """Whether the whole circle of an arc is inside the outline's bounding box."""
    assert edge.centre is not None
    low, high = bounds(outline)
    within = zip(low, edge.centre, high, strict=True)
    return all(at - edge.radius >= least - SAME and at + edge.radius <= most + SAME for least, at, most in within)


def _mix(a: float, b: float, share: float) -> float:
    return a + (b - a) * share


def _turned(place: Vec2, centre: Vec2, angle: float) -> Vec2:
    c, s = math.cos(angle), math.sin(angle)
    x, y = place[0] - centre[0], place[1] - centre[1]
    return (centre[0] + c * x - s * y, centre[1] + s * x + c * y)
