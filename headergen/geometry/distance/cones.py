"""The smallest gap of bodies some of which are cones, where a stepped tube grows.

A cone is a convex frustum, so it is measured exactly as one (geometry/distance/distance_convex.py). The cylinder round
it is measured first with all other bodies: its gap is never larger, so a cone is measured only if it may be nearest.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body, distance_to_body, nearest_on_curve
from headergen.geometry.distance.convex import Convex, Frustum, frustum_solid
from headergen.geometry.distance.distance_bodies import bodies_to_bodies, body_to_plane
from headergen.geometry.distance.distance_convex import (
    ConvexGap,
    gap_to_body,
    gap_to_frustum,
    gap_to_plane,
    gap_to_triangles,
)
from headergen.geometry.distance.distance_triangles import Nearest, nearest_on_triangles
from headergen.geometry.frames import frame_from_normal
from headergen.geometry.mesh.index import TriangleIndex, body_to_index, near_body
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.tube import Skin
from headergen.model import Plane

NearestGap = tuple[Nearest, float]
BESIDE = 1e-6  # mm beyond the smallest gap within which triangles are picked


def frustum_of(cone: Body) -> Frustum:
    """A cone as a frustum. Raises ValueError for a body that is none."""
    if cone.cone is None:
        raise ValueError("a tube of one size is no cone")
    (curve,) = cone.curves
    frame = frame_from_normal(tuple(curve.origin.tolist()), tuple(curve.v.tolist()))
    return Frustum(frame, *cone.cone, curve.length)


def solid_of(cone: Body) -> Convex:
    """A cone as a convex solid."""
    return frustum_solid(frustum_of(cone))


def gap_of_solid(solid: Convex, body: Body) -> ConvexGap:
    """The smallest gap from a convex solid to a body, which may be a cone."""
    return gap_to_body(solid, body) if body.cone is None else gap_to_frustum(solid, frustum_of(body))


def nearest_of_solid(solid: Convex, bodies: Sequence[Body]) -> ConvexGap:
    """The smallest gap from a convex solid to some bodies, which may be cones."""
    return min((gap_of_solid(solid, body) for body in bodies), key=lambda found: found.value)


def distance_to_any(bodies: Sequence[Body], point: Array) -> float:
    """Signed distance of a point from the nearest of some bodies; exact for cones."""
    return min(
        float(
            distance_to_body(body, point[None])[0][0] if body.cone is None else solid_of(body).skin(point[None])[0][0]
        )
        for body in bodies
    )


def _with_cones(pairs: Sequence[tuple[Body, Body]], gaps: list[NearestGap]) -> list[NearestGap]:
    """The gaps of parts of the same two things, exact where one may be the smallest of all.

    Only the smallest counts. A gap of a cone that cannot be the smallest is that of the cylinder round it.
    """
    exact = [nearest.value for (a, b), (nearest, _) in zip(pairs, gaps, strict=True) if not (a.cone or b.cone)]
    least = min(exact, default=np.inf)
    answers = list(gaps)
    cones = [k for k, (a, b) in enumerate(pairs) if a.cone or b.cone]
    for k in sorted(cones, key=lambda k: gaps[k][0].value):
        if gaps[k][0].value < least:
            answers[k] = _between(*pairs[k])
            least = min(least, answers[k][0].value)
    return answers


def exact_groups(groups: Sequence[Sequence[tuple[Body, Body]]]) -> list[list[NearestGap]]:
    """bodies_to_bodies for many groups, each the parts of the same two things, in one search; exact for cones."""
    found = iter(bodies_to_bodies([pair for group in groups for pair in group]))
    return [_with_cones(group, [next(found) for _ in group]) for group in groups]


def _between(a: Body, b: Body) -> NearestGap:
    if a.cone is None:
        other, at_a = _between(b, a)
        return Nearest(other.value, at_a, other.skin, -1, other.point), other.at
    found = gap_of_solid(solid_of(a), b)
    at_b = float(distance_to_body(b, found.theirs[None])[1][0])
    return Nearest(found.value, _place(a, found.mine), found.theirs, -1, found.mine), at_b


def _place(cone: Body, point: Array) -> float:
    return cone.curves[0].start + float(nearest_on_curve(cone.curves[0], point[None])[0])


def parts_to_index(bodies: Sequence[Body], index: TriangleIndex) -> tuple[Nearest, Body]:
    """body_to_index for the parts of one tube: the smallest gap of all, and the part that has it; exact for cones."""
    found = [(body_to_index(body, index), body) for body in bodies]
    best = min((each for each in found if each[1].cone is None), key=lambda each: each[0].value, default=None)
    for nearest, body in sorted((each for each in found if each[1].cone), key=lambda each: each[0].value):
        if best is None or nearest.value < best[0].value:
            exact = _cone_to_index(body, nearest, index)
            best = (exact, body) if best is None or exact.value < best[0].value else best
    assert best is not None
    return best


def _cone_to_index(cone: Body, round_it: Nearest, index: TriangleIndex) -> Nearest:
    """`round_it`: the gap of the cylinder round the cone, from which the cone's is at most the difference of radii."""
    assert cone.cone is not None
    reach = max(round_it.value, 0.0) + max(cone.cone) - min(cone.cone) + BESIDE
    rows = near_body(cone, index, reach)
    rows = rows[np.argsort(index.order[rows])]
    triangles = index.triangles(rows)
    found = gap_to_triangles(solid_of(cone), triangles)
    away = nearest_on_triangles(triangles, np.broadcast_to(found.theirs, (len(triangles), 3))) - found.theirs
    triangle = int(index.order[rows[int(np.argmin(np.einsum("ij,ij->i", away, away)))]])
    return Nearest(found.value, _place(cone, found.mine), found.theirs, triangle, found.mine)


def parts_to_plane(bodies: Sequence[Body], plane: Plane) -> tuple[Nearest, Body]:
    """body_to_plane for the parts of one tube: the smallest height of all, and the part that has it."""
    found = [(_to_plane(body, plane), body) for body in bodies]
    return min(found, key=lambda each: each[0].value)


def _to_plane(body: Body, plane: Plane) -> Nearest:
    if body.cone is None:
        return body_to_plane(body, plane)
    found = gap_to_plane(solid_of(body), plane)
    return Nearest(found.value, _place(body, found.mine), found.theirs, -1, found.mine)


def cone_skin(skin: Skin, cone: Body) -> Skin:
    """The mesh of the cylinder round a cone, drawn in to the cone; its chordal deviation is no larger."""
    (curve,), radii = cone.curves, cone.cone
    assert radii is not None
    w = skin.mesh.vertices - curve.origin
    along = w @ curve.v
    scale = (radii[0] + (radii[1] - radii[0]) * along / curve.length) / cone.radius
    onto = curve.origin + along[:, None] * curve.v
    vertices = onto + scale[:, None] * (skin.mesh.vertices - onto)
    return Skin(TriangleMesh(vertices, skin.mesh.faces, closed=True), skin.chord_error)
