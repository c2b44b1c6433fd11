"""The order in which all that is printed goes on: tubes, those on the side of others, the collectors they begin on."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence

import numpy as np

from headergen.geometry.curves.stepped import widest_radius
from headergen.geometry.mesh.triangles import Points
from headergen.mock.collected import CollectorPlan
from headergen.mock.joint import END_GAP
from headergen.mock.order import NONE, Going, order_of
from headergen.mock.part import MockPart, in_place
from headergen.mock.plan import RunPlan, Twin
from headergen.mock.standing_on import nipple_name
from headergen.mock.steel_adapter import adapter_length
from headergen.model import MockSettings

_Tubes = Sequence[tuple[RunPlan, tuple[Twin, ...]]]  # each run, and what stands for its pieces


def in_order(
    parts: Sequence[MockPart],
    tubes: _Tubes,
    collected: tuple[Sequence[CollectorPlan], Sequence[MockPart]],
    settings: MockSettings,
) -> tuple[tuple[MockPart, ...], tuple[str, ...], list[str]]:
    """The parts in an order in which they go on, that order with steel straights and the collectors that runs begin on
    in it, and notes where none was found.

    Tubes on the side of others have a place in it where one is found, else they come last.
    """
    names = {part.name for part in parts}
    nipples = {twins[-1].name: nipple_name(plan, settings.letter) for plan, twins in tubes if plan.ends_on_another}
    own = {*nipples.values(), *(twin.name for _, twins in tubes for twin in twins)}
    walls = [in_place(part).triangles.reshape(-1, 3) for part in parts if part.name not in own]
    held = max(settings.spigot, adapter_length(settings)) if settings.straights == "steel" else settings.spigot
    there, plates = _there(*collected), np.concatenate([NONE, *walls])
    before = _before(collected[0])
    ordinary = [going for pair in tubes if not any(pair[0].seats) for going in _going(*pair, names, before)]
    seated = [going for pair in tubes if any(pair[0].seats) for going in _going(*pair, names, before)]
    there |= {each.line.run: np.concatenate([NONE, *(there.get(on.host, NONE) for on in each.sits)]) for each in seated}
    found, last = order_of([*ordinary, *seated], plates, held + END_GAP, there), tuple[str, ...]()
    if seated and found.stuck:
        found, last = order_of(ordinary, plates, held + END_GAP, there), tuple(each.name for each in seated)
    order = _with_collectors((*found.stuck, *found.names), tubes, *collected)
    order = tuple(_with_nipples((*order, *last), nipples, names))
    place = {name: k for k, name in enumerate(order)}
    ordered = tuple(sorted(parts, key=lambda part: place.get(part.name, -1)))
    return ordered, order, list(_not_found(found.stuck, last))


def _going(
    plan: RunPlan, twins: Sequence[Twin], names: Container[str], before: Mapping[str, frozenset[str]]
) -> Iterator[Going]:
    """The parts of a run as they go on, from its start."""
    after = frozenset[str]().union(*(before.get(run, ()) for run in (plan.run.name, *_hosts(plan))))
    for twin in twins:
        if twin.is_steel or twin.name in names:
            ends = ((plan.seats[0], twin is twins[0]), (plan.seats[1], twin is twins[-1]))
            sits = tuple(joint for joint, is_there in ends if joint is not None and is_there)
            yield Going(twin.name, plan.line, twin.start, twin.end, widest_radius(plan.run), after, sits)


def _with_nipples(order: Sequence[str], nipples: Mapping[str, str], names: Container[str]) -> Iterator[str]:
    """With the nipple of each part that is printed the other way round, in front of it."""
    for name in order:
        if nipples.get(name) in names:
            yield nipples[name]
        yield name


def _not_found(stuck: Sequence[str], last: Sequence[str]) -> Iterator[str]:
    """What is said of parts for which no place in the order was found."""
    if stuck:
        yield (
            f"No order was found in which all parts go straight on: {', '.join(stuck)} are in each other's way. "
            "Put these on first, and turn them past each other."
        )
    if last:
        yield (
            f"No way was found for tubes on the side of others: {', '.join(last)} come last. Where one does not go "
            "between, pull the run that it ends on apart at the joint before it, put the two together, and push that "
            "home through the fishmouth."
        )


def _before(collectors: Sequence[CollectorPlan]) -> dict[str, frozenset[str]]:
    """By run: all those that lead to the collector that it begins on. `collectors` in the order of the gas flow."""
    found: dict[str, frozenset[str]] = {}
    for plan in collectors:
        into = frozenset(line.run for line in plan.ends)
        found[plan.followed_by] = into.union(*(found.get(run, frozenset()) for run in into))
    return found


def _there(collectors: Sequence[CollectorPlan], made: Sequence[MockPart]) -> dict[str, Points]:
    """By run: points on the collector that it begins on, and on those before that."""
    found: dict[str, Points] = {}
    for plan in collectors:
        mine = [in_place(part).vertices for part in made if part.collector == plan.collector.name]
        before = [found[line.run] for line in plan.ends if line.run in found]
        found[plan.followed_by] = np.concatenate([NONE, *mine, *before])
    found.pop("", None)
    return found


def _with_collectors(
    order: Sequence[str], tubes: _Tubes, collectors: Sequence[CollectorPlan], made: Sequence[MockPart]
) -> tuple[str, ...]:
    """With each collector that a run begins on, in front of the first part of that run and of what ends on it."""
    found = list(order)
    for plan in collectors:
        mine = [part.name for part in made if part.collector == plan.collector.name]
        firsts = [twins[0].name for run, twins in tubes if plan.followed_by in (run.run.name, *_hosts(run))]
        places = [found.index(name) for name in firsts if name in found]
        if places:
            found[min(places) : min(places)] = mine
    return tuple(found)


def _hosts(plan: RunPlan) -> list[str]:
    return [joint.host for joint in plan.seats if joint is not None]
