"""The chassis as meshes for display; nothing is measured on these."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

import numpy as np

from headergen.geometry.curves.body import Rows, tube_body
from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import frame_from_normal, norm, subtract
from headergen.geometry.mesh.boxes import box_mesh, plate_mesh
from headergen.geometry.mesh.index import TriangleIndex, near_body
from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh
from headergen.geometry.mesh.tube import outer_skin
from headergen.model import Box, ChassisItem, Cylinder, Header, HeaderRef, MeshRef, OtherPlate, Straight, TubeRun, Vec

CHORD_ERROR = 0.05  # mm
BALL = 24  # rows of a ball, and half its columns
MOST_DRAWN = 200_000  # triangles; of a larger mesh, the picture shows what is around the header
DRAWN_AROUND = 400.0  # mm
SPOT = np.array([[1.0, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]])[[[0, 1, 2], [0, 3, 1], [0, 2, 3], [1, 3, 2]]]


def to_draw(mesh: TriangleIndex, header: Header) -> TriangleMesh:
    """A chassis mesh as shown in a picture: a large one is cropped to the header; points become spots."""
    rows = np.arange(len(mesh))
    if len(mesh) > MOST_DRAWN:
        near = [near_body(tube_body(line, header.draft.tube.radius), mesh, DRAWN_AROUND) for line in header.centrelines]
        rows = np.unique(np.concatenate(near))
    return with_spots(mesh, rows)


def with_spots(mesh: TriangleIndex, rows: Rows | slice = slice(None)) -> TriangleMesh:
    """Some triangles of an index as a mesh; points become spots."""
    if not mesh.spacing:
        return mesh.mesh(rows)
    corners = (mesh.triangles(rows)[:, :1, None] + mesh.spacing / 2 * SPOT).reshape(-1, 3)
    return TriangleMesh(corners, np.arange(len(corners)).reshape(-1, 3), closed=False)


def chassis_meshes(
    items: Iterable[ChassisItem], meshes: Mapping[str, tuple[Points, Faces]]
) -> tuple[TriangleMesh, ...]:
    """A mesh for every item with a body; a plane has none and is left out.

    `meshes` holds vertices and faces, in engine axes, of the mesh items, by name.
    """
    return tuple(mesh for item in items for mesh in _bodies(item, meshes))


def item_meshes(
    items: Iterable[ChassisItem], meshes: Mapping[str, tuple[Points, Faces]]
) -> Iterator[tuple[str, TriangleMesh]]:
    """The same with all bodies of an item in one mesh, with its name."""
    for item in items:
        bodies = list(_bodies(item, meshes))
        if bodies:
            before = np.cumsum([0, *(len(body.vertices) for body in bodies[:-1])])
            faces = [body.faces + start for body, start in zip(bodies, before, strict=True)]
            vertices = np.concatenate([body.vertices for body in bodies])
            yield item.name, TriangleMesh(vertices, np.concatenate(faces), closed=False)


def _bodies(item: ChassisItem, meshes: Mapping[str, tuple[Points, Faces]]) -> Iterator[TriangleMesh]:
    shape = item.shape
    if isinstance(shape, MeshRef):
        yield TriangleMesh(*meshes[item.name], closed=False)
    elif isinstance(shape, Box):
        yield box_mesh(shape)
    elif isinstance(shape, OtherPlate):
        yield plate_mesh(shape)
    elif isinstance(shape, Cylinder):
        yield _rod(shape.start, shape.end, shape.diameter / 2)
    elif isinstance(shape, HeaderRef):
        yield from (outer_skin(line, diameter / 2, CHORD_ERROR).mesh for line, diameter in shape.tubes)
    elif isinstance(shape, TubeRun):
        yield from (_rod(a, b, shape.diameter / 2) for a, b in pairwise(shape.points))
        yield from (_ball(point, shape.diameter / 2) for point in shape.points)


def _rod(start: Vec, end: Vec, radius: float) -> TriangleMesh:
    axis = subtract(end, start)
    return outer_skin(trace(frame_from_normal(start, axis), [Straight(norm(axis))]), radius, CHORD_ERROR).mesh


def _ball(centre: Vec, radius: float) -> TriangleMesh:
    """A ball in rows from pole to pole; each pole is a row of one repeated point."""
    down, round_ = np.meshgrid(np.linspace(0, math.pi, BALL + 1), np.linspace(0, 2 * math.pi, 2 * BALL + 1))
    directions = np.stack([np.sin(down) * np.cos(round_), np.sin(down) * np.sin(round_), np.cos(down)], axis=-1)
    corner = np.arange(directions.shape[0] * directions.shape[1]).reshape(directions.shape[:2])
    a, b, c, d = corner[:-1, :-1], corner[:-1, 1:], corner[1:, 1:], corner[1:, :-1]
    faces = np.concatenate([np.stack(triple, axis=-1).reshape(-1, 3) for triple in ((a, b, c), (a, c, d))])
    return TriangleMesh(np.array(centre) + radius * directions.reshape(-1, 3), faces, closed=False)
