"""The steps of a piece of work, in parallel where none waits for another, in children that are started early."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from headergen.jobs.process import Child, Failure, Work, answered, end, give, hear, started

Answers = Mapping[str, Any]  # of the steps so far, by name


@dataclass(frozen=True, eq=False)
class Crew:
    """Child processes by name, each with its first function.

    A child that is not running yet, or has ended, is started when it is needed.
    """

    begins: Mapping[str, Callable[[], Any]]
    children: dict[str, Child] = field(default_factory=dict)

    def child(self, name: str) -> Child:
        if name not in self.children or not self.children[name].process.is_alive():
            self.children[name] = started(self.begins[name])
        return self.children[name]

    def dismiss(self) -> None:
        """End all children, so that they write nothing more."""
        for child in self.children.values():
            end(child)


@contextmanager
def crew_of(begins: Mapping[str, Callable[[], Any]], at_once: Sequence[str]) -> Iterator[Crew]:
    """A crew in which the children named in `at_once` are started now; all end with the context."""
    crew = Crew(begins)
    try:
        for name in at_once:
            crew.child(name)
        yield crew
    finally:
        crew.dismiss()


@dataclass(frozen=True, eq=False)
class Step:
    """One step: its name, under which its answer is kept; the steps or milestones it waits for; and how it is begun.

    `begin` gets the answers so far, and returns work for the child called `child`; if `child` is empty, it returns the
    answer itself. None for work means the answer None. `heard` is called with progress, and returns the name of a
    milestone and its content, or None. `again` is called with a Failure, and returns work to be tried instead, or None.
    """

    name: str
    begin: Callable[[Answers], Any]
    child: str = ""
    after: tuple[str, ...] = ()
    heard: Callable[..., tuple[str, Any] | None] = lambda *_: None
    again: Callable[[Failure], Work | None] = lambda _: None


def carry_out(steps: Sequence[Step], crew: Crew) -> dict[str, Any]:
    """The answers of all steps and the milestones, by name; a Failure for a step that failed.

    If several steps can begin, the first one in the list does. Raises OSError if a file was refused, and the errors of
    steps without a child.
    """
    answers: dict[str, Any] = {}
    waiting, working = list(steps), dict[str, Step]()
    while waiting or working:
        step = next((each for each in waiting if _may_begin(each, answers, working)), None)
        if step is not None:
            waiting.remove(step)
            begun = step.begin(answers)
            if not step.child or begun is None:
                answers[step.name] = begun
            else:
                _hand_over(step, begun, (crew, answers, working))
            continue
        assert working, f"nothing leads to {[each.name for each in waiting]}"
        _listen((crew, answers, working))
    return answers


_State = tuple[Crew, dict[str, Any], dict[str, Step]]  # the answers so far, and the step that each child works at


def _may_begin(step: Step, answers: Answers, working: Mapping[str, Step]) -> bool:
    return step.child not in working and all(name in answers for name in step.after)


def _hand_over(step: Step, work: Work, state: _State) -> None:
    crew, answers, working = state
    failed = give(crew.child(step.child), work)
    if failed is None:
        working[step.child] = step
    else:
        answers[step.name] = failed


def _listen(state: _State) -> None:
    """Receive one message, and pass it on."""
    crew, answers, working = state
    by_child = {crew.children[name]: name for name in working}
    child, kind, content = hear(list(by_child))
    step = working[by_child[child]]
    if kind == "progress":
        milestone = step.heard(*content)
        if milestone is not None:
            answers[milestone[0]] = milestone[1]
        return
    del working[step.child]
    content = answered(content)
    retry = step.again(content) if isinstance(content, Failure) else None
    if retry is None:
        answers[step.name] = content
    else:
        _hand_over(step, retry, state)
