"""The seconds of a search are the whole of it, on a clock of our own on which every piece of work takes its time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from wanted import changed, job

import headergen.solve.route as routing
from headergen.solve.effort import Effort
from headergen.solve.route import collector_placement as siting
from headergen.solve.route import rounding


class Clock:
    """A clock that stands still unless work is done."""

    def __init__(self) -> None:
        self.time = 100.0

    def __call__(self) -> float:
        return self.time

    def costly(self, work: Callable[..., Any], seconds: float) -> Callable[..., Any]:
        def done(*arguments: Any, **named: Any) -> Any:
            self.time += seconds
            return work(*arguments, **named)

        return done


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """Start, rounds, and every piece of making degrees whole cost time, far more than is kept for them."""
    made = Clock()
    for name, seconds in (("what_forbids_it", 1.0), ("warm_up", 2.0)):
        monkeypatch.setattr(routing, name, made.costly(getattr(routing, name), seconds))
    for name in ("settled", "answer_of", "_closed_again", "_near_lengths", "_nearest_that_hold"):
        monkeypatch.setattr(rounding, name, made.costly(getattr(rounding, name), 0.15))
    monkeypatch.setattr(routing, "is_compiled", lambda: True)
    for module in (routing, siting):
        monkeypatch.setattr(module, "search", rounds_of(made, module.search))
    return made


def rounds_of(clock: Clock, search: Callable[..., Iterator[Any]]) -> Callable[..., Iterator[Any]]:
    def slowly(*arguments: Any) -> Iterator[Any]:
        for found in search(*arguments):
            clock.time += 0.5
            yield found

    return slowly


@pytest.mark.quick(1)
@pytest.mark.parametrize(("seconds", "answers"), [(12.0, 1), (20.0, 1), (20.0, 3)])
def test_start_search_and_whole_degrees_are_over_in_the_seconds(
    clock: Clock, tmp_path: Path, seconds: float, answers: int
) -> None:
    _, draft, meshes = job(tmp_path)
    begun = clock.time
    clock.time += 1.5  # of the command, before the search is called
    found = routing.route(draft, meshes, Effort(seconds=seconds, answers=answers, begun=begun, now=clock))
    assert 0.9 * seconds <= clock.time - begun <= 1.1 * seconds
    assert found.answers and found.rounds >= 8
    assert found.cut and "Time ran out" in found.findings[-1].message


@pytest.mark.slow
def test_choosing_a_place_is_part_of_the_seconds(clock: Clock, tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path, changed(("bores: free}", "bores: free, move: {main: {x: {min: -20, max: 20}}}}")))
    begun = clock.time
    found = routing.route(draft, meshes, Effort(seconds=40.0, begun=begun, now=clock))
    assert 0.9 * 40.0 <= clock.time - begun <= 1.1 * 40.0 and found.places >= 1


def test_compiling_for_the_first_time_does_not_take_from_the_search(
    clock: Clock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(routing, "is_compiled", lambda: False)
    monkeypatch.setattr(routing, "warm_up", clock.costly(lambda _: None, 60.0))
    _, draft, meshes = job(tmp_path)
    begun = clock.time
    found = routing.route(draft, meshes, Effort(seconds=10.0, begun=begun, now=clock))
    assert found.rounds >= 8 and 60.0 + 9.0 <= clock.time - begun <= 60.0 + 11.0


def test_where_rounds_are_counted_no_clock_cuts_anything(clock: Clock, tmp_path: Path) -> None:
    _, draft, meshes = job(tmp_path)
    found = routing.route(draft, meshes, Effort(seconds=1.0, rounds=12, now=clock))
    assert found.rounds == 12 and not found.cut
