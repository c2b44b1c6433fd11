"""Where the print of a primary is divided: at the joints of the plan, and then only where the printer asks for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from headergen.geometry.curves.body import Body, points_along, tube_body, ways_along
from headergen.geometry.mesh.triangles import Points
from headergen.mock.joint import END_GAP
from headergen.mock.lettering import HEIGHT
from headergen.model import Centreline, Line, MockSettings, WeldJoint

SPARE = 3.0  # mm of a part besides its socket and its letters
SOCKET_BOTTOM = 3.0  # mm along the tube in which the bottom of a socket closes, at most
SAMPLE = 2.0  # mm between the sample points for a part's size on the bed
STEP = 1.0  # mm between the places tried for a cut
EDGE = 2.0  # mm of the bed and of its height left free all round
LEANS = (0.5, 0.6, 0.7, 0.8, 0.9)  # of the lean that the printer manages: what is tried for parts that lean less


@dataclass(frozen=True)
class Cut:
    """A place where the print is divided, as length from the flange; `joint` is None if only the printer needs it."""

    at: float
    joint: int | None


@dataclass(frozen=True)
class Divided:
    """The cuts of one primary, the joints left out for want of room, and where the steel straights begin."""

    cuts: tuple[Cut, ...]
    left_out: tuple[int, ...]
    steel: frozenset[float] = frozenset()


# of where stretches begin and end: where else to cut, and where those of steel then begin
Steel = Callable[[Sequence[float]], tuple[Sequence[float], Collection[float]]]
Between = tuple[float, float]
# of a part's beginning, and places: those at which it may end, in the same order, looked at no further than is needed
Able = Callable[[float, Sequence[float]], Iterator[float]]


@dataclass(frozen=True)
class CutNeeds:
    """What the cuts of a run need besides what the printer needs.

    `last_socket`: the last part has a socket too. `steel`: what stays whole, since it is real tube. `past`: what goes
    on past the steel's end; the last part has some of the steel's length too, so that it is the twin of a piece.
    `whole`: the lengths between which nothing is cut.
    """

    last_socket: bool = False
    steel: Steel = lambda _: ((), ())
    past: float = 0.0
    whole: tuple[Between, ...] = ()

    def allows(self, at: float) -> bool:
        """Whether a cut may be at a length."""
        return not any(low < at < high for low, high in self.whole)


def least_length(settings: MockSettings, socket: bool) -> float:
    """The length of the shortest part with room for its socket, if it has one, and its letters."""
    return HEIGHT + SPARE + (settings.spigot + END_GAP + SOCKET_BOTTOM if socket else 0.0)


def divide(
    line: Centreline,
    joints: Sequence[WeldJoint],
    begins: float,
    settings: MockSettings,
    radius: float,
    needs: CutNeeds = CutNeeds(),
) -> Divided:
    """The cuts between `begins`, where the first tube part starts, and the collector plane."""
    last = least_length(settings, needs.last_socket)
    kept, left_out = _with_room(line, joints, begins, (settings, needs), last)
    last += needs.past
    cuts: list[Cut] = []
    further, starts = needs.steel([begins, *(cut.at for cut in kept), line.length])
    kept = sorted([*kept, *(Cut(at, None) for at in further)], key=lambda cut: cut.at)
    places, steel = [begins, *(cut.at for cut in kept), line.length], frozenset(starts)
    for index, (start, end) in enumerate(pairwise(places)):
        if start not in steel:
            cuts += (Cut(at, None) for at in _divided_for_bed(line, (start, end), (settings, needs), radius, last))
        if index < len(kept):
            cuts.append(kept[index])
    return Divided(tuple(cuts), left_out, steel)


def _with_room(
    line: Centreline, joints: Sequence[WeldJoint], begins: float, given: tuple[MockSettings, CutNeeds], last: float
) -> tuple[list[Cut], tuple[int, ...]]:
    """The joints that leave every part long enough, and the numbers of the others."""
    settings, needs = given
    least = least_length(settings, True)
    kept: list[Cut] = []
    for joint in joints:
        before = kept[-1].at if kept else begins
        if joint.at - before >= least and line.length - joint.at >= last and needs.allows(joint.at):
            kept.append(Cut(joint.at, joint.number))
    numbers = {cut.joint for cut in kept}
    return kept, tuple(joint.number for joint in joints if joint.at > begins and joint.number not in numbers)


def _divided_for_bed(
    line: Centreline, between: Between, given: tuple[MockSettings, CutNeeds], radius: float, last: float
) -> list[float]:
    """Further cuts, as few as the printer allows, and so that parts lean little.

    A part stands on its end toward the collector. A part too short to divide stays whole, however far it leans.
    """
    settings, needs = given
    least, body = least_length(settings, True), tube_body(line, radius)
    rest = last if math.isclose(between[1], line.length) else least

    def cut_up(share: float, straights: Sequence[tuple[float, float]]) -> list[float]:
        steady = replace(settings, lean=share * settings.lean)

        def able(low: float, highs: Sequence[float]) -> Iterator[float]:
            for high in _hardly_turned(body, low, highs, steady.lean):
                if (high == between[1] or needs.allows(high)) and can_stand(body, low, high, steady):
                    yield high

        return _cut_up(between, (least, rest), able, straights)

    fewest = cut_up(1.0, ())
    if not fewest:
        return fewest
    straights = [
        (begin, begin + segment.length)
        for segment, begin in zip(line.segments, line.starts, strict=False)
        if isinstance(segment, Line)
    ]

    def counted(cuts: Sequence[float]) -> tuple[int, int]:
        parts = pairwise([between[0], *cuts, between[1]])
        return sum(not can_stand(body, *part, settings) for part in parts), len(cuts)

    # with as many parts: leaning as little as can be, else cut in straights
    best, tried = counted(fewest), [*((share, ()) for share in LEANS), (1.0, straights)]
    return next((cuts for each in tried if counted(cuts := cut_up(*each)) <= best), fewest)


def _cut_up(
    between: Between,
    leasts: tuple[float, float],
    able: Able,
    straights: Sequence[tuple[float, float]],
) -> list[float]:
    """Cuts, each as far along as a part can stand, or in one of the `straights` not much nearer. `leasts`: of the
    lengths of a part and of the last one."""
    cuts: list[float] = []
    (start, end), (least, rest) = between, leasts
    while end not in able(start, [end]):
        farthest = end - rest
        if farthest - start < least:
            break
        count = int((farthest - start - least) / STEP)
        tried = able(start, [farthest - STEP * k for k in range(count + 1)])
        start = _best_cut(straights, tried, start, start + least)
        cuts.append(start)
    return cuts


def _best_cut(straights: Sequence[tuple[float, float]], able: Iterable[float], start: float, otherwise: float) -> float:
    """The farthest place, or the farthest in a straight when that keeps at least two thirds of the length.

    `able`: places that the printer allows, farthest first, looked at no further than is needed.
    """
    farthest: float | None = None
    for at in able:
        farthest = at if farthest is None else farthest
        if not straights or at - start < (farthest - start) * 2 / 3:
            break
        if any(low + END_GAP < at < high for low, high in straights):
            return at
    return otherwise if farthest is None else farthest


def _hardly_turned(tube: Body, start: float, places: Sequence[float], lean: float) -> list[float]:
    """The places at which a tube has turned no further from its direction at `start` than `lean`: only from there on
    can a part stand that begins at `start`."""
    tangents = ways_along(tube, np.array([start, *places]))
    return [at for at, turn in zip(places, _turns(tangents[1:], tangents[0]), strict=True) if turn <= lean + 1e-9]


def _turns(tangents: Points, way: Points) -> Points:
    """(n,) angles between unit vectors and one of them, radians."""
    return np.asarray(np.arccos(np.clip(tangents @ way, -1.0, 1.0)))


def can_stand(tube: Body, start: float, end: float, settings: MockSettings) -> bool:
    """Whether the part between two lengths fits on the bed and leans nowhere too far, standing on its far end."""
    points, lean = standing(tube, start, end, settings.spigot)
    if lean > settings.lean + 1e-9:
        return False
    height = float(points[:, 2].max()) + tube.radius * math.sin(lean)
    width, depth = np.ptp(points[:, :2], axis=0) + 2 * (tube.radius + EDGE)
    bed = sorted(settings.bed[:2])
    # the part can be turned about the vertical: its longer side goes along the longer side of the bed
    across, along = sorted((float(width), float(depth)))
    return height <= settings.bed[2] - EDGE and across <= bed[0] and along <= bed[1]


def standing(tube: Body, start: float, end: float, spigot: float) -> tuple[Points, float]:
    """(n, 3) points along a part of a tube and its spigot, standing on its far end, and its largest lean, radians.

    The first axis is along the part's lean, so the second is its narrow side.
    """
    at = np.linspace(start, end, max(2, math.ceil((end - start) / SAMPLE)) + 1)
    along, tangents = points_along(tube, at), ways_along(tube, at)
    points = np.vstack([along, along[:1] - spigot * tangents[:1]])
    base, down = along[-1], tangents[-1]
    up = -down
    local = points - base
    heights = local @ up
    level = local - heights[:, None] * up
    far = level[np.argmax(np.linalg.norm(level, axis=1))]
    size = float(np.linalg.norm(far))
    x = far / size if size > 1e-6 else np.array(_any_level(up))
    lean = float(_turns(tangents, down).max())
    return np.column_stack([level @ x, level @ np.cross(up, x), heights]), lean


def _any_level(up: Points) -> Points:
    seed = np.eye(3)[int(np.argmin(np.abs(up)))]
    square = seed - (seed @ up) * up
    return np.asarray(square / np.linalg.norm(square))
