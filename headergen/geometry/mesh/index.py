"""An index over the triangles of a chassis mesh: runs of triangles along a Morton curve, with a ball round each run.

Triangles are kept as in the file, in the file's own numbers and number type; they come out in millimetres and engine
axes. The index only leaves out triangles that cannot matter, and all others are measured exactly, so the answer is the
same as for all triangles. Points of a scan without triangles are stored as triangles with three equal corners.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body, Rows, distance_to_body, points_along, round_ended_distance
from headergen.geometry.distance.distance_triangles import ROUNDING, Nearest, body_to_triangles, nearest_on_triangles
from headergen.geometry.frames import axes_matrix
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Frame

LEAF = 32  # triangles in a run
BRANCH = 32  # leaves in a run of runs
MORTON_BITS = 10  # for each axis: 1/1024 of the mesh's size
PEEK = 4  # runs whose corners are measured for a first upper bound
PAIRS = 400_000  # point–triangle pairs measured at once, to bound the memory
PART = LEAF * 1024  # triangles whose runs are made at once, for the same reason

Corners = NDArray[np.float32] | NDArray[np.float64]
Rank = NDArray[np.int32]


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs of consecutive triangles: a ball round each, its area vector, and the centroid of its area.

    The last two are the far-field form of the run, for the winding number.
    """

    centre: Array  # (m, 3)
    radius: Array  # (m,)
    area: Array  # (m, 3)
    middle: Array  # (m, 3)


@dataclass(frozen=True, eq=False)
class TriangleIndex:
    """`raw` (n, 3, 3) triangles in Morton order; `order` (n,): the file's number of each, counted from 0.

    `leaves` and `branches` are placed already: `raw` · scale, turned by `axes`, moved to `origin`. `box` (2, 3): the
    lowest and highest raw coordinates. `closed`: known to separate one inside from the outside. `spacing`: that of
    points without triangles, else 0.
    """

    raw: Corners
    order: Rank
    leaves: Runs
    branches: Runs
    scale: float
    axes: Array
    origin: Array
    box: Array
    closed: bool = False
    spacing: float = 0.0

    def __len__(self) -> int:
        return len(self.raw)

    def triangles(self, rows: Rows | slice = slice(None)) -> Array:
        """(k, 3, 3) corners of some triangles, in millimetres and engine axes."""
        return _placed(self.raw[rows], self.scale, self.axes, self.origin)

    @property
    def size(self) -> Array:
        """(3,) sizes of the box round all corners, in the file's own numbers."""
        return np.asarray(self.box[1] - self.box[0])

    def boxed(self, points: Array) -> NDArray[np.bool_]:
        """Which of points (n, 3) are in the box round all corners; the box is parallel to the file's own axes."""
        local = (points - self.origin) @ self.axes.T / self.scale
        return np.asarray(((local >= self.box[0]) & (local <= self.box[1])).all(axis=1))

    def mesh(self, rows: Rows | slice = slice(None)) -> TriangleMesh:
        """Some triangles as a mesh, in the order of the file; corners are not shared."""
        picked = np.arange(len(self))[rows]
        picked = picked[np.argsort(self.order[picked], kind="stable")]
        corners = self.triangles(picked).reshape(-1, 3)
        return TriangleMesh(corners, np.arange(len(corners)).reshape(-1, 3), self.closed and len(picked) == len(self))

    @property
    def bounds(self) -> tuple[Array, Array]:
        """The lowest and the highest corner of a box round the mesh; loose only by the bulge of the balls."""
        reach = self.leaves.radius[:, None]
        return (self.leaves.centre - reach).min(axis=0), (self.leaves.centre + reach).max(axis=0)


def index_of(mesh: TriangleMesh) -> TriangleIndex:
    """The index of a mesh that is already in millimetres and engine axes."""
    return replace(build_index(mesh.vertices[mesh.faces]), closed=mesh.closed)


def build_index(raw: Corners) -> TriangleIndex:
    """The unplaced index of triangles (n, 3, 3) of finite numbers. Raises ValueError for none."""
    if not len(raw):
        raise ValueError("no triangles to index")
    order = _ranked(_morton(raw))
    raw = cast("Corners", np.take(raw.reshape(-1, 9), order, axis=0).reshape(-1, 3, 3))  # rows of nine: a third
    raw.setflags(write=False)
    leaves, box = _leaves(raw)
    return TriangleIndex(raw, order, leaves, _branches(leaves), 1.0, np.eye(3), np.zeros(3), box)


def placed(index: TriangleIndex, scale: float, frame: Frame) -> TriangleIndex:
    """An unplaced index, placed: its numbers are in units of `scale` millimetres, its own axes are `frame`."""
    axes, origin = axes_matrix(frame), np.array(frame.origin)

    def moved(runs: Runs) -> Runs:
        return Runs(
            _placed(runs.centre, scale, axes, origin),
            runs.radius * scale * (1.0 + 1e-12),  # for the rounding of the turn
            runs.area * scale**2 @ axes,
            _placed(runs.middle, scale, axes, origin),
        )

    return replace(
        index,
        leaves=moved(index.leaves),
        branches=moved(index.branches),
        scale=scale,
        axes=axes,
        origin=origin,
        spacing=index.spacing * scale,
    )


def _placed(points: Corners, scale: float, axes: Array, origin: Array) -> Array:
    out = points.astype(float)
    if scale != 1.0:
        out *= scale
    if not np.array_equal(axes, np.eye(3)):
        out = out @ axes
    return out + origin if origin.any() else out


def _ranked(code: NDArray[np.uint32]) -> Rank:
    """A stable argsort of 30-bit codes, in two halves: numpy sorts 16 bits by counting, in a fraction of the time."""
    half = np.uint32(3 * MORTON_BITS // 2)
    order = np.argsort((code & ((np.uint32(1) << half) - np.uint32(1))).astype(np.uint16), kind="stable")
    high = (code >> half).astype(np.uint16)
    return np.asarray(order[np.argsort(high[order], kind="stable")], dtype=np.int32)


def _morton(raw: Corners) -> NDArray[np.uint32]:
    """The place of each triangle's centre on a Morton curve: the bits of x, y and z interleaved."""
    middles = [np.asarray(raw[:, 0, k] + raw[:, 1, k] + raw[:, 2, k], dtype=np.float64) for k in range(3)]
    lows = [float(middle.min()) for middle in middles]
    size = max(float(middle.max()) - low for middle, low in zip(middles, lows, strict=True))
    scale = ((1 << MORTON_BITS) - 1) / size if size > 0 else 0.0
    code = np.zeros(len(raw), np.uint32)
    for k, (middle, low) in enumerate(zip(middles, lows, strict=True)):
        code |= _spread(((middle - low) * scale).astype(np.uint32)) << np.uint32(k)
    return code


def _spread(bits: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """Ten bits with two empty bits after each."""
    for shift, mask in ((16, 0x30000FF), (8, 0x300F00F), (4, 0x30C30C3), (2, 0x9249249)):
        bits = (bits | (bits << np.uint32(shift))) & np.uint32(mask)
    return bits


def _leaves(raw: Corners) -> tuple[Runs, Array]:
    """The runs of triangles and the box round all of them, made in parts to save memory."""
    runs, boxes = zip(*(_leaves_of(raw[low : low + PART]) for low in range(0, len(raw), PART)), strict=True)
    whole = Runs(
        np.concatenate([each.centre for each in runs]),
        np.concatenate([each.radius for each in runs]),
        np.concatenate([each.area for each in runs]),
        np.concatenate([each.middle for each in runs]),
    )
    return whole, np.array([np.min(boxes, axis=0)[0], np.max(boxes, axis=0)[1]])


def _leaves_of(raw: Corners) -> tuple[Runs, Array]:
    """The same for one part, with one row for each coordinate: numpy needs a third of the time."""
    starts = np.arange(0, len(raw), LEAF)
    rows = np.ascontiguousarray(raw.reshape(-1, 9).T).reshape(3, 3, -1)  # corner, axis, triangle
    low, high = np.empty((len(starts), 3)), np.empty((len(starts), 3))
    for axis in range(3):
        a, b, c = rows[:, axis]
        low[:, axis] = np.minimum.reduceat(np.minimum(np.minimum(a, b), c), starts)
        high[:, axis] = np.maximum.reduceat(np.maximum(np.maximum(a, b), c), starts)
    centre = (low + high) / 2
    area = [each.astype(float) / 2 for each in _cross_rows(rows[1] - rows[0], rows[2] - rows[0])]
    weight = np.sqrt(area[0] ** 2 + area[1] ** 2 + area[2] ** 2)
    middle = (np.add(rows[0], rows[1], dtype=float) + rows[2]) / 3.0
    total = np.add.reduceat(weight, starts)
    runs = Runs(
        centre,
        np.sqrt(((high - centre) ** 2).sum(axis=1)) * (1.0 + 1e-12),
        np.column_stack([np.add.reduceat(each, starts) for each in area]),
        _middles(total, np.column_stack([np.add.reduceat(each * weight, starts) for each in middle]), centre),
    )
    return runs, np.array([low.min(axis=0), high.max(axis=0)])


def _branches(leaves: Runs) -> Runs:
    starts = np.arange(0, len(leaves.radius), BRANCH)
    reach = leaves.radius[:, None]
    low = np.minimum.reduceat(leaves.centre - reach, starts)
    high = np.maximum.reduceat(leaves.centre + reach, starts)
    centre = (low + high) / 2
    run = np.arange(len(leaves.radius)) // BRANCH
    out = np.sqrt(((leaves.centre - centre[run]) ** 2).sum(axis=1)) + leaves.radius
    weight = np.sqrt((leaves.area**2).sum(axis=1))
    return Runs(
        centre,
        np.maximum.reduceat(out, starts) * (1.0 + 1e-12),
        np.add.reduceat(leaves.area, starts),
        _weighted(leaves.middle, weight, starts, centre),
    )


def _weighted(middle: Array, weight: Array, starts: Rows, centre: Array) -> Array:
    """The centroid of each run's area; the ball's centre if it has no area."""
    sums = np.add.reduceat(middle * weight[:, None], starts)
    return _middles(np.add.reduceat(weight, starts), sums, centre)


def _middles(total: Array, sums: Array, centre: Array) -> Array:
    return np.where(total[:, None] > 0, sums / np.where(total > 0, total, 1.0)[:, None], centre)


def _cross_rows(a: Corners, b: Corners) -> Iterator[Corners]:
    """Cross products of vectors (3, n), one coordinate after the other."""
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        yield a[i] * b[j] - a[j] * b[i]


def body_to_index(body: Body, index: TriangleIndex) -> Nearest:
    """As body_to_triangles, for all triangles of an index; `Nearest.triangle` is the file's number."""
    rows = _may_be_nearest(body, index)
    rows = rows[np.argsort(index.order[rows])]  # a tie goes to the lowest number in the file
    nearest = body_to_triangles(body, index.triangles(rows))
    return replace(nearest, triangle=int(index.order[rows[nearest.triangle]]))


def _may_be_nearest(body: Body, index: TriangleIndex) -> Rows:
    """The triangles that may have the smallest gap."""
    if len(index) <= LEAF * PEEK:
        return np.arange(len(index))
    branches = round_ended_distance(body, index.branches.centre)
    leaves = _children(np.argsort(branches, kind="stable")[:1], BRANCH, len(index.leaves.radius))
    bound = _peek(body, index, leaves, round_ended_distance(body, index.leaves.centre[leaves]))
    leaves = _children(np.flatnonzero(branches - index.branches.radius <= bound), BRANCH, len(index.leaves.radius))
    distance = round_ended_distance(body, index.leaves.centre[leaves])
    bound = min(bound, _peek(body, index, leaves, distance))
    return _children(leaves[distance - index.leaves.radius[leaves] <= bound], LEAF, len(index))


def _peek(body: Body, index: TriangleIndex, leaves: Rows, distance: Array) -> float:
    """An upper bound of the smallest gap: that of the corners in the leaves whose centres are nearest."""
    nearest = leaves[np.argsort(distance, kind="stable")[:PEEK]]
    corners = index.triangles(_children(nearest, LEAF, len(index))).reshape(-1, 3)
    return float(distance_to_body(body, corners)[0].min()) + ROUNDING


def _children(runs: Rows, size: int, count: int) -> Rows:
    """The indices, below `count`, of what runs of `size` contain."""
    out = (runs[:, None] * size + np.arange(size)).ravel()
    return out[out < count]


def near_body(body: Body, index: TriangleIndex, reach: float) -> Rows:
    """Every triangle nearer to a body than `reach`, and some that are not."""
    return _within(index, lambda points: round_ended_distance(body, points), reach)


def near_point(index: TriangleIndex, point: Array, reach: float) -> Rows:
    """Every triangle nearer to a point than `reach`, and some that are not."""
    return _within(index, lambda points: np.sqrt(((points - point) ** 2).sum(axis=1)), reach)


def _within(index: TriangleIndex, distance: Callable[[Array], Array], reach: float) -> Rows:
    branches = np.flatnonzero(distance(index.branches.centre) - index.branches.radius < reach)
    leaves = _children(branches, BRANCH, len(index.leaves.radius))
    leaves = leaves[distance(index.leaves.centre[leaves]) - index.leaves.radius[leaves] < reach]
    return _children(leaves, LEAF, len(index))


def distance_to_index(points: Array, index: TriangleIndex, cap: float = np.inf) -> Array:
    """(n,) distances of points (n, 3) from the nearest triangle, but at most `cap`."""
    best = np.full(len(points), cap)
    chunk = max(1, PAIRS // len(index.branches.radius))
    for low in range(0, len(points), chunk):
        best[low : low + chunk] = _nearest_of_runs(points[low : low + chunk], index, cap)
    return best


def nearest_on_index(points: Array, index: TriangleIndex) -> tuple[Array, Rank]:
    """The places on triangles nearest to points (n, 3), and the file's numbers of those triangles (n,)."""
    feet, triangles = np.empty((len(points), 3)), np.empty(len(points), np.int32)
    chunk = max(1, PAIRS // len(index.branches.radius))
    for low in range(0, len(points), chunk):
        here = points[low : low + chunk]
        who, which = _may_be_nearest_to(here, index, np.inf)
        foot = np.concatenate(
            [nearest_on_triangles(index.triangles(which[p]), here[who[p]]) for p in in_parts(len(who))]
        )
        order = np.lexsort((index.order[which], ((here[who] - foot) ** 2).sum(axis=1), who))
        first = order[np.r_[True, who[order][1:] != who[order][:-1]]]
        feet[low : low + chunk], triangles[low : low + chunk] = foot[first], index.order[which[first]]
    return feet, triangles


def _nearest_of_runs(points: Array, index: TriangleIndex, cap: float) -> Array:
    who, which = _may_be_nearest_to(points, index, cap)
    out = np.full(len(points), cap)
    for part in in_parts(len(who)):
        foot = nearest_on_triangles(index.triangles(which[part]), points[who[part]])
        np.minimum.at(out, who[part], np.sqrt(((points[who[part]] - foot) ** 2).sum(axis=1)))
    return out


def _may_be_nearest_to(points: Array, index: TriangleIndex, cap: float) -> tuple[Rows, Rows]:
    """Pairs of points and triangles that may be nearest, found down the branches and leaves."""
    best = np.full(len(points), cap)
    who = np.repeat(np.arange(len(points)), len(index.branches.radius))
    which = np.tile(np.arange(len(index.branches.radius)), len(points))
    for runs, size, count in ((index.branches, BRANCH, len(index.leaves.radius)), (index.leaves, LEAF, len(index))):
        away = np.sqrt(((points[who] - runs.centre[which]) ** 2).sum(axis=1))
        np.minimum.at(best, who, away + runs.radius[which])
        keep = away - runs.radius[which] <= best[who] + ROUNDING  # for a run of one point the bounds are equal
        who, which = grown(who[keep], which[keep], size, count)
    return who, which


def grown(who: Rows, which: Rows, size: int, count: int) -> tuple[Rows, Rows]:
    """Pairs of points and runs of `size`, expanded to pairs of points and what the runs contain, below `count`."""
    inner = (which[:, None] * size + np.arange(size)).ravel()
    whose = np.repeat(who, size)
    return whose[inner < count], inner[inner < count]


def in_parts(count: int) -> Iterator[slice]:
    """Slices of `count` pairs, to bound the memory."""
    for low in range(0, count, PAIRS):
        yield slice(low, low + PAIRS)


def profile_to_index(body: Body, index: TriangleIndex, reach: float) -> Callable[[Array], Array]:
    """The gap from places along a body to an index: exact where it is below `reach`, else `reach`."""
    return lambda at: distance_to_index(points_along(body, at), index, reach + body.radius) - body.radius
