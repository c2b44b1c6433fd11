"""Which collectors are printed, in how many parts, and these parts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.measures import Merge
from headergen.mock.collector import (
    Collected,
    collector_part,
    height_to,
    outlet_line,
    outlet_tube,
    sleeve_stands_out,
)
from headergen.mock.cuts import EDGE, divide, least_length
from headergen.mock.joint import JointFit, fit_at
from headergen.mock.keys import Turns
from headergen.mock.part import MockPart
from headergen.mock.solid import MockError
from headergen.mock.tubes import Span, tube_part
from headergen.mock.wording import said
from headergen.model import Centreline, Collector, Header, MockSettings, Tube


@dataclass(frozen=True, eq=False)
class CollectorPlan:
    """A collector to be printed.

    `outlet`: the centreline of the separate parts of its outlet, with the places along it where each begins; None if
    the whole collector is one part.
    """

    name: str
    collector: Collector
    merge: Merge
    ends: tuple[Centreline, ...]
    outlet: Centreline | None
    begins: tuple[float, ...]


def plan_collectors(header: Header, settings: MockSettings) -> tuple[tuple[CollectorPlan, ...], tuple[str, ...]]:
    """The collectors that can be printed, if wanted, and a note for each of the others."""
    plans, notes = list[CollectorPlan](), list[str]()
    for number, collector in enumerate(header.draft.collectors if settings.collector else (), 1):
        name, merge = f"{settings.letter}C{number}", possible_merge(header.draft.tube, collector)
        into = {bore.run for bore in collector.bores}
        ends = tuple(line for run, line in header.tubes if run.is_primary and run.name in into)
        why = _why_not(merge, ends, settings)
        if why or merge is None:
            notes.append(f"Collector {collector.name} is not printed: {why}.")
            continue
        plans.append(_planned(name, collector, merge, ends, settings))
        if (out := sleeve_stands_out(merge, collector, header.draft.tube, settings)) > 0.0:
            notes.append(
                f"The sleeves of collector {collector.name} are {said(out, settings.units)} thicker than in steel."
            )
    return tuple(plans), tuple(notes)


def _why_not(merge: Merge | None, ends: tuple[Centreline, ...], settings: MockSettings) -> str:
    if merge is None:
        return "the spec asks for no merge, or there can be none"
    if not ends:
        return "no primary goes into it"
    x, y, z = settings.bed
    width = 2 * (merge.ring + merge.outer + settings.wall + EDGE)
    if width > min(x, y) or height_to(merge, merge.cone_end, settings) > z - EDGE:
        height = height_to(merge, merge.cone_end, settings)
        across, high = (said(each, settings.units, 0) for each in (width, height))
        return f"{across} across and {high} to its outlet, it is too large for the bed"
    return ""


def _planned(
    name: str, collector: Collector, merge: Merge, ends: tuple[Centreline, ...], settings: MockSettings
) -> CollectorPlan:
    room = settings.bed[2] - EDGE - height_to(merge, 0.0, settings)
    if merge.end <= room:
        return CollectorPlan(name, collector, merge, ends, None, ())
    first = max(min(room, merge.end - least_length(settings, False)), merge.cone_end)
    line = outlet_line(collector, merge, first)
    cuts = divide(line, [], 0.0, settings, merge.outlet_outer).cuts
    return CollectorPlan(name, collector, merge, ends, line, (0.0, *(cut.at for cut in cuts)))


def outlet_fits(
    plan: CollectorPlan, tube: Tube, settings: MockSettings, turns: Mapping[float, Turns]
) -> dict[float, JointFit]:
    """The joints of an outlet, by the place along it. Raises MockError if it is too thin for spigots."""
    if plan.outlet is None:
        return {}
    try:
        wide = outlet_tube(plan.merge, tube)
        return {at: fit_at(plan.outlet, at, wide, settings, turns.get(at)) for at in plan.begins}
    except MockError:
        raise MockError(f"the outlet of collector {plan.collector.name} is too slim for a spigot") from None


def collector_parts(
    plan: CollectorPlan,
    ends: Mapping[str, JointFit],
    outlet: Mapping[float, JointFit],
    tube: Tube,
    settings: MockSettings,
) -> Iterator[MockPart]:
    """The collector itself, then the parts of its outlet, downstream. `ends`: its spigots by primary."""
    if plan.outlet is None:
        yield collector_part(Collected(plan.name, plan.collector, plan.merge, plan.ends, ends, None), tube, settings)
        return
    first = plan.merge.end - plan.outlet.length
    names = (f"{plan.name}.{count}" for count in range(1, len(plan.begins) + 2))
    given = Collected(next(names), plan.collector, plan.merge, plan.ends, ends, (first, outlet[0.0]))
    yield collector_part(given, tube, settings)
    numbers = tuple(line.run for line in plan.ends)
    for start, end in pairwise([*plan.begins, plan.outlet.length]):
        span = Span(start, end, outlet[start], outlet.get(end))
        part = tube_part(plan.outlet, span, plan.merge.outlet_outer, settings, (), next(names))
        yield replace(part, runs=numbers)


def hung_on(plans: tuple[CollectorPlan, ...], parts: tuple[MockPart, ...], settings: MockSettings) -> dict[str, float]:
    """The share of the collector's mass that each primary carries, g."""
    found: dict[str, float] = {}
    for plan in plans:
        mine = [part for part in parts if part.name.partition(".")[0] == plan.name]
        mass = math.fsum(part.volume for part in mine) * settings.density / 1000
        found |= {line.run: mass / len(plan.ends) for line in plan.ends}
    return found
