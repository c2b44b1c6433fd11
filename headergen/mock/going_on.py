"""The order in which all that is printed goes on: tubes, the collectors that runs begin on, tubes on others last."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from headergen.geometry.curves.stepped import widest_radius
from headergen.geometry.mesh.triangles import Points
from headergen.mock.collected import CollectorPlan
from headergen.mock.joint import END_GAP
from headergen.mock.order import NONE, Going, order_of
from headergen.mock.part import MockPart, in_place
from headergen.mock.plan import RunPlan, Twin
from headergen.mock.standing_on import seated_order
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
    in it, and a note where none was found."""
    (collectors, made), names = collected, {part.name for part in parts}
    before = _before(collectors)
    going = [
        Going(
            twin.name, plan.line, twin.start, twin.end, widest_radius(plan.run), before.get(plan.run.name, frozenset())
        )
        for plan, twins in tubes
        if not any(plan.seats)
        for twin in twins
        if twin.is_steel or twin.name in names
    ]
    seated = seated_order(tubes, names, settings.letter)
    own = {*(each.name for each in going), *seated}
    walls = [in_place(part).triangles.reshape(-1, 3) for part in parts if part.name not in own]
    held = max(settings.spigot, adapter_length(settings)) if settings.straights == "steel" else settings.spigot
    there = _there(collectors, made)
    found = order_of(going, np.concatenate([NONE, *walls]), held + END_GAP, there)
    order = (*_with_collectors((*found.stuck, *found.names), tubes, collectors, made), *seated)
    place = {name: k for k, name in enumerate(order)}
    ordered = tuple(sorted(parts, key=lambda part: place.get(part.name, -1)))
    if not found.stuck:
        return ordered, order, []
    return (
        ordered,
        order,
        [
            f"No order was found in which all parts go straight on: {', '.join(found.stuck)} are in each other's way. "
            "Put these on first, and turn them past each other."
        ],
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
        mine = [in_place(part).vertices for part in made if part.name.partition(".")[0] == plan.name]
        before = [found[line.run] for line in plan.ends if line.run in found]
        found[plan.followed_by] = np.concatenate([NONE, *mine, *before])
    found.pop("", None)
    return found


def _with_collectors(
    order: Sequence[str], tubes: _Tubes, collectors: Sequence[CollectorPlan], made: Sequence[MockPart]
) -> tuple[str, ...]:
    """With each collector that a run begins on, in front of the first part of that run."""
    found = list(order)
    for plan in collectors:
        mine = [part.name for part in made if part.name.partition(".")[0] == plan.name]
        first = next((twins[0].name for run, twins in tubes if run.run.name == plan.followed_by), "")
        if first in found:
            place = found.index(first)
            found[place:place] = mine
    return tuple(found)
