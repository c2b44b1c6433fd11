"""A candidate as a draft with paths, with the digits of the file, judged by the exact checks alone."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from headergen.checks.judge import judge
from headergen.checks.measure import Meshes, survey
from headergen.checks.rules.bends import is_in_range
from headergen.geometry.curves.centreline import PointsError
from headergen.model import Bend, Bore, Draft, Run, Step, Straight, Survey
from headergen.model.finding import Finding
from headergen.model.lengths import has_common_length
from headergen.solve.closing import close
from headergen.solve.hints.trial import made_worse
from headergen.solve.route.cost import CostTerm, blocked, cost_terms, total
from headergen.solve.route.count import not_on_hand
from headergen.solve.route.growing import NoRoomError, grown
from headergen.solve.route.layout import Layout, steps_of_tube
from headergen.solve.route.problem import RouteProblem

LENGTH_DIGITS = 3  # of millimetres: a tube of 30 steps then ends within 0.02 mm
ANGLE_DIGITS = 4  # of degrees: 0.001 mm at the end of a tube of 1 m


@dataclass(frozen=True, eq=False)
class Answer:
    """A header that meets every requirement: its draft, its cost line by line, and its layout."""

    draft: Draft
    survey: Survey
    terms: tuple[CostTerm, ...]
    layout: Layout
    round: int = 0

    @cached_property
    def cost(self) -> float:
        return total(self.terms)

    @property
    def bends(self) -> int:
        return sum(isinstance(step, Bend) for step in self._steps)

    @property
    def degrees(self) -> float:
        return math.degrees(sum(step.angle for step in self._steps if isinstance(step, Bend)))

    @property
    def spread(self) -> float:
        """Difference between the longest and the shortest into collectors, besides required differences."""
        found = zip(self.survey.header.runs, self.survey.lengths, strict=True)  # the draft may have more to find
        lengths = {run: length for run, length in found if has_common_length(run)}
        own = {run: run.target or 0.0 for run in lengths}
        off = [length - own[run] for run, length in lengths.items()]
        return max(off) - min(off) if off and (all(own.values()) or not any(own.values())) else 0.0

    @property
    def smallest_gap(self) -> float:
        """The smallest margin of any gap, between separate tubes and to the chassis."""
        return min((g.value - g.required for g in self.survey.gaps if not g.together), default=math.inf)

    @property
    def narrowest(self) -> float:
        """The smallest gap itself, except where tubes may converge on their collector."""
        return min((g.value for g in self.survey.gaps if not g.together), default=math.inf)

    @property
    def _steps(self) -> list[Step]:
        return [step for run in self.draft.runs for step in run.steps]


def accept(draft: Draft, meshes: Meshes) -> tuple[Survey, tuple[Finding, ...]]:
    """The exact checks of a draft whose paths are complete, and its errors."""
    measured = survey(close(draft), meshes, twice=False)
    return measured, tuple(finding for finding in judge(measured) if finding.level == "error")


def not_known(names: Collection[str], errors: Iterable[Finding], known: tuple[Finding, ...]) -> list[Finding]:
    """Errors that name a primary to be found, and other errors that are new or worse than before."""
    mine, others = list[Finding](), list[Finding]()
    for each in errors:
        (mine if {each.where, each.against} & set(names) else others).append(each)
    return [*mine, *made_worse(known, others)]


def answer_of(problem: RouteProblem, layout: Layout, below: float = math.inf) -> Answer | None:
    """A layout as an answer; None if it costs `below` or more, or fails a check."""
    priced = priced_of(problem, layout)
    return None if priced is None else checked(problem, priced, below)


@dataclass(frozen=True, eq=False)
class Priced:
    """A layout with its paths as they are written and what they cost, before the checks."""

    draft: Draft
    terms: tuple[CostTerm, ...]
    layout: Layout

    @cached_property
    def cost(self) -> float:
        return total(self.terms)


def priced_of(problem: RouteProblem, layout: Layout) -> Priced | None:
    """A layout as paths with their cost; None if no tube can follow it, or a bend is not allowed."""
    paths = _paths_of(problem, layout)
    bends = [step for path in paths or () for step in path if isinstance(step, Bend)]
    if paths is None or not all(is_in_range(bend, problem.draft.routing) for bend in bends):
        return None
    draft = with_paths(problem, [run.bore for run in layout.runs], paths)
    terms = (*cost_terms(draft, [run.key for run in problem.runs], problem.families), *problem.moved)
    return Priced(draft, terms, layout)


def checked(problem: RouteProblem, priced: Priced, below: float = math.inf) -> Answer | None:
    """What is priced as an answer; None if it costs `below` or more, or fails a check."""
    if priced.cost >= below:
        return None
    measured, errors = accept(priced.draft, problem.meshes)
    terms = (*priced.terms, blocked(priced.draft, measured.reaches), *not_on_hand(measured.header))
    wrong = total(terms) >= below or not_known([run.name for run in problem.runs], errors, problem.known)
    return None if wrong else Answer(priced.draft, measured, terms, priced.layout)


def _paths_of(problem: RouteProblem, layout: Layout) -> list[tuple[Step, ...]] | None:
    """The paths of a layout with the digits of the file; None if no tube can follow them."""
    try:
        paths = [written(steps_of_tube(problem, k, run)) for k, run in enumerate(layout.runs)]
        return [grown(run, path, problem.draft) for run, path in zip(problem.runs, paths, strict=True)]
    except (PointsError, NoRoomError):
        return None


def measured_of(problem: RouteProblem, layout: Layout) -> Survey | None:
    """A layout as the exact checks measure it; None if no tube can follow it."""
    paths = _paths_of(problem, layout)
    if paths is None:
        return None
    return accept(with_paths(problem, [run.bore for run in layout.runs], paths), problem.meshes)[0]


def with_paths(problem: RouteProblem, bores: Sequence[int], paths: Sequence[tuple[Step, ...]]) -> Draft:
    """The draft with paths and bores for the runs that were to be found."""
    taken = {run.name: problem.bore_of[bore] for run, bore in zip(problem.runs, bores, strict=True)}
    found = {run.name: steps for run, steps in zip(problem.runs, paths, strict=True)}
    draft = with_bores(problem.draft, taken)
    return replace(draft, runs=tuple(_with_path(run, found) for run in draft.runs))


def with_bores(draft: Draft, taken: Mapping[str, Bore]) -> Draft:
    """The draft with runs, by name, in other bores."""
    owner = {(bore.collector, bore.number): name for name, bore in taken.items()}
    collectors = tuple(
        replace(c, bores=tuple(replace(b, run=owner.get((c.name, b.number), b.run)) for b in c.bores))
        for c in draft.collectors
    )
    runs = (
        replace(run, end=replace(taken[run.name], run=run.name)) if run.name in taken else run for run in draft.runs
    )
    return replace(draft, collectors=collectors, runs=tuple(runs))


def _with_path(run: Run, found: Mapping[str, tuple[Step, ...]]) -> Run:
    if run.name not in found:
        return run
    return replace(run, steps=found[run.name], fits=(), grows=(), straight_over=(), to_find=False)


def written(steps: Sequence[Step]) -> tuple[Step, ...]:
    """A path rounded to the digits of the file."""
    return tuple(
        Straight(round(step.length, LENGTH_DIGITS))
        if isinstance(step, Straight)
        else Bend(_written_angle(step.angle), step.radius, _written_angle(step.rotation))
        for step in steps
    )


def _written_angle(angle: float) -> float:
    return math.radians(round(math.degrees(angle), ANGLE_DIGITS))
