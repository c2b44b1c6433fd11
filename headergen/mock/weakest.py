"""The most stressed section of each part that a run hangs on, steel straights and their adapters among them."""

from __future__ import annotations

import math
from collections.abc import Container, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from headergen.mock.part import MockPart
from headergen.mock.strength import Load, Neck, TubeSection, necks, placed_sections
from headergen.model import MockSettings


def weakest_necks(
    parts: Sequence[MockPart],
    settings: MockSettings,
    hung: Mapping[str, Sequence[Load]] = MappingProxyType({}),
    steel: Mapping[str, Sequence[TubeSection]] = MappingProxyType({}),
    held: tuple[Sequence[MockPart], Container[str]] = ((), ()),
) -> dict[str, Neck]:
    """The most stressed neck of each part, over the runs that hang on it; `hung`: on the end of each beside the weight
    that is set; `steel`: sections of what a part, by name, holds of real tube, in engine axes; `held`: the
    adapters that hold that tube, and the runs that end on another one, on which nothing is hung."""
    adapters, propped = held
    found: dict[str, Neck] = {}
    for run in dict.fromkeys(run for part in parts for run in part.runs):
        chain = [
            (name, section)
            for part in parts
            for name, sections in (
                (part.name, placed_sections(part.sections, part.home)),
                ("", steel.get(part.name, ())),
            )
            for section in sections
            if section.run == run
        ]
        for adapter in (adapter for adapter in adapters if run in adapter.runs):
            chain = _with_adapter(chain, adapter)
        given = replace(settings, weight=0.0) if run in propped else settings
        for name, neck in necks(chain, given, hung.get(run, ())).items():
            if name not in found or neck.stress > found[name].stress:
                found[name] = neck
    found.pop("", None)
    return found


def _with_adapter(chain: list[tuple[str, TubeSection]], adapter: MockPart) -> list[tuple[str, TubeSection]]:
    """With an adapter's sections in front of the steel that it holds, if that is part of the mock."""
    mine = placed_sections(adapter.sections, adapter.home)
    away = {k: math.dist(each.place, mine[-1].place) for k, (name, each) in enumerate(chain) if not name}
    if not away or min(away.values()) > adapter.size[2]:
        return chain
    at = min(away, key=lambda k: away[k])
    return [*chain[:at], *((adapter.name, each) for each in mine), *chain[at:]]
