"""Several searches of one problem as one, whatever the order in which they ended."""

from __future__ import annotations

from collections.abc import Sequence

from headergen.solve.route.answer import Answer
from headergen.solve.route.problem import RouteProblem
from headergen.solve.route.search import KEPT, SearchState, are_alike


def merged(problem: RouteProblem, parts: Sequence[SearchState]) -> SearchState:
    """The best answers of all parts, each unlike the others; of equal ones, that of the first part.

    It has settled if all parts have.
    """
    answers: list[Answer] = []
    for answer in sorted((each for part in parts for each in part.answers), key=lambda each: each.cost):
        if not any(are_alike(problem, kept.layout, answer.layout) for kept in answers):
            answers.append(answer)
    return SearchState(
        answers=answers[:KEPT],
        accepted=sum(part.accepted for part in parts),
        rounds=sum(part.rounds for part in parts),
        idle=sum(part.idle for part in parts) if all(part.is_settled for part in parts) else 0,
        nearest=sorted((near for part in parts for near in part.nearest), key=lambda each: each[0])[:KEPT],
    )
