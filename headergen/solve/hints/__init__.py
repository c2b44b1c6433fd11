"""Hints on findings: only changes that were applied, closed, measured and judged again, and helped.

First a tube or a collector is moved clear of everything it is too near to, then of one thing at a time; conflicting
needs are reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from headergen.checks.measure import Meshes
from headergen.checks.moves import may_give_way, say_shift
from headergen.model import Gap, Run, Survey, Vec
from headergen.model.finding import Finding
from headergen.solve.hints.collectors import Surroundings, collector_of, led_there, surroundings_of, ways_clear
from headergen.solve.hints.half_spaces import HalfSpace, pulling
from headergen.solve.hints.merges import RULES as MERGES
from headergen.solve.hints.merges import merge_hint
from headergen.solve.hints.primaries import (
    all_closed,
    freed_of,
    led_aside,
    newly_short,
    seen_from,
    shift_at,
    with_primary,
)
from headergen.solve.hints.trial import Known, outcome_of
from headergen.words.say import say_length

GAPS_OF_PRIMARIES = ("gap-chassis", "gap-tubes")
Hints = dict[Finding, str]


@dataclass(frozen=True, eq=False)
class Advice:
    """The hints after trying to clear some findings, and whether they were cleared."""

    hints: Hints
    helped: bool


def with_hints(findings: tuple[Finding, ...], survey: Survey, meshes: Meshes) -> tuple[Finding, ...]:
    """The findings in their order, each with its hint in its message."""
    known = Known(survey, findings, meshes)
    hints = _after_closing(known)
    for finding in findings:
        if finding not in hints and finding.level == "error":
            hints |= _hints_of(finding, known)
    return tuple(_saying(finding, hints.get(finding, "")) for finding in findings)


def _saying(finding: Finding, hint: str) -> Finding:
    return replace(finding, message=f"{finding.message.removesuffix('.')}; {hint}.") if hint else finding


def _hints_of(finding: Finding, known: Known) -> Hints:
    """Hints for a finding, and for those that were cleared with it; empty hints if nothing was found to help."""
    if finding.rule in MERGES:
        return {finding: merge_hint(finding, known)}
    outcome = Advice({finding: ""}, helped=False)
    for attempt in _attempts(finding, known):
        if attempt.helped or not outcome.hints[finding]:
            outcome = attempt
        if attempt.helped:
            break
    return outcome.hints


def _attempts(finding: Finding, known: Known) -> Iterator[Advice]:
    """One attempt for each thing in a finding that could move."""
    if finding.rule in GAPS_OF_PRIMARIES:
        for run in _movable(finding, known):
            yield _of_primary(finding, run, known)
        return
    name = collector_of(known.header, finding.where) if finding.rule == "part-clear" else None
    arriving = {run.name for run in known.header.runs if run.end.collector == name}
    if name is not None and not arriving & _missing(known):
        yield _of_collector(finding, name, known)


def _after_closing(known: Known) -> Hints:
    """The new gaps that are too small once the values that would close the primaries are free, if there are any."""
    units, hints = known.header.draft.units, dict[Finding, str]()
    closed = all_closed(known)
    for finding in known.findings if closed is not None else ():
        name = next((each for each in freed_of(known) if finding.where == each), None)
        if closed is not None and name is not None and finding.rule == "closing":
            for gap in newly_short(known, closed, name)[:1]:
                deep = gap.value < 0
                how = f"{say_length(abs(gap.value), units)} {'deep in' if deep else 'from'} {gap.b}"
                hints[finding] = f"it would then be {how}; {say_length(gap.required, units)} is required"
    return hints


def _missing(known: Known) -> set[str]:
    """Runs that do not reach their bores; until they do, no hint tells a thing to move for a gap."""
    return {miss.run for miss in known.header.misses}


def _movable(finding: Finding, known: Known) -> Iterator[str]:
    """The runs of a gap that reach their bores and may move where the gap is smallest."""
    missing = _missing(known)
    locked = {run.name for run in known.header.draft.runs if run.locked}
    for gap in known.survey.gaps:
        for place in gap.places if _is_of(finding, gap) else ():
            if place.run not in missing | locked and may_give_way(known.header, place):
                yield place.run


def _is_of(finding: Finding, gap: Gap) -> bool:
    """Whether a finding is about this gap."""
    sides = gap.a, gap.b
    is_it = gap.is_too_small and finding.rule in GAPS_OF_PRIMARIES
    return is_it and sides == (finding.where, finding.against) and finding.point in gap.points


def _of_primary(finding: Finding, name: str, known: Known) -> Advice:
    """One path clear of everything a primary is too near to, or else of this one thing."""
    primary = known.header.run(name)
    about = {
        each: seen_from(gap, name)
        for each in known.findings
        for gap in known.survey.gaps
        if _is_of(each, gap) and name in _movable(each, known)
    }
    cuts: tuple[HalfSpace, ...] = ()
    for group in _groups([*about], [finding]):
        led = led_aside(known, primary, [about[each] for each in group])
        cuts = (*cuts, *led.cuts)
        draft = None if led.primary is None else with_primary(known.header.draft, led.primary)
        if led.primary is not None and draft is not None and outcome_of(draft, known, group, {name}).helps:
            return Advice({each: _say_led(primary, led.primary, about[each], known) for each in group}, helped=True)
    return _held(finding, name, about[finding].b, cuts)


def _of_collector(finding: Finding, name: str, known: Known) -> Advice:
    """One shift clear of everything a collector's parts are too near to, or else of this item."""
    chassis = {item.name for item in known.header.draft.chassis}
    about = [
        each
        for each in known.findings
        if each.rule == "part-clear" and each.against in chassis and collector_of(known.header, each.where) == name
    ]
    same_item = [each for each in about if each.against == finding.against]
    around, said = surroundings_of(known.header, known.meshes, name), ""
    for group in _groups(about, same_item) if finding in about else []:
        shift, hindrance = _tried(known, around, name, group)
        if shift is None:
            continue
        moved = f"moving collector {name} by {say_shift(shift, known.header.draft.units)} would clear it"
        if not hindrance:
            return Advice(dict.fromkeys(group, f"{moved}, with its tubes brought along"), helped=True)
        said = f"{moved}, but {hindrance}"
    return Advice({**dict.fromkeys(same_item, ""), finding: said}, helped=False)


def _tried(known: Known, around: Surroundings, name: str, group: Sequence[Finding]) -> tuple[Vec | None, str]:
    """The shortest shift that clears a group of findings, and what prevents it; None if there is none."""
    for way in ways_clear(around, [(each.where, each.against) for each in group])[:1]:
        if way.blocked:
            return way.shift, f"bring it too near to {way.blocked}"
        draft = led_there(known.header, name, way.shift)
        if draft is None:
            return way.shift, "not all of its tubes can follow it at their lengths"
        outcome = outcome_of(draft, known, group)
        if outcome.helps:
            return way.shift, ""
        if outcome.worse:
            return way.shift, _trouble(outcome.worse[0])
    return None, ""


def _trouble(finding: Finding) -> str:
    if not finding.against:
        return f"another error appears: {finding.message.removesuffix('.')}"
    led = ", brought there," if finding.rule in GAPS_OF_PRIMARIES else ""
    return f"{finding.where}{led} comes too near to {finding.against}"


def _groups(everything: list[Finding], alone: list[Finding]) -> list[list[Finding]]:
    return [everything, alone] if len(everything) > len(alone) else [alone]


def _say_led(before: Run, after: Run, gap: Gap, known: Known) -> str:
    shift = shift_at(before, after, gap.place)
    return f"moving {before.name} by {say_shift(shift, known.header.draft.units)} there would clear it"


def _held(finding: Finding, mover: str, thing: str, cuts: Sequence[HalfSpace]) -> Advice:
    """Reports what holds a thing that could not be cleared between two others, if that is the reason."""
    other = pulling(cuts, thing)
    said = f"{mover} is held between {thing} and {other}: moved away from one, it comes too near to the other"
    return Advice({finding: said if other else ""}, helped=False)
