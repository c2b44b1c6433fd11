"""WorkToClose a half-built run again from where it is, with the least work."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from headergen.built.chain import TILT_X, VALUES, BuiltPiece, Pose, motions_of, poses, turned_into
from headergen.built.cheapest import IN_USE, WorkToClose, closed, least_work
from headergen.built.freedoms import Freedom, freedoms_of
from headergen.built.state import HalfBuilt, with_pieces
from headergen.geometry.arrays import Array
from headergen.hand.spares import slides_of
from headergen.model import Act, Correction, LeftOver, Stock

LEVER = 100.0  # mm, by which a lean counts as an offset
NO_EFFECT = 1e-3  # share of the largest effect below which a freedom is taken for none
MISSING = 0.5  # share of a direction that no work reaches, from which it is named
Unreached = Literal["sideways", "tilt", "along"]


@dataclass(frozen=True, eq=False)
class Task:
    """What must be closed: a run from `first` on, up to `last`, to a `goal`: its bore, or the piece that waits there.

    `slides`: the least and the most by which the end may be past its place in the bore; (0, 0) if it may not.
    """

    half: HalfBuilt
    first: int
    last: int
    start: Pose
    goal: Pose
    slides: tuple[float, float]

    def off(self, pieces: Sequence[BuiltPiece]) -> tuple[Array, Pose]:
        """(5,) two offsets across, two leans by their lever, and how far it is past its goal; and the end's pose."""
        end = poses(self.start, pieces[self.first : self.last])[-1]
        if self.half.in_bore:
            end = turned_into(end, replace(pieces[self.last], turn=0.0))
        axes = self.goal[0]
        place, way = axes.T @ (end[1] - self.goal[1]), axes.T @ end[0][:, 2]
        return np.array([place[0], place[1], LEVER * way[0], LEVER * way[1], place[2]]), end


def task_of(half: HalfBuilt) -> Task:
    """What is left to close."""
    first, last = half.on_flange, half.size - half.in_bore
    goal = half.bore
    slides = slides_of(half.tube) if half.tube.collector.slip > 0 and not half.in_bore else (0.0, 0.0)
    if half.in_bore:
        before = half.backward()[last]
        goal = (turned_into(before, replace(half.pieces[last], turn=0.0))[0], before[1])
    return Task(half, first, last, half.forward()[first], goal, slides)


def corrected(half: HalfBuilt, stock: Stock | None, left: tuple[LeftOver, ...] = ()) -> tuple[Correction, HalfBuilt]:
    """The least work, and the run once that is done; as it is if nothing closes it.

    `half`: with its pieces where the readings put them. A run that is held in its bore as well is finished.
    """
    task = task_of(half)
    is_finished = half.on_flange == half.size and half.size in half.held
    found = None if is_finished else _closed(half, stock)
    off = task.off(half.pieces)[0]
    across, lean = math.hypot(off[0], off[1]), math.hypot(off[2], off[3]) / LEVER
    if found is not None:
        acts, after, slide = found
        return Correction(half.built.run, True, across, lean, acts, (), None, left, slide), after
    if is_finished or _goes_in(half, across, lean, off[4], task.slides):
        return Correction(half.built.run, True, across, lean, (), (), None, left, float(off[4])), half
    missing, joint = tuple(_missing(task, stock)), _to_open(half, stock)
    return Correction(half.built.run, False, across, lean, (), missing, joint, left), half


def _goes_in(half: HalfBuilt, across: float, lean: float, past: float, slides: tuple[float, float]) -> bool:
    """Whether the end, as it is, is within the clearance of its sleeve."""
    collector = half.tube.collector
    if half.in_bore or collector.slip <= 0:
        return False
    fits = across <= collector.gap and lean <= math.atan2(2 * collector.gap, collector.slip)
    return fits and slides[0] <= past <= slides[1]


def _closed(half: HalfBuilt, stock: Stock | None) -> tuple[tuple[Act, ...], HalfBuilt, float] | None:
    """The least work, the run after it, and how far its end is past its place then."""
    task = task_of(half)
    use = _every(task, stock)
    values = least_work(_closing(task, use))
    if values is None:
        return None
    after = with_pieces(half, _changed(task, use, values))
    slide = sum(float(x) for each, x in zip(use, values, strict=True) if each.kind == "slide")
    return tuple(_acts(half, use, values)), after, slide


def _closing(task: Task, use: tuple[Freedom, ...]) -> WorkToClose:
    return WorkToClose(use, lambda values: _linear(task, use, values))


def _every(task: Task, stock: Stock | None) -> tuple[Freedom, ...]:
    """All that may be changed, the slide of the end piece with it."""
    slides = task.slides != (0.0, 0.0)
    slide = (Freedom("slide", task.last, 0, *task.slides, task.last),) if slides else ()
    return (*freedoms_of(task.half, stock), *slide)


def _can_close(half: HalfBuilt, stock: Stock | None) -> bool:
    task = task_of(half)
    closing = _closing(task, _every(task, stock))
    return closed(closing, frozenset(range(len(closing.works)))) is not None


def _changed(task: Task, use: Sequence[Freedom], values: Array) -> list[BuiltPiece]:
    """The pieces with these values; the slide is none of theirs."""
    by = np.zeros((task.half.size, VALUES))
    for each, value in zip(use, values, strict=True):
        if each.kind != "slide":
            by[each.piece, each.value] += value
    return [p.changed(row) if row.any() else p for p, row in zip(task.half.pieces, by, strict=True)]


def _linear(task: Task, use: Sequence[Freedom], values: Array) -> tuple[Array, Array]:
    """(5,) how far the end is off its goal, and (5, n) the slopes of that."""
    pieces = _changed(task, use, values)
    off, end = task.off(pieces)
    at = poses(task.start, pieces[task.first : task.last])
    axes, slopes = task.goal[0], np.zeros((5, len(use)))
    made = {k: motions_of(at[k - task.first], pieces[k]) for k in range(task.first, task.last)}
    if task.half.in_bore:
        made[task.last] = motions_of(at[-1], replace(pieces[task.last], turn=0.0))
    for column, each in enumerate(use):
        if each.kind == "slide":
            off = off - np.array([0, 0, 0, 0, values[column]])
            slopes[4, column] = -1.0
            continue
        turn, shift = made[each.piece][each.value][:3], made[each.piece][each.value][3:]
        moved, swung = axes.T @ (shift + np.cross(turn, end[1])), axes.T @ np.cross(turn, end[0][:, 2])
        slopes[:, column] = [moved[0], moved[1], LEVER * swung[0], LEVER * swung[1], moved[2]]
    return off, slopes


def _missing(task: Task, stock: Stock | None) -> Iterator[Unreached]:
    """The directions in which nothing left to cut can move the end, whatever its limits."""
    use = [each for each in _every(task, stock) if each.low < each.high]
    slopes = _linear(task, use, np.zeros(len(use)))[1] if use else np.zeros((5, 0))
    reached = slopes * np.array([math.radians(1) if each.unit < 1 else 1.0 for each in use])
    left, sizes, _ = np.linalg.svd(reached, full_matrices=True)
    rank = int((sizes > NO_EFFECT * max(sizes.max(initial=0.0), 1e-9)).sum())
    out = left[:, rank:]
    ways: tuple[tuple[Unreached, list[int]], ...] = (("sideways", [0, 1]), ("tilt", [2, 3]), ("along", [4]))
    for way, rows in ways:
        if out.size and np.linalg.norm(out[rows], 2) > MISSING:
            yield way


def _to_open(half: HalfBuilt, stock: Stock | None) -> int | None:
    """The held joint nearest to what is still open that closes the run once it is cut open."""
    first, last = half.on_flange, half.size - half.in_bore
    nearest = [*range(min(first, half.size) - 1, 0, -1), *range(last + 1, half.size)]
    inner = [joint for joint in range(first, last) if joint in half.held]
    for joint in [*inner, *nearest]:
        if joint in half.held and _can_close(replace(half, held=half.held - {joint}), stock):
            return int(joint)
    return None


def _acts(half: HalfBuilt, use: Sequence[Freedom], values: Array) -> Iterator[Act]:
    """The work in the order of the pieces; a tilt is one cut, by how much and toward which side."""
    tilts: dict[int, list[float]] = {}
    for each, value in sorted(zip(use, values, strict=True), key=lambda pair: (pair[0].of, pair[0].kind)):
        if abs(value) <= IN_USE:
            continue
        if each.kind == "tilt":
            tilts.setdefault(each.piece, [0.0, 0.0])[each.value - TILT_X] = float(value)
        elif each.kind == "slide":
            yield Act("slide", half.size, float(value))
        else:
            yield Act(each.kind, each.of + 1, float(value), end="end" if each.end == "end" else "start")
    for piece, (x, y) in sorted(tilts.items()):
        yield Act("tilt", piece + 1, math.hypot(x, y), math.atan2(-x, y), "start")
