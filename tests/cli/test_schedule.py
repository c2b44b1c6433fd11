"""Steps side by side: what waits for what, milestones, failures, and children that end with what they were at."""

from __future__ import annotations

from typing import Any

import psutil
import pytest

from headergen.jobs.process import Failure
from headergen.jobs.schedule import Crew, Step, carry_out, crew_of
from tests.cli import failing


def test_a_milestone_lets_another_step_begin_while_the_first_goes_on() -> None:
    """The first child waits for what the second step brings it, which only a milestone of its own can begin."""
    begun: list[str] = []

    def heard(kind: str, *said: Any) -> tuple[str, Any] | None:
        return ("half", said[0]) if kind == "half" else None

    def second(answers: Any) -> Any:
        begun.append("second")
        answers["half"].write_text("go on", encoding="utf-8")
        return "done"

    with crew_of({"one": failing.begin_with_a_folder}, ["one"]) as crew:
        first = Step("first", lambda _: (failing.waits_for_a_file, ()), "one", heard=heard)
        answers = carry_out((Step("second", second, after=("half",)), first), crew)
    assert begun == ["second"] and answers["first"] == "go on" and answers["second"] == "done"


@pytest.mark.slow
def test_a_step_that_fails_is_tried_again_as_its_own_say_and_others_go_on() -> None:
    tried: list[Failure] = []

    def again(failure: Failure) -> Any:
        tried.append(failure)
        return (failing.says, ("at last",)) if len(tried) == 1 else None

    with crew_of({"one": failing.begin_with_nothing, "two": failing.begin_with_nothing}, ["one"]) as crew:
        steps = (
            Step("a", lambda _: (failing.ends_without_a_word, ()), "one", again=again),
            Step("b", lambda _: (failing.says, ("b",)), "two"),
            Step("c", lambda answers: (failing.says, (answers["a"],)), "one", ("a", "b")),
            Step("d", lambda _: (failing.ends_without_a_word, ()), "two", ("b",)),
            Step("e", lambda _: (failing.says, ("e",)), "two", ("d",)),
        )
        answers = carry_out(steps, crew)
    assert [answers[name] for name in "abce"] == ["at last", "b", "at last", "e"]
    assert tried[0].ended and answers["d"] == Failure("its process ended early (exit code 5)", ended=True)


def test_what_a_child_cannot_begin_with_is_the_answer_of_its_work() -> None:
    with crew_of({"one": failing.cannot_begin}, ["one"]) as crew:
        answers = carry_out((Step("a", lambda _: (failing.says, ("a",)), "one"),), crew)
    assert answers["a"].lacks_library and "libGL.so.1" in answers["a"].why


def test_children_end_with_the_crew_whatever_they_are_at() -> None:
    children: list[psutil.Process] = []
    crews: list[Crew] = []

    def heard(*_: Any) -> None:
        children.extend(psutil.Process(child.process.pid) for child in crews[0].children.values())
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt), crew_of({"one": failing.begin_with_nothing}, ["one"]) as crew:
        crews.append(crew)
        carry_out((Step("a", lambda _: (failing.never_ends, ()), "one", heard=heard),), crew)
    assert len(children) == 1 and not children[0].is_running()
