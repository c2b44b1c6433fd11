"""A change applied as a whole: its gap afterwards, and its cost elsewhere."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from itertools import chain

from headergen.checks.again import gap_key
from headergen.model import Bend, Draft, Gap, Header, Survey, falls_short
from headergen.model.suggestion import ChangeKind, Costs, GapThen, NewPlace, NewSetting, NewValue, Suggestion
from headergen.solve.hints.trial import Known, Tried, made_worse, tried
from headergen.solve.hints.written import new_points
from headergen.words.say import say_length

CHECK = 60  # the cost of a check, in the unit of an Allowance
# costs: one gap measured; a clear place for a collector found; a part moved and all judged; a whole header judged
PAIR, SHIFT, PART, WHOLE = 4, 10, 10, 60
NOTICED = 0.05  # mm by which another gap must get smaller, or a run longer, to be reported
NEAR = 20.0  # mm above the requirement, within which another gap is reported
TOLD = 5  # gaps reported


@dataclass
class Allowance:
    """The remaining budget. A changed run is judged at the cost of `run`, its share of a check."""

    left: int
    run: int

    def takes(self, cost: int) -> bool:
        """Whether the cost can be paid; it is then subtracted."""
        if cost > self.left:
            return False
        self.left -= cost
        return True

    def measures(self) -> Iterator[int]:
        """Counts measurements of all gaps of one run, as many as can be paid, each paid when it is taken."""
        while self.takes(self.run // 2):
            yield 1


@dataclass(frozen=True)
class Failed:
    """A change that did not help, in words; or why there was none to apply."""

    why: str


@dataclass(frozen=True)
class OutOfTime:
    """More could have been tried."""


Attempt = Suggestion | Failed | OutOfTime


@dataclass(frozen=True)
class Change:
    """A changed draft that is ready to be judged.

    `runs`: the names of the only runs that differ; None if a collector has moved.
    """

    draft: Draft
    kind: ChangeKind
    what: str
    values: tuple[NewValue, ...]
    places: tuple[NewPlace, ...] = ()
    settings: tuple[NewSetting, ...] = ()
    runs: frozenset[str] | None = None


def judged(change: Change, gap: Gap, known: Known, allowance: Allowance) -> Attempt:
    """The change applied, closed, surveyed and judged: a suggestion if its gap is then as large as required."""
    if not allowance.takes(WHOLE if change.runs is None else allowance.run):
        return OutOfTime()
    if known.stands_for is not None:
        gap, known = known.stands_for
        change = replace(change, draft=replace(change.draft, chassis=known.header.draft.chassis))
    return came_of(change, gap, known, tried(change.draft, known, change.runs))


def came_of(change: Change, gap: Gap, known: Known, after: Tried) -> Suggestion | Failed:
    """The effect on one gap of a change that was applied, surveyed and judged."""
    now = found_again(after.survey, gap)
    value = gap.required if now is None else now.value  # a gap too large to be measured is clear
    required = now.required if now is not None and gap.together else gap.required
    if now is not None and falls_short(value, required, gap.together):
        return Failed(f"{change.what}: gap {say_length(value, change.draft.units)}")
    were = {gap_key(each): each for each in every_gap(known.survey)}
    costs = costs_of(known, after)
    crossed = next((each for each in costs.gaps if each.after < 0.0 <= (each.before or 0.0)), None)
    if crossed is not None:
        return Failed(f"{change.what}: {crossed.a} and {crossed.b} then cross")
    others = (each for each in every_gap(after.survey) if gap_key(each) != gap_key(gap) and not too_small(each))
    cleared = tuple(
        GapThen(each.a, each.b, was.value, each.value, each.required)
        for each in others
        if (was := were.get(gap_key(each))) is not None and too_small(was)
    )
    changed = dict.fromkeys(each.run for each in change.values)
    return Suggestion(
        change.kind,
        change.what,
        change.values,
        change.places,
        value,
        costs,
        cleared,
        points=tuple(point for name in changed for point in new_points(name, known.header, after.survey.header)),
        settings=change.settings,
        or_more=now is None,
        mirrored=tuple(name for name in changed if known.header.run(name).written == "mirrored"),
    )


def costs_of(known: Known, after: Tried) -> Costs:
    """What is worse than before: gaps that got smaller and are not large, length, bends, findings."""
    before = known.survey
    lengths = (
        (run.name, now - was)
        for run, was, now in zip(before.header.runs, before.lengths, after.survey.lengths, strict=True)
    )
    return Costs(
        gaps=tuple(sorted(_smaller(before, after.survey), key=lambda each: each.after - each.required)[:TOLD]),
        lengths=tuple((name, growth) for name, growth in lengths if abs(growth) > NOTICED),
        bends=_bends(after.survey.header) - _bends(before.header),
        findings=tuple(made_worse(known.findings, after.findings)),
    )


def found_again(survey: Survey, gap: Gap) -> Gap | None:
    """The same gap in another survey (for a tool or sensor, the gap to what is nearest); None if everything is far."""
    same = (each for each in every_gap(survey) if gap_key(each) == gap_key(gap))
    return next(chain(same, (each for each in survey.reaches if each.a == gap.a)), None)


def every_gap(survey: Survey) -> Iterator[Gap]:
    """The gaps of tubes, and of parts that are not tubes."""
    yield from survey.gaps
    yield from survey.part_gaps


def too_small(gap: Gap) -> bool:
    """Whether a gap falls short of what is required there."""
    return falls_short(gap.value, gap.required, gap.together)


def _smaller(before: Survey, after: Survey) -> Iterator[GapThen]:
    were = {gap_key(each): each.value for each in every_gap(before)}
    for gap in every_gap(after):
        was = were.get(gap_key(gap))
        meant = gap.together and not too_small(gap)  # tubes that converge are near by intention
        if not meant and gap.value - gap.required < NEAR and (was is None or gap.value < was - NOTICED):
            yield GapThen(gap.a, gap.b, was, gap.value, gap.required)


def _bends(header: Header) -> int:
    return sum(isinstance(step, Bend) for run in header.runs for step in run.steps)


def arrived(header: Header, names: Collection[str]) -> bool:
    """Whether all of these runs reach their bores."""
    return not any(miss.run in names for miss in header.misses)
