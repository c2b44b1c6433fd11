"""Whether tubes that could be copies of each other are, and if not, what forbids it or what it would cost."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from headergen.checks.judge import judge
from headergen.model.finding import Finding
from headergen.solve.route.answer import Answer, answer_of, measured_of, not_known
from headergen.solve.route.families import Family, Likeness, strangers, unlike
from headergen.solve.route.layout import Layout
from headergen.solve.route.parts import repeated, with_images
from headergen.solve.route.problem import RouteProblem
from headergen.words.say import capital, list_runs

LEAST_GAIN = 0.5  # degrees of cost
NAMED = 2  # things that forbid a copy, the worst first


def with_copies(problem: RouteProblem, answer: Answer, is_over: Callable[[], bool] = lambda: False) -> Answer:
    """The answer with tubes as images of others, as long as that makes it cheaper.

    A search may end before it has come to this. `is_over` is asked before each that is tried.
    """
    best, known = answer, None
    while best is not known and not is_over():
        known = best
        for layout in repeated(problem, known.layout):
            made = None if is_over() else answer_of(problem, layout, best.cost - LEAST_GAIN)
            best = best if made is None else replace(made, round=answer.round)
    return best


@dataclass(frozen=True)
class _Copy:
    """Copies by one likeness: the errors of the header with them, or what it then costs more than before."""

    likeness: Likeness
    errors: tuple[Finding, ...]
    dearer: float = 0.0


def say_copies(problem: RouteProblem, answer: Answer, is_over: Callable[[], bool] = lambda: False) -> Iterator[Finding]:
    """For each family of ports and bores, whether one part of its tubes is the image of the other.

    `is_over` is asked before anything is tried.
    """
    for family in problem.families:
        likeness = next((each for each in family if not unlike(answer.draft, each)), None)
        if likeness is not None:
            leads, twins = zip(*likeness.pairs, strict=True)
            message = f"{_named(problem, twins)} {_are(twins, likeness)} {_named(problem, leads)}, exactly."
            yield _said(message, 0)
        elif not is_over():
            yield _said(_say_broken(problem, answer, family), strangers(answer.draft, family))


def _said(message: str, broken: int) -> Finding:
    return Finding("route-copies", "info", "route", float(broken), None, "tubes", capital(message))


def _say_broken(problem: RouteProblem, answer: Answer, family: Family) -> str:
    copies = list(_copies(problem, answer, family))
    if not copies:
        return "no allowed order of bores gives tubes of equal ports equal paths."
    nearest = min(copies, key=lambda each: (len(each.errors), each.dearer))
    leads, twins = zip(*unlike(answer.draft, nearest.likeness), strict=True)
    what = f"{_named(problem, twins)} could be {_images(twins, nearest.likeness)} {_named(problem, leads)}"
    if not nearest.errors:
        return f"{what}; that would cost {abs(nearest.dearer):.0f} {'more' if nearest.dearer > -0.5 else 'less'}."
    more = len(nearest.errors) - NAMED
    why = " ".join(each.message for each in nearest.errors[:NAMED])
    return f"{what}; what forbids it: {why}{f' And {more} more.' if more > 0 else ''}"


def _copies(problem: RouteProblem, answer: Answer, family: Family) -> Iterator[_Copy]:
    """Each way to copy one part of a family's tubes to the other, judged by the exact checks."""
    for likeness in family:
        for way in (likeness, likeness.turned()):
            made = with_images(problem, way, answer.layout)
            if made is not None:
                yield from _judged(problem, answer, way, made)


def _judged(problem: RouteProblem, answer: Answer, way: Likeness, made: Layout) -> Iterator[_Copy]:
    measured = measured_of(problem, made)
    if measured is None:
        return
    errors = [finding for finding in judge(measured) if finding.level == "error"]
    wrong = not_known([run.name for run in problem.runs], errors, problem.known)
    copied = None if wrong else answer_of(problem, made)
    if wrong or copied is not None:
        yield _Copy(way, tuple(wrong), 0.0 if copied is None else copied.cost - answer.cost)


def _named(problem: RouteProblem, keys: Sequence[int | str]) -> str:
    by_key = {run.key: run for run in problem.runs}
    return list_runs([by_key[key] for key in keys])


def _are(keys: Sequence[int | str], likeness: Likeness) -> str:
    return f"{'are' if len(keys) > 1 else 'is'} {_images(keys, likeness)}"


def _images(keys: Sequence[int | str], likeness: Likeness) -> str:
    kind = "mirror image" if likeness.is_mirror else "copy"
    if len(keys) > 1:
        return f"{'mirror images' if likeness.is_mirror else 'copies'} of"
    return f"the {kind} of"
