"""The tubes coloured by their gaps in one hue: hatched where a gap is too small, with the tightest places numbered."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array
from headergen.geometry.frames import cross, norm, unit
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Vec
from headergen.outputs.report.figures.svg import WIDTH, drawing, element, label, path
from headergen.show.scale import TONES, Toned, bands

ACROSS, MARGIN = 2 * WIDTH, 46.0  # units; the numbers are in the margin
PIECE = 6.0  # mm of tube that is drawn in one tone
FAINT = 26  # of 255: opacity of one chassis item behind the tubes
Places = Sequence[tuple[Vec, Vec]]


@dataclass(frozen=True, eq=False)
class _Eye:
    """A parallel view; `low` is the corner of the visible area in its plane, mm."""

    right: Array
    up: Array
    toward: Array
    low: Array
    high: Array
    scale: float

    def flat(self, points: Array) -> Array:
        """(n, 2) units from the top left."""
        x, y = points @ self.right, points @ self.up
        return np.column_stack([MARGIN + (x - self.low[0]) * self.scale, MARGIN + (self.high[1] - y) * self.scale])

    @property
    def size(self) -> tuple[float, float]:
        return ACROSS, float(2 * MARGIN + (self.high[1] - self.low[1]) * self.scale)


@dataclass(frozen=True)
class _Piece:
    """A short piece of a tube: two points, its distance from the eye, width and tone, and whether it is too near."""

    ends: Array
    depth: float
    width: float
    tone: int
    below: bool


def gap_picture(tubes: Sequence[Toned], chassis: Sequence[TriangleMesh], worst: Places, look: tuple[Vec, str]) -> str:
    """`worst`: pairs of points, numbered in order; `look`: the direction to the eye, and the units."""
    from headergen.geometry.curves.centreline import frame_at

    direction, units = look
    sampled = []
    for tube in tubes:
        at = np.linspace(0.0, tube.line.length, max(2, int(tube.line.length / PIECE) + 1))
        sampled.append((tube, at, np.array([frame_at(tube.line, float(a))[0] for a in at])))
    eye = _eye(np.concatenate([points for _, _, points in sampled]), max(t.radius for t in tubes), direction)
    pieces = [piece for each in sampled for piece in _pieces(each, eye, units)]
    parts = [_shadow(chassis, eye)]
    for piece in sorted(pieces, key=lambda piece: piece.depth):
        parts += _drawn(piece)
    parts += _numbered(worst, eye)
    return drawing(parts, eye.size, "The tubes by their gaps, with the tightest places numbered.")


def _eye(points: Array, radius: float, direction: Vec) -> _Eye:
    toward = unit(direction)
    level = cross((0.0, 0.0, 1.0), toward)
    right = unit(level) if norm(level) > 1e-6 else (1.0, 0.0, 0.0)
    axes = np.array(right), np.array(cross(toward, right))
    flat = np.column_stack([points @ axis for axis in axes])
    low, high = flat.min(axis=0) - 1.4 * radius, flat.max(axis=0) + 1.4 * radius
    return _Eye(*axes, np.array(toward), low, high, (ACROSS - 2 * MARGIN) / float(high[0] - low[0]))


def _pieces(sampled: tuple[Toned, NDArray[np.float64], Array], eye: _Eye, units: str) -> list[_Piece]:
    tube, at, points = sampled
    flat, depth = eye.flat(points), points @ eye.toward
    middle = (at[1:] + at[:-1]) / 2
    tones = bands(np.interp(middle, tube.at, tube.gap), units)
    below = np.interp(middle, tube.at, tube.spare) < 0
    width = 2 * tube.radius * eye.scale
    return [
        _Piece(flat[k : k + 2], float(depth[k] + depth[k + 1]) / 2, width, int(tones[k]), bool(below[k]))
        for k in range(len(middle))
    ]


def _drawn(piece: _Piece) -> list[str]:
    """The piece over its own outline, slightly longer than it is, so that no seam shows."""
    start, end = piece.ends
    along = end - start
    size = float(np.linalg.norm(along))
    reach = along / size if size > 1e-9 else np.zeros(2)
    line = [tuple((start - 0.6 * reach).tolist()), tuple((end + 0.6 * reach).tolist())]
    outline = path(line, stroke="#16191b", stroke_width=piece.width + 2.4)
    tone = path(line, stroke=TONES[piece.tone], stroke_width=piece.width)
    return [outline, tone, *([path(line, stroke="url(#hatch-paper)", stroke_width=piece.width)] if piece.below else [])]


def _shadow(chassis: Sequence[TriangleMesh], eye: _Eye) -> str:
    """The chassis around the tubes, faint and behind them, darker where more of it is in line."""
    from PIL import Image, ImageChops, ImageDraw

    width, height = (int(each) for each in eye.size)
    total = Image.new("L", (width, height), 0)
    for mesh in chassis:
        flat = eye.flat(np.asarray(mesh.vertices, float))[mesh.faces].reshape(-1, 6)
        layer = Image.new("L", (width, height), 0)
        pen = ImageDraw.Draw(layer)
        for triangle in np.clip(flat, -1e5, 1e5).tolist():
            pen.polygon(triangle, fill=FAINT)
        total = ImageChops.add(total, layer)
    ink = Image.new("RGBA", (width, height), (60, 70, 78, 0))
    ink.putalpha(total)
    content = io.BytesIO()
    ink.save(content, "PNG", optimize=True)
    data = "data:image/png;base64," + base64.b64encode(content.getvalue()).decode("ascii")
    return element("image", href=data, width=width, height=height)


def _numbered(worst: Places, eye: _Eye) -> list[str]:
    """Each pair of points with a leader to its number, in the margin on the nearer side."""
    parts, width = [], eye.size[0]
    taken: dict[bool, list[float]] = {False: [], True: []}
    for number, pair in enumerate(worst, 1):
        ends = eye.flat(np.array(pair))
        x, y = ends.mean(axis=0).tolist()
        right = x > width / 2
        spot = width - 22.0 if right else 22.0
        level = _free(min(max(y, 24.0), eye.size[1] - 24.0), taken[right], eye.size[1])
        taken[right].append(level)
        parts.append(path([(x, y), (spot, level)], class_="leader"))
        parts.append(path([tuple(end) for end in ends.tolist()], class_="dimension"))
        parts += [element("circle", cx=end[0], cy=end[1], r=5.0, class_="spot") for end in ends.tolist()]
        parts.append(element("circle", cx=spot, cy=level, r=20.0, class_="number"))
        parts.append(label(str(number), spot, level + 11, "middle", class_="large"))
    return parts


def _free(level: float, taken: list[float], height: float) -> float:
    """The free level nearest to the given one."""
    shifts = sorted((sign * 8.0 * k for k in range(int(height / 8)) for sign in (1, -1)), key=abs)
    free = (
        level + shift
        for shift in shifts
        if 22 <= level + shift <= height - 22 and all(abs(level + shift - other) >= 46 for other in taken)
    )
    return next(free, level)
