"""Of ports and bores that are the same up to a mirror image: whether the tubes are, or what forbids it."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import pytest
from test_families import twin

from headergen.geometry.curves.centreline import frame_at
from headergen.model import ChassisItem, Cylinder, Vec
from headergen.solve.route.answer import Answer, answer_of
from headergen.solve.route.copies import say_copies, with_copies
from headergen.solve.route.families import strangers
from headergen.solve.route.problem import RouteProblem, problem_of
from headergen.solve.route.search import search


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> tuple[RouteProblem, list[Answer]]:
    problem = problem_of(twin(tmp_path_factory.mktemp("twin")), {})
    return problem, next(islice(search(problem, 0), 20, None)).answers


def of_kind(found: tuple[RouteProblem, list[Answer]], is_exact: bool) -> Answer:
    problem, answers = found
    return next(each for each in answers if (strangers(each.draft, problem.families[0]) == 0) == is_exact)


def test_exact_images_are_said_to_be(found: tuple[RouteProblem, list[Answer]]) -> None:
    [said] = say_copies(found[0], of_kind(found, True))
    assert said.message == "Primary 2 is the mirror image of primary 1, exactly."


def test_where_nothing_forbids_it_the_price_is_said(found: tuple[RouteProblem, list[Answer]]) -> None:
    [said] = say_copies(found[0], of_kind(found, False))
    assert said.message.startswith("Primary") and "could be the mirror image of primary" in said.message
    assert "that would cost" in said.message and said.value == 1.0


def test_copies_are_taken_where_they_make_the_header_cheaper(found: tuple[RouteProblem, list[Answer]]) -> None:
    problem, answer = found[0], of_kind(found, False)
    family = replace(problem.draft.routing.cost_weights, family=1000.0)
    dear = problem_of(replace(problem.draft, routing=replace(problem.draft.routing, cost_weights=family)), {})
    broken = answer_of(dear, answer.layout)
    assert broken is not None and strangers(broken.draft, dear.families[0]) == 1
    made = with_copies(dear, broken)
    assert strangers(made.draft, dear.families[0]) == 0 and made.cost < broken.cost
    assert with_copies(dear, made) is made and with_copies(dear, broken, lambda: True) is broken


def test_nothing_is_tried_once_the_time_is_over(found: tuple[RouteProblem, list[Answer]]) -> None:
    assert list(say_copies(found[0], of_kind(found, False), lambda: True)) == []


def test_what_stands_where_a_copy_would_be_is_named(found: tuple[RouteProblem, list[Answer]]) -> None:
    """A post in the middle of each image: whichever tube is copied, one is in the way."""
    problem, answer = found[0], of_kind(found, False)
    [likeness] = problem.families[0]
    posts = []
    for number, line in enumerate(answer.survey.header.centrelines, 1):
        x, y, z = likeness.image(frame_at(line, line.length / 2)[0])
        above: Vec = (x, y, z + 5.0)
        posts.append(ChassisItem(f"post {number}", Cylinder((x, y, z - 5.0), above, 10.0), 12.0))
    crowded = replace(problem.draft, chassis=(*problem.draft.chassis, *posts))
    [said] = say_copies(problem_of(crowded, {}), answer)
    assert "could be the mirror image of primary" in said.message
    assert "what forbids it: " in said.message and "post" in said.message
    assert said.message.count("\n") == 0
