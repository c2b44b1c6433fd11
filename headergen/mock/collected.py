"""Which collectors are printed, in how many parts, and these parts.

A collector is printed if that is asked for, or if a run begins at its outlet: the run is held by it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from headergen.geometry.curves.sides import hosts_first, leaves_side
from headergen.geometry.curves.stepped import OutsideSpan
from headergen.geometry.merge.design import AnyMerge, possible_merge
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.mock.collector import (
    Collected,
    collector_part,
    height_to,
    outlet_line,
    outlet_radius,
    outlet_tube,
    sleeve_stands_out,
)
from headergen.mock.cuts import EDGE, CutNeeds, divide, least_length
from headergen.mock.joint import END_GAP, RIB_LENGTH, JointFit, fit_at, joint_frame
from headergen.mock.keys import Turns
from headergen.mock.part import MockPart, load_of
from headergen.mock.sizes import Outside, one_size
from headergen.mock.solid import MockError
from headergen.mock.strength import Load
from headergen.mock.tubes import Span, tube_part
from headergen.mock.uneven_collector import size_across
from headergen.model import Centreline, Collector, Header, MockSettings, Run, Tube
from headergen.shop.side_cuts import named_joints
from headergen.words.numbers import with_unit


@dataclass(frozen=True, eq=False)
class CollectorPlan:
    """A collector to be printed.

    `arriving`: the tube of its `ends`. `outlet`: the centreline of the separate parts of its outlet, with the places
    along it where each begins; None if the whole collector is one part. `following`: the run that begins at its
    outlet, if there is one.
    """

    name: str
    collector: Collector
    merge: AnyMerge
    arriving: Tube
    ends: tuple[Centreline, ...]
    outlet: Centreline | None
    begins: tuple[float, ...]
    following: Centreline | None = None

    @property
    def followed_by(self) -> str:
        return "" if self.following is None else self.following.run


def plan_collectors(header: Header, settings: MockSettings) -> tuple[tuple[CollectorPlan, ...], tuple[str, ...]]:
    """The collectors that can be printed, of those that are asked for or have a run at their outlet, and notes.

    Each collector comes after those whose outlets go into it.
    """
    plans, notes, tried = list[CollectorPlan](), list[str](), set[str]()
    following = {run.source: line for run, line in header.tubes if not run.is_primary}
    while waiting := _next(header, tried):
        number, collector = waiting
        tried.add(collector.name)
        if collector.mouth or not (settings.collector or collector.name in following):
            continue
        name, merge = f"{settings.letter}C{number}", possible_merge(header.draft.tube, collector)
        into = {bore.run for bore in collector.bores}
        ends = tuple(line for run, line in held_runs(header, plans) if run.name in into)
        why = _infeasibility(merge, ends, settings)
        if why or merge is None:
            notes.append(f"Collector {collector.name} is not printed: {why}.")
            continue
        arriving = collector.arriving or header.draft.tube
        plans.append(_planned((name, collector, arriving), merge, ends, following.get(collector.name), settings))
        if (out := sleeve_stands_out(merge, collector, arriving, settings)) > 0.0:
            notes.append(
                f"The sleeves of collector {collector.name} are {with_unit(out, settings.units)} thicker than in steel."
            )
    return tuple(plans), tuple(notes)


def _next(header: Header, tried: set[str]) -> tuple[int, Collector] | None:
    """The first collector that is not tried yet, and whose bores take no outlet of one that is not; with its number."""
    sources = {run.name: run.source for run in header.runs}
    for number, collector in enumerate(header.draft.collectors, 1):
        before = {sources.get(bore.run, "") for bore in collector.bores} - {""}
        if collector.name not in tried and before <= tried:
            return number, collector
    return None


def held_runs(header: Header, plans: Sequence[CollectorPlan]) -> list[tuple[Run, Centreline]]:
    """The runs whose beginning has something to hold it: primaries, and those after a printed collector.

    A run on the side of others is held where they are.
    """
    followed = {plan.collector.name for plan in plans}
    sound, names = {(joint.run, joint.host) for _, joint in named_joints(header)}, set[str]()
    for run in hosts_first(header.runs):
        hosts = {side.run for side, _ in run.sides}
        begins = run.is_primary or run.source in followed or leaves_side(run)
        if begins and hosts <= names and all((run.name, host) in sound for host in hosts):
            names.add(run.name)
    return [(run, line) for run, line in header.tubes if run.name in names]


def _infeasibility(merge: AnyMerge | None, ends: tuple[Centreline, ...], settings: MockSettings) -> str:
    if merge is None:
        return "the spec asks for no merge, or there can be none"
    if not ends:
        return "no printed tube goes into it"
    x, y, z = settings.bed
    sides = _sides(merge, settings)
    if sides[0] > min(x, y) or sides[1] > max(x, y) or height_to(merge, merge.cone_end, settings) > z - EDGE:
        height = height_to(merge, merge.cone_end, settings)
        across, high = (with_unit(each, settings.units, 0) for each in (sides[1], height))
        return f"{across} across and {high} to its outlet, it is too large for the bed"
    return ""


def _sides(merge: AnyMerge, settings: MockSettings) -> tuple[float, float]:
    """What it takes of the bed, the shorter side first."""
    more = settings.wall + EDGE
    if isinstance(merge, UnevenMerge):
        narrow, wide = sorted(size_across(merge, more))
        return narrow, wide
    width = 2 * (merge.ring + merge.outer + more)
    return width, width


def _planned(
    named: tuple[str, Collector, Tube],
    merge: AnyMerge,
    ends: tuple[Centreline, ...],
    following: Centreline | None,
    settings: MockSettings,
) -> CollectorPlan:
    collector = named[1]
    room = settings.bed[2] - EDGE - height_to(merge, 0.0, settings)
    if merge.end <= room:
        return CollectorPlan(*named[:2], merge, named[2], ends, None, (), following)
    has_socket = following is not None
    first = max(min(room, merge.end - least_length(settings, has_socket)), merge.cone_end)
    line = outlet_line(collector, merge, first, following)
    cuts = divide(line, [], 0.0, settings, merge.outlet_outer, CutNeeds(has_socket)).cuts
    begins = (0.0, *(cut.at for cut in cuts))
    return CollectorPlan(*named[:2], merge, named[2], ends, line, begins, following)


def outlet_fits(plan: CollectorPlan, settings: MockSettings, turns: Mapping[float, Turns]) -> dict[float, JointFit]:
    """The joints of an outlet, by the place along it. Raises MockError if it is too thin for spigots."""
    if plan.outlet is None:
        return {}
    try:
        wide = outlet_tube(plan.merge, plan.arriving)
        return {at: fit_at(plan.outlet, at, wide, settings, turns.get(at)) for at in plan.begins}
    except MockError:
        raise MockError(f"the outlet of collector {plan.collector.name} is too slim for a spigot") from None


def slimmer_outlet(plan: CollectorPlan, settings: MockSettings) -> tuple[float, float]:
    """By how much an outlet is slimmer than at its end, over the spigot of the run after it, and over its ribs."""
    merge = plan.merge
    if merge.end_outer <= merge.outlet_outer:
        return (0.0, 0.0)
    slope = (merge.end_outer - merge.outlet_outer) / (merge.end - merge.cone_end)
    return slope * (settings.spigot + END_GAP), slope * RIB_LENGTH


def collector_parts(
    plan: CollectorPlan,
    ends: Mapping[str, JointFit],
    outlet: Mapping[float, JointFit],
    after: JointFit | None,
    settings: MockSettings,
) -> Iterator[MockPart]:
    """The collector itself, then the parts of its outlet, downstream.

    `ends`: its spigots by run; `after`: the joint of the run that begins at its outlet.
    """
    tube = plan.arriving
    if plan.outlet is None:
        last = None if after is None or plan.following is None else (joint_frame(plan.following, 0.0), after)
        whole = Collected(plan.name, plan.collector, plan.merge, plan.ends, ends, last, plan.followed_by)
        yield collector_part(whole, tube, settings)
        return
    names = (f"{plan.name}.{count}" for count in range(1, len(plan.begins) + 2))
    given = Collected(
        next(names), plan.collector, plan.merge, plan.ends, ends, (joint_frame(plan.outlet, 0.0), outlet[0.0])
    )
    yield collector_part(given, tube, settings)
    numbers = tuple(line.run for line in plan.ends)
    for start, end in pairwise([*plan.begins, plan.outlet.length]):
        span = Span(start, end, outlet[start], outlet.get(end, after))
        part = tube_part(plan.outlet, span, _outside_of_outlet(plan), settings, (), next(names))
        sockets = tuple((plan.followed_by, frame) for _, frame in part.sockets) if span.downstream is after else ()
        yield replace(part, runs=numbers, sockets=sockets, kind="collector", collector=plan.collector.name)


def _outside_of_outlet(plan: CollectorPlan) -> Outside:
    """Along the separate parts of an outlet, as far as it goes."""
    assert plan.outlet is not None
    merge, length = plan.merge, plan.outlet.length
    if merge.taper_to is None:
        return one_size(merge.outlet_outer)
    ends = outlet_radius(merge, merge.end - length), merge.end_outer
    return Outside((OutsideSpan(0.0, length, ends),))


def hung_on(
    plans: Sequence[CollectorPlan],
    parts: Sequence[MockPart],
    runs: Mapping[str, Sequence[Load]],
    settings: MockSettings,
) -> dict[str, tuple[Load, ...]]:
    """What hangs on the end of each run that goes into a printed collector: its share of that, and of what follows.

    `runs`: the weights of each run itself. `plans` come in the order of the gas flow.
    """
    beyond = dict[str, tuple[Load, ...]]()
    for plan in reversed(plans):
        mine = [part for part in parts if part.collector == plan.collector.name]
        hung = [load_of(part, settings.density) for part in mine]
        hung += [*runs.get(plan.followed_by, ()), *beyond.get(plan.followed_by, ())]
        share = len(plan.ends)
        beyond |= {line.run: tuple(Load(each.mass / share, each.at) for each in hung) for line in plan.ends}
    return beyond
