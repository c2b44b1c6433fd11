"""The ruled surface from a port's shape to its round tube: points on one ruling, and the flow area along it.

The two outlines are matched by direction from their common centre, so nothing is twisted: every edge of the port's
outline leads to the arc of the tube's circle at the same angles.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from headergen.geometry.arrays import Array, polygon_area
from headergen.geometry.plate.outline import Edge, Outline, area, grown, perimeter, port_outline
from headergen.model import PortShape, Tube

WIDEST = math.pi / 2  # of an edge, as seen from the centre
STATIONS = 20  # along a transition, at which areas are reported
PLACES = 24  # points on each edge by which a section between the two ends is measured
LEVELS = 8  # rows of facets from end to end: neighbouring rulings are not in one plane


def matched(outline: Outline, radius: float) -> tuple[Outline, Outline]:
    """The outline in edges that each span at most a quarter turn, and a circle about the origin cut at the same angles.

    The outline must be convex, counter-clockwise, and contain the origin.
    """
    edges = tuple(part for edge in outline for part in _parts(edge))
    arcs = []
    for edge in edges:
        angles = [math.atan2(y, x) for x, y in (edge.start, edge.end)]
        sweep = (angles[1] - angles[0]) % (2 * math.pi)
        start, end = ((radius * math.cos(angle), radius * math.sin(angle)) for angle in angles)
        arcs.append(Edge(start, end, (0.0, 0.0), sweep))
    return edges, tuple(arcs)


def _parts(edge: Edge) -> list[Edge]:
    (ax, ay), (bx, by) = edge.start, edge.end
    seen = math.atan2(ax * by - ay * bx, ax * bx + ay * by) % (2 * math.pi)
    count = max(1, math.ceil(seen / WIDEST - 1e-9))
    places = [edge.at(k / count) for k in range(count + 1)]
    places[0], places[-1] = edge.start, edge.end
    return [Edge(a, b, edge.centre, edge.sweep / count) for a, b in pairwise(places)]


def skin_triangles(shape: PortShape, tube: Tube, lengths: tuple[float, float]) -> Array:
    """(n, 3, 3) triangles of its outside, about the port's axis: straight for the first of `lengths`, then to the tube.

    Chords across the arcs (PLACES on each) and LEVELS of facets make them off by a few hundredths of a millimetre.
    """
    lead, length = lengths
    stacked = _rings(matched_places(shape, tube), 0.0 if lead > 0 else None, (lead, lead + length))
    found = []
    for low, high in pairwise(stacked):
        low_next, high_next = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
        found += [np.stack([low, low_next, high_next], axis=1), np.stack([low, high_next, high], axis=1)]
    return np.concatenate(found)


def outside_rings(shape: PortShape, tube: Tube, levels: tuple[float, float, float]) -> Array:
    """(levels, n, 3) points round its outside, in rings along the port's axis.

    It has the port's shape from the first to the second of `levels`, then leads to the tube's circle at the third.
    """
    return np.array(_rings(matched_places(shape, tube), levels[0], levels[1:]))


def narrowest(shape: PortShape, tube: Tube, share: float) -> float:
    """The least distance of its outside from the axis at a share of the way from port to tube, mm."""
    port, circle = matched_places(shape, tube)
    return float(np.linalg.norm((1 - share) * port + share * circle, axis=1).min())


def widest(shape: PortShape, tube: Tube) -> float:
    """The largest distance of its outside from the axis, mm."""
    return max(float(np.linalg.norm(matched_places(shape, tube)[0], axis=1).max()), tube.radius)


def matched_places(shape: PortShape, tube: Tube) -> tuple[Array, Array]:
    """(n, 2) points of the outside at the port, and (n, 2) at the tube, on the same rulings."""
    edges, arcs = matched(grown(port_outline(shape), tube.wall), tube.radius)
    port, circle = (np.array([e.at(k / PLACES) for e in side for k in range(PLACES)]) for side in (edges, arcs))
    return port, circle


def _rings(ends: tuple[Array, Array], before: float | None, levels: tuple[float, float]) -> list[Array]:
    """(n, 3) points round it, level by level, from the port's shape (also at `before`, if given) to the circle."""
    port, circle = ends
    low, high = levels
    shares = [k / LEVELS for k in range(LEVELS + 1)]
    rings = [((1 - share) * port + share * circle, low + share * (high - low)) for share in shares]
    rings = rings if before is None else [(port, before), *rings]
    return [np.column_stack([places, np.full(len(places), z)]) for places, z in rings]


def section_areas(shape: PortShape, tube: Tube) -> Array:
    """(STATIONS + 1, 2): share of the way from port to tube, and the flow area there, mm²."""
    edges, arcs = matched(port_outline(shape), tube.radius - tube.wall)
    start, end = (np.array([e.at(k / PLACES) for e in side for k in range(PLACES)]) for side in (edges, arcs))
    found = []
    for share in np.linspace(0.0, 1.0, STATIONS + 1).tolist():
        found.append((share, polygon_area((1 - share) * start + share * end)))
    found[0], found[-1] = (0.0, area(port_outline(shape))), (1.0, math.pi * (tube.radius - tube.wall) ** 2)
    return np.array(found)


def stretch(shape: PortShape, tube: Tube) -> float:
    """The strain of a tube formed to the port's perimeter: ratio of both at mid wall, less 1; negative if shrunk."""
    port, around = rounds(shape, tube)
    return port / around - 1


def rounds(shape: PortShape, tube: Tube) -> tuple[float, float]:
    """The perimeters of the port and of the tube at mid wall, mm."""
    return perimeter(grown(port_outline(shape), tube.wall / 2)), math.pi * (tube.outside_diameter - tube.wall)


def largest_step(shape: PortShape, tube: Tube) -> float:
    """The largest step between the edge of the port and the bore of the tube, on one centre, mm."""
    return max(abs(radius - (tube.radius - tube.wall)) for radius in _radii(shape))


def farthest(shape: PortShape) -> float:
    """The largest distance of the port's edge from its centre, mm."""
    return max(_radii(shape))


def _radii(shape: PortShape) -> list[float]:
    """The distances of the edge from the centre, at its corners and at points between them."""
    edges, _ = matched(port_outline(shape), 1.0)
    return [math.hypot(*edge.at(k / PLACES)) for edge in edges for k in range(PLACES)]
