"""Suggestions for each gap that is too small: changes applied, closed, surveyed and judged again, one by one.

Gaps take turns, the worst first, until each has enough suggestions or the common budget is used up. The budget counts
measurements, not time, so that the same header always gets the same suggestions.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain

from headergen.checks.measure import Meshes
from headergen.model import Gap, Survey
from headergen.model.finding import Finding
from headergen.model.suggestion import Help, Suggestion
from headergen.solve.hints.anew import may_be_found_anew
from headergen.solve.hints.attempt import CHECK, Allowance, Attempt, Failed, OutOfTime, every_gap, too_small
from headergen.solve.hints.by_collector import of_part, of_run
from headergen.solve.hints.by_part import of_seat, of_tube
from headergen.solve.hints.by_path import of_path
from headergen.solve.hints.by_values import value_attempts
from headergen.solve.hints.trial import Known

MOST_SPENT = int(2.2 * CHECK)  # for all suggestions of a result
TOOLS = "reach"  # the rule of tools and sensors, which gives warnings
WANTED = 3  # suggestions for a gap
HARMFUL = 2  # number of suggestions up to which those that cause findings are shown too


def helps_of(findings: tuple[Finding, ...], survey: Survey, meshes: Meshes) -> tuple[Help, ...]:
    """Suggestions for each gap of a survey that is too small, the worst first; `findings` are its judgement.

    Gaps that have no finding, because something else explains them, are left out here too.
    """
    told = {(each.where, each.against) for each in findings if each.level == "error" or each.rule == TOOLS}
    gaps = [gap for gap in worst_first(survey) if (gap.a, gap.b) in told]
    if not gaps:
        return ()
    known = Known(survey, findings, meshes)
    allowance = Allowance(MOST_SPENT, run=CHECK // len(survey.header.runs))
    made: dict[int, list[Attempt]] = {number: [] for number in range(len(gaps))}
    waiting = {number: _attempts(gap, known, allowance) for number, gap in enumerate(gaps)}
    while waiting:
        for number, attempts in list(waiting.items()):
            if _is_enough([*made[number], *_shared(gaps[number], made)]):
                del waiting[number]
                continue
            attempt = _next_told(attempts, made[number])
            if attempt is None or isinstance(attempt, OutOfTime):
                del waiting[number]
    helps = (_help(gap, [*made[number], *_shared(gap, made)]) for number, gap in enumerate(gaps))
    anew = (may_be_found_anew(gap, known.header) for gap in gaps)
    return tuple(replace(each, anew=numbers) for each, numbers in zip(helps, anew, strict=True))


def worst_first(survey: Survey) -> list[Gap]:
    """All gaps that are too small; those of tools and sensors last, since another tool may be used."""
    short = (sorted(filter(too_small, gaps), key=_spare) for gaps in (every_gap(survey), survey.reaches))
    return [*chain.from_iterable(short)]


def _spare(gap: Gap) -> float:
    return gap.value - gap.required


def _shared(gap: Gap, made: Mapping[int, Sequence[Attempt]]) -> Iterator[Suggestion]:
    """Suggestions found for other gaps that clear this one as well."""
    found = [each for attempts in made.values() for each in attempts if isinstance(each, Suggestion)]
    for each in found:
        for then in each.clears:
            if (then.a, then.b, then.before) == (gap.a, gap.b, gap.value):
                others = tuple(other for other in each.clears if other is not then)
                yield replace(each, gap=then.after, clears=others)


def _attempts(gap: Gap, known: Known, allowance: Allowance) -> Iterator[Attempt]:
    if gap in known.survey.reaches:
        return chain(of_seat(gap, known, allowance), of_tube(gap, known, allowance))
    if not gap.places:
        return chain(of_seat(gap, known, allowance), of_part(gap, known, allowance))
    best, rest = value_attempts(gap, known, allowance)
    return chain(best, of_path(gap, known, allowance), of_run(gap, known, allowance), rest)


def _next_told(attempts: Iterator[Attempt], made: list[Attempt]) -> Attempt | None:
    """The next attempt that is a suggestion, or the end; failures on the way are kept as well."""
    for attempt in attempts:
        made.append(attempt)
        if not isinstance(attempt, Failed):
            return attempt
    return None


def _is_enough(made: Sequence[Attempt]) -> bool:
    return sum(isinstance(each, Suggestion) and not each.costs.findings for each in made) >= WANTED


def _help(gap: Gap, made: Sequence[Attempt]) -> Help:
    """First the suggestions without harm; those that cause findings only if there are few others."""
    found = [each for each in made if isinstance(each, Suggestion)]
    harmless = [each for each in found if not each.costs.findings][:WANTED]
    harmful = sorted((each for each in found if each.costs.findings), key=lambda each: len(each.costs.findings))
    return Help(
        a=gap.a,
        b=gap.b,
        together=gap.together,
        gap=gap.value,
        required=gap.required,
        suggestions=(*harmless, *harmful[: max(0, HARMFUL - len(harmless))]),
        tried=tuple(each.why for each in made if isinstance(each, Failed)),
        cut_short=any(isinstance(each, OutOfTime) for each in made),
    )
