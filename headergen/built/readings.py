"""Where faces of pieces are, from all readings of them by least squares, and the readings that cannot be."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.built.chain import (
    ANGLE,
    FIRST,
    LAST,
    TILT_X,
    TILT_Y,
    TURN,
    VALUES,
    Pose,
    jump_between,
    motions_of,
    over,
    rotation_vector,
    turned_by,
    turned_into,
)
from headergen.built.rim import Circle, circle_of
from headergen.built.sizes import radius_at, taken_in
from headergen.built.state import HalfBuilt, group_of, with_pieces
from headergen.geometry.arrays import Array
from headergen.model import EndReading, HandSettings, LeftOver, PlateReading, TableReading
from headergen.words.numbers import with_unit
from headergen.words.say import say_angle, say_length

ROUNDS = 8
FAINT = 1e-5  # weight of the hand's spreads beside that of the readings: they only share out what is not read
STEP = 1e-6  # mm and rad, for slopes
JUMP = (2e-4, 0.05)  # rad, mm: a face away from where its pieces put it, if their errors do not explain it
TRUSTED = 0.1  # of its spread is left to a value that was measured
FAR, FAR_TURNED = 40.0, math.radians(15)  # from where the pieces put a face, beyond which a reading cannot be
SURE, LEAST, LEAST_TURNED = 8.0, 5.0, math.radians(3)  # spreads of the hand, or so much, that may explain a reading
RADIUS_OFF = 1.5  # mm between the radius of a rim and that of the tube
QUESTION = "is it the right piece, and in engine axes?"
APART = 4.0  # multiples of `within` by which a reading may disagree with the others
SUM_OFF = 0.4  # mm by which gaps across a hole may differ from what it is wider

Residual = Callable[[Pose, Pose], Array]  # of the face and of the flat bend's start → multiples of `within`


class ReadingError(ValueError):
    """A reading that cannot be; `index`: its place under `ends`, from 0."""

    def __init__(self, index: int, message: str) -> None:
        super().__init__(message)
        self.index = index


@dataclass(frozen=True, eq=False)
class _Read:
    index: int
    reading: EndReading
    residual: Residual


def brought_together(half: HalfBuilt) -> tuple[HalfBuilt, tuple[LeftOver, ...]]:
    """The run with its pieces where the readings put them. Raises ReadingError for a reading that cannot be.

    What no reading says is taken from the pieces; differences are shared out among the joints and pieces of a group by
    the spreads of the hand.
    """
    left: list[LeftOver] = []
    faces: dict[tuple[int, str], list[int]] = {}
    for index, reading in enumerate(half.built.ends):
        _must_be_held(half, index, reading)
        faces.setdefault((reading.piece, reading.face), []).append(index)
    done = {0: 0}
    for (piece, face), indices in sorted(faces.items(), key=lambda each: (each[0][0], each[0][1] == "end")):
        group = group_of(half, piece - 1)
        since = max(done.get(group.start, group.start), group.start)
        half, found = _placed(half, (piece, face), indices, since)
        left.append(found)
        done[group.start] = piece if face == "end" else piece - 1
    return half, tuple(left)


def _must_be_held(half: HalfBuilt, index: int, reading: EndReading) -> None:
    n = half.size
    if reading.piece > n:
        raise ReadingError(index, f"{half.built.run} has {n} pieces, so there is no piece {reading.piece}")
    group = group_of(half, reading.piece - 1)
    if _taken_in(half, reading) and reading.piece in half.held:
        message = f"the end of piece {reading.piece} is inside piece {reading.piece + 1}; measure its other end"
        raise ReadingError(index, message)
    if reading.table is not None:
        if reading.table.flat - 1 not in group:
            flat = reading.table.flat
            raise ReadingError(index, f"pieces {flat} and {reading.piece} are not held together on the table")
        if half.pieces[reading.table.flat - 1].angle == 0:
            raise ReadingError(index, f"piece {reading.table.flat} is straight: it has no bend to lie flat")
        return
    if reading.plate is not None and (reading.piece, reading.face) != (n, "end"):
        raise ReadingError(index, f"the plate holds the end of the last piece, {n}")
    if (group.start > 0 or 0 not in half.held) and (not half.in_bore or group.stop < n):
        message = f"piece {reading.piece} is held neither on the flange nor in its bore, so it has no place yet"
        raise ReadingError(index, message)


def _placed(half: HalfBuilt, face: tuple[int, str], indices: Sequence[int], since: int) -> tuple[HalfBuilt, LeftOver]:
    """The run with one face where its readings put it; `since`: pieces before are placed already."""
    k = face[0] - 1
    predicted = _face(half, face)
    read = [_Read(i, half.built.ends[i], _residual(half, i, predicted)) for i in indices]
    if half.in_bore and k >= half.size - half.in_bore:
        return _placed_in_bore(half, face, read)
    last = k if face[1] == "end" else k - 1
    own = range(max(since, 0), last + 1)
    prior = _spreads(half, own)
    jump = np.zeros(6)
    pieces = list(half.pieces)
    values = np.zeros((len(own), VALUES))
    straight = np.array([pieces[i].angle == 0 for i in own], bool)
    for _ in range(ROUNDS):
        now = with_pieces(half, [p.changed(values[i - own.start]) if i in own else p for i, p in enumerate(pieces)])
        made = _motions(now, own)
        pose = _moved(_face(now, face), jump)
        rows, slopes = _linear(now, read, pose, made, own)
        step = _step(rows, slopes, (values, prior), jump)
        values, jump = values + step[:-6].reshape(values.shape), jump + step[-6:]
        values[straight] *= np.isin(np.arange(VALUES), (TURN, ANGLE, LAST), invert=True)
    now = with_pieces(half, [p.changed(values[i - own.start]) if i in own else p for i, p in enumerate(pieces)])
    pose = _moved(_face(now, face), jump)
    _must_agree(half, read, pose, predicted, _explained(half, own, predicted))
    if last >= 0:
        to = _moved_about(_face(now, (last + 1, "end")), _face(now, face)[1], jump)
        bare = replace(now.pieces[last], jump=None)
        changed = replace(bare, jump=jump_between(over(now.forward()[last], bare), to))
        now = with_pieces(now, [changed if i == last else p for i, p in enumerate(now.pieces)])
    return now, _left(half, read, face, pose, predicted)


def _placed_in_bore(half: HalfBuilt, face: tuple[int, str], read: Sequence[_Read]) -> tuple[HalfBuilt, LeftOver]:
    """A face of what is held in the bore: all of it moves with the face, as one."""
    predicted = _face(half, face)
    jump = np.zeros(6)
    for _ in range(ROUNDS):
        pose = _moved(predicted, jump)
        rows, slopes = _linear(half, read, pose, np.zeros((0, VALUES, 6)), range(0))
        jump = jump + _step(rows, slopes, (np.zeros((0, VALUES)), np.zeros((0, VALUES))), jump, loose=True)
    pose = _moved(predicted, jump)
    _must_agree(half, read, pose, predicted, (FAR, FAR_TURNED))
    bore = _moved_about(half.bore, predicted[1], jump)
    return replace(half, bore=bore), _left(half, read, face, pose, predicted)


def _face(half: HalfBuilt, face: tuple[int, str]) -> Pose:
    k = face[0] - 1
    return half.ends()[face[0]] if face[1] == "end" else half.start_of(k)


def _moved(pose: Pose, jump: Array) -> Pose:
    return turned_by(jump[:3]) @ pose[0], pose[1] + jump[3:]


def _moved_about(pose: Pose, centre: Array, jump: Array) -> Pose:
    """A pose moved with the face at `centre`."""
    turn = turned_by(jump[:3])
    return turn @ pose[0], centre + turn @ (pose[1] - centre) + jump[3:]


def _spreads(half: HalfBuilt, own: range) -> Array:
    """(m, 7) how far the hand may have been off in each value of the pieces."""
    hand, rows = half.tube.hand, []
    for k in own:
        row = _spread_of(hand, half.pieces[k].angle > 0)
        piece, joint = half.built.piece(k + 1), half.built.joint(k)
        if piece is not None:
            row[[ANGLE, LAST]] *= TRUSTED
        if joint is not None and joint.clocking is not None:
            row[TURN] *= TRUSTED
        rows.append(row)
    return np.array(rows).reshape(len(own), VALUES)


def _spread_of(hand: HandSettings, bends: bool) -> Array:
    row = np.zeros(VALUES)
    row[[TILT_X, TILT_Y, TURN, FIRST]] = hand.square, hand.square, hand.clocking * bends, hand.length
    row[[ANGLE, LAST]] = hand.bend * bends, hand.length * bends
    return np.maximum(row, 1e-9)


def _motions(half: HalfBuilt, own: range) -> Array:
    """(m, 7, 6) the motion of what follows for each value of each piece."""
    ends = half.forward()
    return np.array([motions_of(ends[k], half.pieces[k]) for k in own]).reshape(len(own), VALUES, 6)


def _linear(half: HalfBuilt, read: Sequence[_Read], pose: Pose, made: Array, own: range) -> tuple[Array, Array]:
    """(r,) residuals, and (r, 7 m + 6) their slopes against the values of the pieces and the jump of the face."""
    rows, slopes = [], []
    for each in read:
        flat = _flat(half, each.reading)
        rows.append(each.residual(pose, flat))
        by_pose = np.column_stack([_slope(each.residual, pose, flat, i) for i in range(6)])
        moves = made.copy()
        if each.reading.table is not None:
            for i, k in enumerate(own):
                if k < each.reading.table.flat:
                    moves[i, :] = 0.0
                if k == each.reading.table.flat - 1:
                    moves[i, [ANGLE, LAST]] = made[i, [ANGLE, LAST]]
        flat_moves = moves.reshape(-1, 6)
        at_face = np.column_stack([flat_moves[:, :3], flat_moves[:, 3:] + np.cross(flat_moves[:, :3], pose[1])])
        slopes.append(np.column_stack([by_pose @ at_face.T, by_pose]))
    return np.concatenate(rows), np.concatenate(slopes)


def _slope(residual: Residual, pose: Pose, flat: Pose, which: int) -> Array:
    by = np.zeros(6)
    by[which] = STEP
    found: Array = (residual(_moved(pose, by), flat) - residual(_moved(pose, -by), flat)) / (2 * STEP)
    return found


def _step(rows: Array, slopes: Array, priors: tuple[Array, Array], jump: Array, loose: bool = False) -> Array:
    """A Gauss-Newton step; `priors`: values so far and their spreads."""
    values, spreads = (each.ravel() for each in priors)
    allowed = np.repeat((0.1, 50.0) if loose else JUMP, 3)
    so_far, scale = np.concatenate([values, jump]), np.concatenate([spreads, allowed])
    faint = FAINT * np.diag(1 / scale)
    both = np.concatenate([slopes, faint])
    found: Array = np.linalg.lstsq(both * scale, -np.concatenate([rows, faint @ so_far]), rcond=None)[0] * scale
    return found


def _flat(half: HalfBuilt, reading: EndReading) -> Pose:
    """Where the bend begins that lies flat; the origin for readings that need none."""
    if reading.table is None:
        return np.eye(3), np.zeros(3)
    k = reading.table.flat - 1
    axes, origin = turned_into(half.forward()[k], half.pieces[k])
    return axes, origin + axes[:, 2] * half.pieces[k].first


def _residual(half: HalfBuilt, index: int, predicted: Pose) -> Residual:
    reading = half.built.ends[index]
    radius, taken = _radius(half, reading), _taken_in(half, reading)
    if reading.rim:
        circle = circle_of(np.array(reading.rim))
        _rim_can_be(half, index, circle, predicted)
        _place_can_be(half, index, circle.centre, predicted)
        return _of_place(reading, circle.centre, circle.normal, (radius, taken))
    if reading.point is not None and reading.direction is not None:
        way = np.array(reading.direction) / np.linalg.norm(reading.direction)
        if way @ predicted[0][:, 2] < 0:
            raise ReadingError(index, "the direction points back toward the flange: it is along the travel of the gas")
        _place_can_be(half, index, np.array(reading.point), predicted)
        return _of_place(reading, np.array(reading.point), way, (radius, taken))
    if reading.table is not None:
        return _of_table(reading.table, reading.within, (radius, taken))
    assert reading.plate is not None
    _plate_can_be(half, index, reading.plate)
    return _of_plate(reading.plate, half.tube.chain.frames[-1], half.tube.chain.origins[-1], reading.within)


def _radius(half: HalfBuilt, reading: EndReading) -> float:
    return radius_at(half.tube, reading.piece - 1, reading.face)


def _taken_in(half: HalfBuilt, reading: EndReading) -> float:
    """How far the face that is measured is past its net line: by what goes into the next piece (mm)."""
    return taken_in(half.tube, reading.piece) if reading.face == "end" else 0.0


def _of_place(reading: EndReading, centre: Array, normal: Array, sizes: tuple[float, float]) -> Residual:
    """`sizes`: the radius, and how far the face is past its net line."""
    radius, taken = sizes
    within, mark = reading.within, None if reading.mark is None else np.array(reading.mark)

    def residual(pose: Pose, _: Pose) -> Array:
        axes, at = pose
        way = normal if normal @ axes[:, 2] > 0 else -normal
        lean = (axes.T @ way)[:2] * radius
        turned = [] if mark is None else [(mark - at) @ axes[:, 1]]
        return np.concatenate([at + taken * way - centre, lean, turned]) / within

    return residual


def _of_table(table: TableReading, within: float, sizes: tuple[float, float]) -> Residual:
    radius, taken = sizes

    def residual(pose: Pose, flat: Pose) -> Array:
        offset, height, along = flat[0].T @ (pose[1] + taken * pose[0][:, 2] - flat[1])
        lean = math.asin(max(-1.0, min(1.0, float(pose[0][:, 2] @ flat[0][:, 1]))))
        pairs = ((table.height, height, 1.0), (table.offset, offset, 1.0), (table.along, along, 1.0))
        all_of = (*pairs, (table.lean, lean, radius))
        return np.array([(is_ - read) * by / within for read, is_, by in all_of if read is not None])

    return residual


def _of_plate(plate: PlateReading, axes: Array, origin: Array, within: float) -> Residual:
    def residual(pose: Pose, _: Pose) -> Array:
        at, way = axes.T @ (pose[1] - origin), axes.T @ pose[0][:, 2]
        found = []
        for row in plate.feelers:
            up, right, down, left = row.gaps
            reach = (-row.at - at[2]) / way[2]
            found += [at[0] + reach * way[0] - (down - up) / 2, at[1] + reach * way[1] - (left - right) / 2]
        return np.array(found) / within

    return residual


def _rim_can_be(half: HalfBuilt, index: int, circle: Circle, predicted: Pose) -> None:
    reading = half.built.ends[index]
    radius = _radius(half, reading)
    if abs(circle.radius - radius) > max(RADIUS_OFF, APART * reading.within):
        wide = 2 * circle.radius
        raise ReadingError(
            index,
            f"these points lie on a circle {say_length(wide, half.units)} wide, and the tube is "
            f"{say_length(2 * radius, half.units)} wide",
        )
    off = np.hypot(circle.off, circle.out)
    worst = int(off.argmax())
    if off[worst] > APART * reading.within:
        raise ReadingError(index, f"point {worst + 1} is {_fine(off[worst], half)} off the circle of the other points")
    if abs(circle.normal @ predicted[0][:, 2]) < math.cos(math.radians(45)):
        raise ReadingError(index, "the face through these points does not lie across the tube")


def _fine(size: float, half: HalfBuilt) -> str:
    """A size as feelers have it, in the units of the job: finer than other lengths are said."""
    return with_unit(size, half.units, 2)


def _place_can_be(half: HalfBuilt, index: int, centre: Array, predicted: Pose) -> None:
    """Refused by the place that is read itself: pieces can no longer be fitted to one so far off."""
    reading = half.built.ends[index]
    away = float(np.linalg.norm(centre - _taken_in(half, reading) * predicted[0][:, 2] - predicted[1]))
    if away > FAR:
        message = f"this puts the face {say_length(away, half.units)} from where its pieces put it; {QUESTION}"
        raise ReadingError(index, message)


def _plate_can_be(half: HalfBuilt, index: int, plate: PlateReading) -> None:
    wider = plate.hole - 2 * radius_at(half.tube, half.size - 1, "end")
    if wider < 0:
        message = f"the hole of {say_length(plate.hole, half.units)} is {_fine(-wider, half)} narrower than its tube"
        raise ReadingError(index, message)
    for number, row in enumerate(plate.feelers, 1):
        up, right, down, left = row.gaps
        for name, both in (("12 and 6", up + down), ("3 and 9", right + left)):
            if abs(both - wider) > SUM_OFF:
                raise ReadingError(
                    index,
                    f"row {number}: the gaps at {name} o'clock are {_fine(both, half)} together, but the hole is "
                    f"{_fine(wider, half)} wider than the tube",
                )


def _explained(half: HalfBuilt, own: range, predicted: Pose) -> tuple[float, float]:
    """How far (mm, rad) errors of the hand can have taken a face from where its pieces put it."""
    hand, count = half.tube.hand, math.sqrt(max(len(own), 1))
    turned = count * math.hypot(hand.clocking, hand.square, hand.square, hand.bend)
    reach = float(np.linalg.norm(predicted[1] - half.forward()[own.start if len(own) else 0][1]))
    away = count * hand.length + turned * reach
    return min(max(SURE * away, LEAST), FAR), min(max(SURE * turned, LEAST_TURNED), FAR_TURNED)


def _must_agree(half: HalfBuilt, read: Sequence[_Read], pose: Pose, predicted: Pose, most: tuple[float, float]) -> None:
    """`most`: how far from where its pieces put it (mm, rad) a face can be."""
    away, turned = _off(pose, predicted)
    if away > most[0] or turned > most[1]:
        message = (
            f"this puts the face {say_length(away, half.units)} and {say_angle(turned)} from where its pieces put it; "
            f"{QUESTION}"
        )
        raise ReadingError(read[0].index, message)
    sizes = [float(np.abs(each.residual(pose, _flat(half, each.reading))).max()) for each in read]
    worst = int(np.argmax(sizes))
    if sizes[worst] > APART:
        others = "the other readings of this face" if len(read) > 1 else "what its pieces allow"
        message = f"this disagrees with {others} by {sizes[worst]:.1f} times what a reading may be off; measure again"
        raise ReadingError(read[worst].index, message)


def _size(half: HalfBuilt, each: _Read, pose: Pose) -> float:
    own = each.residual(pose, _flat(half, each.reading))
    if each.reading.rim:
        circle = circle_of(np.array(each.reading.rim))
        own = np.concatenate([own, np.hypot(circle.off, circle.out) / each.reading.within])
    return float(np.sqrt(np.mean(own**2)))


def _off(pose: Pose, predicted: Pose) -> tuple[float, float]:
    return (
        float(np.linalg.norm(pose[1] - predicted[1])),
        float(np.linalg.norm(rotation_vector(pose[0] @ predicted[0].T))),
    )


def _left(half: HalfBuilt, read: Sequence[_Read], face: tuple[int, str], pose: Pose, predicted: Pose) -> LeftOver:
    sizes = tuple(_size(half, each, pose) for each in read)
    rms = math.sqrt(sum(each**2 for each in sizes) / len(sizes))
    return LeftOver(face[0], "end" if face[1] == "end" else "start", rms, sizes, _off(pose, predicted))
