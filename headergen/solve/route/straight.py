"""A tube whose two ends stand in line, which needs no search: the straight between them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headergen.geometry.frames import norm, subtract
from headergen.model import Straight
from headergen.model.finding import Finding
from headergen.solve.miss import keeps_limits, measure_miss
from headergen.solve.route.answer import Answer, accept, not_known, with_paths, written
from headergen.solve.route.cost import cost_terms
from headergen.solve.route.growing import NoRoomError, grown
from headergen.solve.route.layout import Layout, LayoutTube
from headergen.solve.route.problem import RouteProblem
from headergen.words.say import capital, say_length


def straight_answer(problem: RouteProblem) -> Answer | None:
    """The straight tube, if only one is to be found and the exact checks accept that; None where it takes a search."""
    if problem.count != 1:
        return None
    [run] = problem.runs
    length = norm(subtract(run.end.frame.origin, run.start.frame.origin))
    if length < problem.least_ends[0].sum() or not problem.want.shortest <= length <= problem.want.longest:
        return None
    try:
        path = grown(run, written([Straight(length)]), problem.draft)
    except NoRoomError:
        return None
    draft = with_paths(problem, [0], [path])
    made = next(each for each in draft.runs if each.name == run.name)
    if not keeps_limits(measure_miss(made, draft), draft):
        return None
    measured, errors = accept(draft, problem.meshes)
    if not_known([run.name], errors, problem.known):
        return None
    terms = (*cost_terms(draft, [run.key], problem.families), *problem.moved)
    return Answer(draft, measured, terms, Layout((LayoutTube(0, (), np.zeros(0)),), length))


def say_straight(answer: Answer, problem: RouteProblem) -> Iterator[Finding]:
    """That no search was made."""
    run, units = problem.runs[0], problem.draft.units
    long = say_length(answer.layout.length, units)
    message = f"{capital(run.name)} is straight, {long} from end to end; no search was made."
    yield Finding("route-straight", "info", run.name, None, None, "", message)
