"""Tubes welded onto the side of another run: where they stand, and the curve in which both skins meet.

The axis of a branch meets that of the run it is on. `angle` is the angle between the branch, seen outward from there,
and the run's direction. The curve is that of two cylinders whose axes meet, as descriptive geometry develops it: with
the branch of radius r on a run of radius R, the generator at the turn φ from the plane of both axes meets the skin at
s(φ) = (√(R² − r²·sin²φ) + r·cosφ·cos(angle)) / sin(angle) from the run's axis, along the branch. It follows from the
distance of a point of that generator from the run's axis.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.stepped import tube_at
from headergen.geometry.frames import angle_between, cross, frame_from_normal, rotated, scaled, unit
from headergen.model import Bore, Centreline, Collector, Draft, Frame, Outlet, Run, Side, Tube, Vec

Span = tuple[float, float]
PLACES = 72  # round a branch, where the extent of its joint is looked for
SLIGHT = 1e-6  # sine of the angle between branch and run below which they have no common plane


@dataclass(frozen=True)
class SideJoint:
    """A branch on a run: `run` is the branch's name, `at_start` whether it begins there.

    `place`: where both axes meet; `out`: the branch's direction from there; `way`: the run's. `branch` and `tube`: the
    tubes of the two. `at`: the length along the run, `angle` that between `out` and `way`, in radians.
    """

    run: str
    host: str
    at_start: bool
    at: float
    place: Vec
    out: Vec
    way: Vec
    branch: Tube
    tube: Tube

    @property
    def angle(self) -> float:
        """Between the branch and the run that carries it, rad."""
        return angle_between(self.out, self.way)

    @property
    def is_possible(self) -> bool:
        """Whether both skins meet in one closed curve."""
        return self.branch.radius <= self.tube.radius and math.sin(self.angle) > SLIGHT

    @property
    def across(self) -> Frame:
        """At the place, z along `out` and x in the plane of both axes, toward the run's direction."""
        return frame_from_normal(self.place, self.out, self.way)


def fishmouth_height(joint: SideJoint, turn: float, radius: float | None = None) -> float:
    """From the run's axis along the branch to the run's skin, at a turn from x of `across`, in mm.

    `radius`: of the generator, the branch's outside unless given.
    """
    r, angle = joint.branch.radius if radius is None else radius, joint.angle
    across = math.sqrt(max(joint.tube.radius**2 - (r * math.sin(turn)) ** 2, 0.0))
    return (across + r * math.cos(turn) * math.cos(angle)) / math.sin(angle)


def on_run(joint: SideJoint, turn: float, radius: float | None = None) -> tuple[float, float]:
    """Where a generator of the branch meets the run's skin: the turn round the run, in radians, and mm along it.

    Both count from the place of the joint, on the side of the branch; positive turns go toward y of `across`. `turn`
    and `radius` as for `fishmouth_height`. The sine of the turn is r·sin φ / R.
    """
    r, angle = joint.branch.radius if radius is None else radius, joint.angle
    along = fishmouth_height(joint, turn, r) * math.cos(angle) + r * math.cos(turn) * math.sin(angle)
    return math.asin(max(-1.0, min(r * math.sin(turn) / joint.tube.radius, 1.0))), along


def highest(joint: SideJoint) -> float:
    """From the run's axis along the branch to the last place where their skins meet."""
    return max(fishmouth_height(joint, turn) for turn in _turns())


def footprint(joint: SideJoint) -> tuple[float, float]:
    """Where the joint begins and ends, as lengths along the run."""
    ahead = [on_run(joint, turn)[1] for turn in _turns()]
    return joint.at + min(ahead), joint.at + max(ahead)


def reach_on_run(side: Side, branch: float, run: float) -> float:
    """How far a joint reaches along a run to either side, by the radii of both; square to it if no angle is set."""
    angle = math.pi / 2 if side.angle is None else side.angle
    return (branch + run * abs(math.cos(angle))) / max(math.sin(angle), SLIGHT)


def clear_from(joint: SideJoint, gap: float) -> float:
    """From the run's axis along the branch to where the whole of it is at least `gap` off a straight run's skin."""
    angle = joint.angle
    return (joint.tube.radius + gap + joint.branch.radius * abs(math.cos(angle))) / math.sin(angle)


def measured_spans(tubes: Iterable[tuple[Run, Centreline]], gap: float) -> Mapping[tuple[str, str], Span]:
    """(branch, run that it is on) → the lengths along the branch over which both are kept apart.

    Near their joint they meet, so the branch is left out there until all of it is `gap` away, and half its width more.
    """
    known = {run.name: (run, line) for run, line in tubes}
    found = dict[tuple[str, str], Span]()
    for joint in side_joints(known.values()):
        low, high = found.get((joint.run, joint.host), (0.0, known[joint.run][1].length))
        free = clear_from(joint, gap) + joint.branch.radius if math.sin(joint.angle) > SLIGHT else math.inf
        if joint.at_start:
            low = max(low, free)
        else:
            high = min(high, known[joint.run][1].length - free)
        found[joint.run, joint.host] = low, high
    return found


def leaves_side(run: Run) -> bool:
    """Whether a run begins on the side of another."""
    return isinstance(run.start, Outlet) and run.start.side is not None


def _turns() -> Iterator[float]:
    return (2 * math.pi * k / PLACES for k in range(PLACES))


def side_joints(tubes: Iterable[tuple[Run, Centreline]]) -> tuple[SideJoint, ...]:
    """Every end of a run that is on the side of another one among `tubes`."""
    known = {run.name: (run, line) for run, line in tubes}
    return tuple(joint for run, _ in known.values() for joint in joints_of(run, known))


def joints_of(run: Run, hosts: Mapping[str, tuple[Run, Centreline]]) -> Iterator[SideJoint]:
    """The ends of a run on the side of those among `hosts`, by name; its own path need not be known."""
    for side, at_start in _sides(run):
        if side.run in hosts:
            yield _joint(run, side, hosts[side.run], at_start)


def _sides(run: Run) -> Iterator[tuple[Side, bool]]:
    if isinstance(run.start, Outlet) and run.start.side is not None:
        yield run.start.side, True
    if run.end.side is not None:
        yield run.end.side, False


def _joint(run: Run, side: Side, host: tuple[Run, Centreline], at_start: bool) -> SideJoint:
    place, way, _ = frame_at(host[1], side.at)
    along = turned_to(side, way)
    out, branch = (along, run.tubes[0]) if at_start else (scaled(along, -1.0), run.tubes[-1])
    return SideJoint(run.name, side.run, at_start, side.at, place, out, way, branch, tube_at(host[0], side.at))


def turned_to(side: Side, way: Vec) -> Vec:
    """The direction of the gas in a branch on a run that goes `way` there."""
    axis = cross(way, side.along)
    if side.angle is None or math.hypot(*axis) < SLIGHT:
        return side.along
    return unit(rotated(way, unit(axis), side.angle))


def side_frame(side: Side, line: Centreline) -> Frame:
    """On the axis of the run with this centreline: z along the gas in the branch, x toward the run's direction."""
    place, way, _ = frame_at(line, side.at)
    along = turned_to(side, way)
    lies_along = math.hypot(*cross(way, along)) < SLIGHT
    return frame_from_normal(place, along, None if lies_along else way)


def hosts_first(runs: Sequence[Run]) -> tuple[Run, ...]:
    """The runs in an order in which each comes after those that it is on; those in a circle come last."""
    left, found = list(runs), list[Run]()
    while left:
        names = {run.name for run in left}
        ready = [run for run in left if not any(side.run in names for side, _ in run.sides)]
        found += ready or left
        left = [run for run in left if run not in ready] if ready else []
    return tuple(found)


def carried_by(runs: Iterable[Run], names: Iterable[str]) -> frozenset[str]:
    """Names of the runs that stand on these, or on one that does, and these."""
    found, every = set(names), tuple(runs)
    while more := {r.name for r in every if any(side.run in found for side, _ in r.sides)} - found:
        found |= more
    return frozenset(found)


def placed(run: Run, lines: Mapping[str, Centreline]) -> Run:
    """A run with each end that is on the side of one of `lines` in its place."""
    if isinstance(run.start, Outlet) and run.start.side is not None and run.start.side.run in lines:
        side = run.start.side
        run = replace(run, start=replace(run.start, frame=side_frame(side, lines[side.run])))
    if run.end.side is not None and run.end.side.run in lines:
        run = replace(run, end=replace(run.end, frame=side_frame(run.end.side, lines[run.end.side.run])))
    return run


def in_their_places(draft: Draft, lines: Mapping[str, Centreline]) -> Draft:
    """The draft with each end that is on the side of one of `lines` in its place, at this end's collector as well."""
    return with_ends_of(draft, tuple(placed(run, lines) for run in draft.runs))


def with_ends_of(draft: Draft, runs: Sequence[Run]) -> Draft:
    """The draft with these runs' starts and ends, and with the places of those that end on the side of others."""
    ends = {run.end.collector: run.end for run in runs if run.end.side is not None}
    if not ends and not any(run.sides for run in runs):
        return draft
    known = {run.name: run for run in runs}
    now = ((each, known.get(each.name, each)) for each in draft.runs)
    own = (replace(each, start=run.start, end=run.end) for each, run in now)
    return replace(
        draft, collectors=tuple(_at(each, ends.get(each.name)) for each in draft.collectors), runs=tuple(own)
    )


def _at(collector: Collector, bore: Bore | None) -> Collector:
    return collector if bore is None else replace(collector, frame=bore.frame, bores=(bore,))
