"""Builds of a tube by what shop.json says of it, and nothing else: pieces, turns, where it is closed, what is left on.

What builds them is written anew, with another library's rotations, and looks for turn and slide on a grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Array = NDArray[np.float64]
ERRORS = ("clocking", "across", "up", "shrinkage", "bend", "radius", "length")
OVER = 1e4  # weight of what is over a limit
ROUNDS, WIDE, FINER = 9, 9, 0.35  # of the grid: how often it is made finer, values across, and by which share


@dataclass(frozen=True)
class Pose:
    """A place (d, 3) and the axes there: z along the tube, x toward the inside of the bend."""

    at: Array
    axes: Rotation

    def along(self, mm: Array | float) -> Pose:
        return Pose(self.at + self.axes.apply(np.array([0.0, 0.0, 1.0])) * np.reshape(mm, (-1, 1)), self.axes)

    def turned(self, axis: str, angle: Array | float) -> Pose:
        own = np.array([float(axis == each) for each in "xyz"])
        return Pose(self.at, self.axes * Rotation.from_rotvec(np.reshape(angle, (-1, 1)) * own))

    def bent(self, angle: Array | float, radius: Array | float) -> Pose:
        centre = self.at + self.axes.apply(np.array([1.0, 0.0, 0.0])) * np.reshape(radius, (-1, 1))
        end = self.turned("y", angle)
        return Pose(centre - end.axes.apply(np.array([1.0, 0.0, 0.0])) * np.reshape(radius, (-1, 1)), end.axes)

    def way(self) -> Array:
        found: Array = self.axes.apply(np.array([0.0, 0.0, 1.0]))
        return found

    def seen_from(self, other: Pose) -> Pose:
        return Pose(other.axes.inv().apply(self.at - other.at), other.axes.inv() * self.axes)

    def moved_by(self, motion: Pose) -> Pose:
        return Pose(self.at + self.axes.apply(motion.at), self.axes * motion.axes)


def start(count: int) -> Pose:
    return Pose(np.zeros((count, 3)), Rotation.from_quat(np.tile([0.0, 0.0, 0.0, 1.0], (count, 1))))


def joined(pose: Pose, turn: float, errors: dict[str, Array]) -> Pose:
    """Over a joint, turned into the bend that follows."""
    pose = pose.along(errors["shrinkage"]).turned("x", errors["across"]).turned("y", errors["up"])
    return pose.turned("z", turn + errors["clocking"])


def laid(pose: Pose, piece: Any, errors: dict[str, Array]) -> Pose:
    """Over a piece; what it is too long is in the middle of it."""
    pose = pose.along(piece["first_straight_mm"] + errors["length"] / 2)
    if piece["angle_deg"]:
        angle = np.radians(piece["angle_deg"]) + errors["bend"]
        pose = pose.bent(angle, piece["radius_mm"] * (1 + errors["radius"]))
    return pose.along(piece["last_straight_mm"] + errors["length"] / 2)


def drawn(data: Any, run: Any, count: int, rng: np.random.Generator, saddles: bool) -> list[dict[str, Array]]:
    """The errors of each piece and of the joint before it."""
    hand = data["hand"]
    clocking = hand["saddle_deg"] if saddles else hand["clocking_deg"]
    square = hand["saddle_deg"] if saddles else hand["square_deg"]
    found = []
    for k, piece in enumerate(run["pieces"]):
        is_bend = piece["kind"] == "bend"
        spreads = {
            "clocking": np.radians(clocking) * is_bend,
            "across": np.radians(square),
            "up": np.radians(square),
            "shrinkage": hand["shrinkage_mm"] * (k > 0),
            "bend": np.radians(hand["bend_deg"]) * is_bend,
            "radius": hand["radius_percent"] / 100 * is_bend,
            "length": hand["length_mm"],
        }
        found.append({name: rng.normal(0.0, 1.0, count) * spread for name, spread in spreads.items()})
    return found


def turns_of(run: Any) -> list[float]:
    """Of each piece, 0 for a straight."""
    clocked = {mark["piece"]: float(np.radians(mark["angle_deg"])) for mark in run["turns"]}
    return [clocked.get(piece["piece"], 0.0) for piece in run["pieces"]]


def built(run: Any, errors: list[dict[str, Array]], first: int, last: int, own_joint: bool, at: Pose) -> Pose:
    """The end of pieces from `first` to before `last`, one after the other; `own_joint`: with that of the first."""
    turns = turns_of(run)
    for k in range(first, last):
        if k > first or own_joint:
            at = joined(at, turns[k], errors[k])
        at = laid(at, run["pieces"][k], errors[k])
    return at


def planned_end(run: Any) -> Pose:
    nothing = [dict.fromkeys(ERRORS, np.zeros(1))]
    return built(run, nothing * len(run["pieces"]), 0, len(run["pieces"]), True, start(1))


@dataclass(frozen=True)
class ClosedBuilds:
    """Builds of a run, closed as its sheet says: their errors, the start of what stands in the bore, and what is left.

    `step` (mm), `kink` (degrees), `missing` (mm along the joint).
    """

    errors: list[dict[str, Array]]
    begins: Pose
    step: Array
    kink: Array
    missing: Array


def closed(data: Any, run: Any, count: int, seed: int, saddles: bool = False) -> ClosedBuilds:
    """Builds from both ends, met at the closing joint by turn and slide of what stands in the bore."""
    closing, hand = run["by_hand"]["closing"], data["hand"]
    joint, pieces = closing["joint"], run["pieces"]
    errors = drawn(data, run, count, np.random.default_rng(seed), saddles)
    ahead = built(run, errors, 0, joint, True, start(count))
    # the other part, from its own start: where that comes to stand when its end is in the bore
    part = built(run, errors, joint, len(pieces), False, start(count))
    bore = planned_end(run)
    back = start(count).seen_from(part)
    ends = Pose(np.repeat(bore.at, count, axis=0), Rotation.from_quat(np.repeat(bore.axes.as_quat(), count, axis=0)))
    begins = ends.moved_by(back)

    def stood(turn: Array, slide: Array) -> Pose:
        about = Rotation.from_rotvec(ends.way() * turn[:, None])
        return Pose(ends.at + about.apply(begins.at - ends.at) + ends.way() * slide[:, None], about * begins.axes)

    bore_way, one = ends.way(), ahead.way()
    off, way = (_turning(bore_way, each) for each in (begins.at - ends.at, begins.way()))
    apart = ends.at - ahead.at

    def met(turn: Array, slide: Array) -> tuple[Array, Array, Array]:
        """As of `stood`, whose rotations take most of the time of a search."""
        return _met(apart + _turned(off, turn) + bore_way * slide[:, None], one, _turned(way, turn))

    limits = (hand["spring_mm"] + hand["step_mm"], hand["kink_deg"], closing["joint_spare_mm"])
    slides = (-closing["slides_out_mm"], closing["slides_in_mm"])
    least, within = (_best(met, hand, limits, slides, count, over) for over in (0.0, OVER))
    helps = ~_is_within(met(*least), limits) & _is_within(met(*within), limits)
    turn, slide = (np.where(helps, b, a) for a, b in zip(least, within, strict=True))
    there = stood(turn, slide)
    return ClosedBuilds(errors, there, *_met(there.at - ahead.at, one, there.way()))


def _met(between: Array, one: Array, two: Array) -> tuple[Array, Array, Array]:
    """Step, kink (degrees) and what is missing, of ends so far apart that go these ways, all (d, 3)."""
    cosine = np.clip((one * two).sum(axis=1), -1, 1)
    middle = (one + two) / np.sqrt(2 + 2 * cosine)[:, None]
    missing = (between * middle).sum(axis=1)
    step = np.linalg.norm(between - missing[:, None] * middle, axis=1)
    return step, np.degrees(np.arccos(cosine)), missing


def _turning(axis: Array, vector: Array) -> tuple[Array, Array, Array]:
    """(d, 3) what stays of vectors that turn about an axis, what goes with the cosine, and what with the sine."""
    along = axis * (axis * vector).sum(axis=1)[:, None]
    return along, vector - along, np.cross(axis, vector)


def _turned(turning: tuple[Array, Array, Array], angle: Array) -> Array:
    along, cosine, sine = turning
    return along + np.cos(angle)[:, None] * cosine + np.sin(angle)[:, None] * sine


def _is_within(found: tuple[Array, Array, Array], limits: tuple[float, float, float]) -> NDArray[np.bool_]:
    fits: NDArray[np.bool_] = np.all([value <= most for value, most in zip(found, limits, strict=True)], axis=0)
    return fits


def closes(data: Any, run: Any, count: int, seed: int, saddles: bool = False) -> NDArray[np.bool_]:
    """(count,): whether each build closes where and as the sheet says."""
    closing, hand = run["by_hand"]["closing"], data["hand"]
    found = closed(data, run, count, seed, saddles)
    fits: NDArray[np.bool_] = (found.step <= hand["spring_mm"] + hand["step_mm"]) & (found.kink <= hand["kink_deg"])
    return fits & (found.missing <= closing["joint_spare_mm"])


def planned(run: Any) -> ClosedBuilds:
    """One build without errors."""
    nothing = [dict.fromkeys(ERRORS, np.zeros(1))] * len(run["pieces"])
    joint = run["by_hand"]["closing"]["joint"]
    at = built(run, nothing, 0, joint, True, start(1))
    begins = joined(at, turns_of(run)[joint], nothing[joint])
    return ClosedBuilds(nothing, begins, np.zeros(1), np.zeros(1), np.zeros(1))


def centres(run: Any, builds: ClosedBuilds, every: float) -> tuple[Array, Array]:
    """(m,) lengths from the start of the first piece, and (count, m, 3) the tube's centre there in each build."""
    count, at, lengths, places, along = len(builds.step), start(len(builds.step)), [], [], 0.0
    for k, (piece, turn, errors) in enumerate(zip(run["pieces"], turns_of(run), builds.errors, strict=True)):
        at = builds.begins if k == run["by_hand"]["closing"]["joint"] else joined(at, turn, errors)
        first, last = piece["first_straight_mm"], piece["last_straight_mm"]
        bent = np.radians(piece["angle_deg"] or 0.0)
        arc = bent * (piece["radius_mm"] or 0.0)
        for into in np.arange(0.0, first + arc + last, every):
            lengths.append(along + into)
            places.append(_part_of(at, piece, errors, float(into)).at)
        at, along = laid(at, piece, errors), along + first + arc + last
    return np.array(lengths), np.stack(places, axis=1).reshape(count, len(lengths), 3)


def _part_of(at: Pose, piece: Any, errors: dict[str, Array], into: float) -> Pose:
    """A place in a piece; its errors grow with the length of each part."""
    first, last = piece["first_straight_mm"], piece["last_straight_mm"]
    bent = np.radians(piece["angle_deg"] or 0.0)
    arc = bent * (piece["radius_mm"] or 0.0)
    half = errors["length"] / 2
    at = at.along(min(into, first) + half * (min(into / first, 1.0) if first else 1.0))
    if into > first and arc:
        share = min((into - first) / arc, 1.0)
        at = at.bent((bent + errors["bend"]) * share, piece["radius_mm"] * (1 + errors["radius"]))
    if into > first + arc:
        at = at.along((into - first - arc) + half * (into - first - arc) / last)
    return at


def _best(
    met: Any, hand: Any, limits: tuple[float, ...], slides: tuple[float, float], count: int, over: float
) -> tuple[Array, Array]:
    """Turn and slide with the least step and kink together, each by what is allowed of it; `over`: what is over a limit
    weighs so much more."""
    most = np.radians(hand["turn_deg"])
    turn, slide = np.zeros(count), np.full(count, sum(slides) / 2)
    wide, far = most, (slides[1] - slides[0]) / 2
    for _ in range(ROUNDS):
        least, best = np.full(count, np.inf), (turn, slide)
        for a in np.linspace(-wide, wide, WIDE):
            for b in np.linspace(-far, far, WIDE):
                tried = np.clip(turn + a, -most, most), np.clip(slide + b, *slides)
                found = met(*tried)
                badness = (found[0] / hand["spring_mm"]) ** 2 + (found[1] / (hand["kink_deg"] / 2)) ** 2
                for value, most in zip(found, limits, strict=True):
                    badness += over * np.maximum(value - 0.99 * most, 0.0) ** 2
                better = badness < least
                least = np.where(better, badness, least)
                best = np.where(better, tried[0], best[0]), np.where(better, tried[1], best[1])
        (turn, slide), wide, far = best, wide * FINER, far * FINER
    return turn, slide
