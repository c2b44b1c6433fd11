"""Three views of a header as lines and fills of a vector drawing, farthest first.

A tube is drawn in short lengths of its centreline, each as wide as the tube. From the side its outline is exact, and
where it passes another tube, the nearer one covers the farther. Other parts are drawn by their silhouettes, as hulls.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from manifold3d import CrossSection
from numpy.typing import NDArray

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.stepped import tube_at
from headergen.geometry.mesh.triangles import Points
from headergen.model import Header, Vec2
from headergen.show.meshes import ShownMesh
from headergen.show.paper import INK, STEEL

Flat = NDArray[np.float64]  # (n, 2) points on the paper, in mm of the header
STEP = 5.0  # mm of tube drawn at once
SCALES = (1, 2, 2.5, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 100)  # reduction factors


@dataclass(frozen=True)
class Direction:
    """A direction of view: the axes to the right and up on the paper, and the axis toward the eye."""

    name: str
    right: tuple[float, float, float]
    up: tuple[float, float, float]

    @property
    def toward(self) -> Points:
        return np.cross(self.right, self.up)


# axes of ISO 8855; the left side is seen with the front of the vehicle to the left
SIDE = Direction("from the left", (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
ABOVE = Direction("from above", (-1.0, 0.0, 0.0), (0.0, -1.0, 0.0))
BEHIND = Direction("from behind", (0.0, -1.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True, eq=False)
class Stroke:
    """A short length of tube: its centreline and its width."""

    line: Flat
    width: float
    depth: float


@dataclass(frozen=True, eq=False)
class Patch:
    """The silhouette of a part."""

    outline: Flat
    depth: float


@dataclass(frozen=True, eq=False)
class Drawn:
    """A view: its shapes, farthest first, and its bounding box."""

    direction: Direction
    shapes: tuple[Stroke | Patch, ...]
    low: Vec2
    high: Vec2

    @property
    def size(self) -> Vec2:
        return self.high[0] - self.low[0], self.high[1] - self.low[1]


def drawn(header: Header, shown: Sequence[ShownMesh], direction: Direction) -> Drawn:
    """The header without its chassis. Raises ValueError if there is nothing to draw."""
    parts = {each.name: each.mesh.vertices for each in shown if each.group == "header"}
    tubes = {run.name for run in header.runs if run.name in parts}
    shapes: list[Stroke | Patch] = [*_strokes(header, tubes, direction)]
    shapes += (_patch(points, direction) for name, points in parts.items() if name not in tubes)
    corners = np.concatenate([_on_paper(points, direction) for points in parts.values()])
    (left, low), (right, high) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    return Drawn(direction, tuple(sorted(shapes, key=lambda shape: shape.depth)), (left, low), (right, high))


def _on_paper(points: Points, direction: Direction) -> Flat:
    return np.column_stack([points @ np.array(direction.right), points @ np.array(direction.up)])


def _strokes(header: Header, names: Container[str], direction: Direction) -> Iterator[Stroke]:
    for run, line in header.tubes:
        if run.name in names:
            count = max(2, int(np.ceil(line.length / STEP)) + 1)
            places = np.linspace(0.0, line.length, count)
            points = np.array([frame_at(line, at)[0] for at in places])
            middles = ((places[1:] + places[:-1]) / 2).tolist()
            flat, depth = _on_paper(points, direction), points @ direction.toward
            for k in range(count - 1):
                yield Stroke(flat[k : k + 2], tube_at(run, middles[k]).outside_diameter, float(depth[k : k + 2].mean()))


def _patch(points: Points, direction: Direction) -> Patch:
    flat = _on_paper(points, direction)
    outlines = CrossSection.hull_points(flat).to_polygons()
    # nothing has an area that is seen edge on
    outline = outlines[0] if outlines else np.array([flat.min(axis=0), flat.max(axis=0)])
    return Patch(outline, float((points @ direction.toward).mean()))


def fitting_scale(sizes: Iterable[Vec2], rooms: Iterable[Vec2]) -> float:
    """The reduction that is needed to fit each of several views, all at one scale, into its room, mm."""
    least = max(
        max(wide / room_wide, high / room_high)
        for (wide, high), (room_wide, room_high) in zip(sizes, rooms, strict=True)
    )
    return next((scale for scale in SCALES if scale >= least), float(np.ceil(least)))


def draw_view(canvas: Any, view: Drawn, at: Vec2, scale: float) -> None:
    """Draw a view with its lower left corner at `at`, mm, reduced by `scale`."""
    line = 0.18 * scale  # in the header's millimetres
    canvas.saveState()
    canvas.translate(*at)
    canvas.scale(1 / scale, 1 / scale)
    canvas.translate(-view.low[0], -view.low[1])
    canvas.setStrokeColorRGB(*INK)
    canvas.setLineJoin(1)
    for shape in view.shapes:
        if isinstance(shape, Patch):
            _draw_patch(canvas, shape, line)
        else:
            _draw_stroke(canvas, shape, line)
    canvas.restoreState()


def _draw_patch(canvas: Any, shape: Patch, line: float) -> None:
    path = canvas.beginPath()
    path.moveTo(*shape.outline[0])
    for point in shape.outline[1:]:
        path.lineTo(*point)
    path.close()
    canvas.setLineWidth(line)
    canvas.setFillColorRGB(*STEEL)
    canvas.drawPath(path, stroke=1, fill=1)


def _draw_stroke(canvas: Any, shape: Stroke, line: float) -> None:
    """Dark over the width of the tube, then light inside: the remaining dark is its outline."""
    (x1, y1), (x2, y2) = shape.line.tolist()
    canvas.setLineCap(0)
    # the light is extended over the neighbours' seams; the dark only a little, so that no seam opens in a bend
    for colour, width, more in ((INK, shape.width, 0.05), (STEEL, shape.width - 2 * line, 0.5)):
        dx, dy = (x2 - x1) * more, (y2 - y1) * more
        canvas.setStrokeColorRGB(*colour)
        canvas.setLineWidth(width)
        canvas.line(x1 - dx, y1 - dy, x2 + dx, y2 + dy)
    canvas.setStrokeColorRGB(*INK)
