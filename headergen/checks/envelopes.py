"""The parts beside the tubes as simple envelopes: flange, slip sleeves, merge, outlet, and their gaps.

No kernel is needed to know that a merge reaches into an engine mount. The flange is a box round its ports and bolts,
a sleeve and an outlet are cylinders, the merge is a frustum round the bores down to the outlet at its half angle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from headergen.geometry.between import body_to_body, body_to_plane
from headergen.geometry.body import Array, Body, distance_to_body, points_along, surface_point, tube_body
from headergen.geometry.boxes import box_mesh
from headergen.geometry.centreline import trace
from headergen.geometry.convex import (
    Frustum,
    SignedDistance,
    box_distance,
    frustum_above_plane,
    frustum_distance,
    least_along_body,
    least_over_triangles,
    nearest_point,
)
from headergen.geometry.frames import add, axes_matrix, point_in
from headergen.geometry.mesh import TriangleMesh
from headergen.geometry.triangles import body_to_triangles, nearest_on_triangles, winding_number
from headergen.model import (
    Box,
    ChassisItem,
    Collector,
    Draft,
    Frame,
    Header,
    PartGap,
    Plane,
    Straight,
    Vec,
)

FLANGE_MARGIN = 12.0  # mm of plate beyond ports and bolt holes; common practice, no source
SLIDING_GAP = 0.3  # mm a side between tube and sleeve, as in the default pitch of bores

Found = tuple[float, Array, Array]  # value, point of the part, point of the item


@dataclass(frozen=True, eq=False)
class Envelope:
    """A part by one of two shapes: a round body, or a convex one with its signed distance and its solid."""

    name: str
    solid: Body | Box | Frustum
    collector: str = ""  # whose own tubes belong in it


def envelopes(draft: Draft) -> Iterator[Envelope]:
    """Every part of a draft beside its tubes, as far as the spec says it."""
    yield Envelope("flange", _flange_box(draft))
    for collector in draft.collectors:
        sleeve = draft.tube.radius + SLIDING_GAP + draft.tube.wall if collector.slip > 0 else draft.tube.radius
        if collector.slip > 0:
            for bore in collector.bores:
                name = f"slip sleeve of bore {bore.number} of collector {collector.name}"
                yield Envelope(name, _rod(bore.frame, -collector.slip, 0.0, sleeve), collector.name)
        merge = _merge(collector, sleeve)
        if merge is not None:
            yield Envelope(f"merge of collector {collector.name}", merge, collector.name)
            if collector.outlet_length > 0:
                outlet = _rod(collector.frame, merge.length, merge.length + collector.outlet_length, merge.end)
                yield Envelope(f"outlet of collector {collector.name}", outlet, collector.name)


def _flange_box(draft: Draft) -> Box:
    """Round all openings and holes with a margin, its back on the face of the head."""
    flange, axes = draft.flange, axes_matrix(draft.flange.frame)
    origin = np.array(flange.frame.origin)
    corners = []
    for port in flange.ports:
        at = (axes @ (np.array(port.frame.origin) - origin))[:2]
        half = (
            np.array([port.shape.size[0], port.shape.size[1] if len(port.shape.size) > 1 else port.shape.size[0]]) / 2
        )
        corners += [at - half, at + half]
    for bolt in flange.bolts:
        corners += [np.array(bolt.at) - bolt.hole / 2, np.array(bolt.at) + bolt.hole / 2]
    low, high = np.min(corners, axis=0) - FLANGE_MARGIN, np.max(corners, axis=0) + FLANGE_MARGIN
    middle = (low + high) / 2
    centre = point_in(flange.frame, (float(middle[0]), float(middle[1]), flange.thickness / 2))
    size = (float(high[0] - low[0]), float(high[1] - low[1]), flange.thickness)
    return Box(Frame(centre, flange.frame.x, flange.frame.y, flange.frame.z), size)


def _rod(frame: Frame, start: float, end: float, radius: float) -> Body:
    begins = Frame(add(frame.origin, frame.z, start), frame.x, frame.y, frame.z)
    return tube_body(trace(begins, [Straight(end - start)]), radius)


def _merge(collector: Collector, sleeve: float) -> Frustum | None:
    if collector.half_angle is None or collector.outlet is None:
        return None
    wide = max(math.dist(bore.frame.origin, collector.frame.origin) for bore in collector.bores) + sleeve
    narrow = min(collector.outlet / 2, wide)
    return Frustum(collector.frame, wide, narrow, (wide - narrow) / math.tan(collector.half_angle))


def part_gaps(
    header: Header, meshes: Mapping[str, TriangleMesh], round_items: Mapping[str, list[Body]]
) -> Iterator[PartGap]:
    """The gap of every envelope to every chassis item that may be too near, and to the tubes of other collectors.

    What a ball round the part shows to be farther than its clearance is left out: there may be dozens of parts.
    `meshes` by item name, boxes included; `round_items` the bodies of cylinders, lines and other headers.
    """
    draft = header.draft
    for part in envelopes(draft):
        for item in draft.chassis:
            if part.name == "flange" and item.free_from_flange > 0:
                continue  # it stands on the head, as the flange does
            mesh, bodies = meshes.get(item.name), round_items.get(item.name, [])
            if _may_be_near(part, item, mesh, bodies):
                yield _item_gap(part, item, mesh, bodies)
        yield from _tube_gaps(header, part)


def _may_be_near(part: Envelope, item: ChassisItem, mesh: TriangleMesh | None, bodies: list[Body]) -> bool:
    centre, reach = _ball(part.solid)
    if item.role == "enclosure" or isinstance(item.shape, Plane):
        return True
    if mesh is not None:
        nearest = nearest_on_triangles(mesh.triangles, np.broadcast_to(centre, (len(mesh.faces), 3)))
        distance = float(np.linalg.norm(nearest - centre, axis=1).min())
        return distance - reach < item.clearance or (mesh.closed and winding_number(mesh.triangles, centre) > 0.5)
    return any(distance_to_body(body, centre[None])[0][0] - reach < item.clearance for body in bodies)


def _ball(solid: Body | Box | Frustum) -> tuple[Array, float]:
    """Centre and radius of a ball round a part."""
    if isinstance(solid, Box):
        return np.array(solid.frame.origin), math.dist((0.0, 0.0, 0.0), solid.size) / 2
    if isinstance(solid, Frustum):
        middle = add(solid.frame.origin, solid.frame.z, solid.length / 2)
        return np.array(middle), math.hypot(solid.length / 2, max(solid.start, solid.end))
    low, high = solid.span
    return points_along(solid, np.array([(low + high) / 2]))[0], math.hypot((high - low) / 2, solid.radius)


def _item_gap(part: Envelope, item: ChassisItem, mesh: TriangleMesh | None, bodies: list[Body]) -> PartGap:
    if mesh is not None:
        found = _to_triangles(part, mesh.triangles)
    elif isinstance(item.shape, Plane):
        found = _to_plane(part, item.shape)
    else:
        found = min((_to_body(part, body) for body in bodies), key=lambda each: each[0])
    inside = False
    if mesh is not None and mesh.closed and found[0] > 0 and item.role != "surface":
        within = winding_number(mesh.triangles, found[1]) > 0.5
        inside = within if item.role == "obstacle" else not within
    value = -found[0] if inside else found[0]
    return PartGap(part.name, item.name, item.clearance, value, (_vec(found[1]), _vec(found[2])), inside)


def _tube_gaps(header: Header, part: Envelope) -> Iterator[PartGap]:
    """A collector keeps off the tubes that go elsewhere; all tubes leave from the flange."""
    if not part.collector:
        return
    radius, required = header.draft.tube.radius, header.draft.limits.between_tubes
    for primary, line in zip(header.primaries, header.centrelines, strict=True):
        if primary.bore.collector != part.collector:
            value, mine, theirs = _to_body(part, tube_body(line, radius))
            yield PartGap(part.name, f"primary {primary.number}", required, value, (_vec(mine), _vec(theirs)))


def _signed_distance(part: Envelope) -> SignedDistance:
    assert not isinstance(part.solid, Body)
    return box_distance(part.solid) if isinstance(part.solid, Box) else frustum_distance(part.solid)


def _to_triangles(part: Envelope, triangles: Array) -> Found:
    if isinstance(part.solid, Body):
        nearest = body_to_triangles(part.solid, triangles)
        return nearest.value, surface_point(part.solid, nearest.at, nearest.point), nearest.point
    distance = _signed_distance(part)
    value, point = least_over_triangles(distance, triangles)
    return value, nearest_point(distance, point, value), point


def _to_body(part: Envelope, body: Body) -> Found:
    if isinstance(part.solid, Body):
        nearest, _ = body_to_body(part.solid, body)
        return nearest.value, surface_point(part.solid, nearest.at, nearest.point), nearest.point
    distance = _signed_distance(part)
    value, point = least_along_body(distance, body)
    return value, nearest_point(distance, point, value), point


def _to_plane(part: Envelope, plane: Plane) -> Found:
    normal = np.array(plane.normal)
    if isinstance(part.solid, Body):
        nearest = body_to_plane(part.solid, plane)
        return nearest.value, surface_point(part.solid, nearest.at, nearest.point), nearest.point
    if isinstance(part.solid, Frustum):
        value, point = frustum_above_plane(part.solid, plane)
    else:
        corners = box_mesh(part.solid).vertices
        heights = (corners - np.array(plane.origin)) @ normal
        value, point = float(heights.min()), corners[int(np.argmin(heights))]
    return value, point, point - value * normal


def _vec(point: Array) -> Vec:
    x, y, z = point.tolist()
    return (x, y, z)
