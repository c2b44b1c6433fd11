"""The order of assembly: what is said to go on goes on, by the parts' own meshes, and what cannot is not said to."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from assembly import home, manifold

from headergen.geometry.curves.centreline import trace
from headergen.geometry.curves.sides import SideJoint
from headergen.mock.build import Mock
from headergen.mock.order import Going, order_of
from headergen.model import Bend, Centreline, Frame, Header, Straight, Tube

Demo = Callable[[str], tuple[Header, Mock]]
RADIUS, SPIGOT = 21.2, 10.4
NO_PLATES = np.empty((0, 3))


def up_and_over(number: int, x: float, up: float, toward: float, along: float) -> list[Going]:
    """Up from the face, then level along x, in two parts."""
    start = Frame((x, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    line = trace(start, (Straight(up), Bend(math.pi / 2, 60.0, toward), Straight(along)), f"primary {number}")
    return [Going(f"P{number}-1", line, 14.0, 40.0, RADIUS), Going(f"P{number}-2", line, 40.0, line.length, RADIUS)]


def post(number: int, x: float, high: float) -> list[Going]:
    start = Frame((x, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    line = trace(start, (Straight(high),), f"primary {number}")
    return [Going(f"P{number}-1", line, 14.0, high, RADIUS)]


def reach_over(line: Centreline) -> float:
    return float(max(segment.start[2] for segment in line.segments)) - RADIUS


def test_what_stands_under_another_goes_on_first() -> None:
    """A post whose end is 3 mm under the level leg of another: with either number it goes on before that leg."""
    for low, high in ((1, 2), (2, 1)):
        arch = up_and_over(high, 0.0, 100.0, 0.0, 200.0)
        direction = arch[1].line.segments[-1].tangent
        under = post(low, 150.0 * direction[0], reach_over(arch[0].line) - 3.0)
        assert abs(direction[0]) > 0.9
        found = order_of([*arch, *under], NO_PLATES, SPIGOT)
        assert not found.stuck
        assert found.names.index(f"P{low}-1") < found.names.index(f"P{high}-2")


def test_tubes_that_hold_each_other_are_said_to() -> None:
    """Each of one part, with its level leg 3 mm over the other's end: neither spigot comes out."""
    both = []
    for number, x, turn in ((1, 0.0, 0.0), (2, 260.0, math.pi)):
        start = Frame((x, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
        steps = (Straight(60.0), Bend(math.pi / 2, 60.0, turn), Straight(30.0), Bend(math.pi / 2, 60.0, math.pi / 2))
        both.append(
            Going(f"P{number}-1", trace(start, (*steps, Straight(80.0)), f"primary {number}"), 14.0, 330.0, RADIUS)
        )
    one = both[0]
    twin = Going("P2-1", Centreline("primary 2", one.line.segments), one.start, one.end, RADIUS)
    assert order_of([one, twin], NO_PLATES, SPIGOT).stuck == ("P1-1", "P2-1")
    assert order_of([one], NO_PLATES, SPIGOT).names == ("P1-1",)


def crossing(ends_on: str) -> list[Going]:
    """From the post of primary 1, 130 mm up, to that of primary 2, in two parts."""
    start = Frame((0.0, 0.0, 130.0), (0.0, 0.0, 1.0), (0.0, -1.0, 0.0), (1.0, 0.0, 0.0))
    line = trace(start, (Straight(200.0),), "secondary balance")
    posts = {"primary 1": ((0.0, 0.0, 130.0), (1.0, 0.0, 0.0)), ends_on: ((200.0, 0.0, 130.0), (-1.0, 0.0, 0.0))}
    tubes, way = (Tube(30.0, 1.5, "304L"), Tube(42.4, 1.5, "304L")), (0.0, 0.0, 1.0)
    first, last = (
        SideJoint("secondary balance", run, run == "primary 1", 130.0, at, out, way, *tubes)
        for run, (at, out) in posts.items()
    )
    return [
        Going("R1-1", line, 0.0, 100.0, 15.0, sits=(first,)),
        Going("R1-2", line, 100.0, 200.0, 15.0, sits=(last,)),
    ]


def posted(number: int, x: float) -> list[Going]:
    """A post in three parts, the middle one from 90 to 170 mm."""
    line = post(number, x, 260.0)[0].line
    places = ((14.0, 90.0), (90.0, 170.0), (170.0, 260.0))
    return [Going(f"P{number}-{k}", line, *place, RADIUS) for k, place in enumerate(places, 1)]


def test_a_crossover_goes_on_between_the_parts_that_carry_it() -> None:
    """It is pinned to the first, and the second then goes on along itself, through the fishmouth."""
    hosts = [*posted(1, 0.0), *posted(2, 200.0)]
    found = order_of([*hosts, *crossing("primary 2")], NO_PLATES, SPIGOT)
    assert not found.stuck
    place = found.names.index
    assert place("P1-2") < place("R1-1") < place("R1-2") < place("P2-2") < place("P2-3")


def test_one_with_a_free_end_goes_on_last() -> None:
    """What begins on a post and ends in the open is in nobody's way."""
    *begins, last = crossing("primary 2")
    free = [*begins, Going(last.name, last.line, last.start, last.end, last.radius)]
    found = order_of([*posted(1, 0.0), *posted(2, 400.0), *free], NO_PLATES, SPIGOT)
    assert found.stuck == () and found.names[-2:] == ("R1-1", "R1-2")


@pytest.mark.slow
def test_every_part_of_a_demo_has_its_way_clear(name: str, demo: Demo) -> None:
    """Taken off in the turned order, by solids: nothing of what is left is touched on the way that was found."""
    _, mock = demo(name)
    tubes = [part for part in mock.parts if part.spigot is not None]
    solids = {part.name: manifold(part.mesh, home(part)) for part in mock.parts}
    for part in reversed(tubes):
        mine = solids.pop(part.name)
        joint = home(part)[0] @ np.array(part.spigot.z)  # type: ignore[union-attr]
        for pulled in (4.0, SPIGOT):
            moved = mine.translate(tuple(pulled * joint))
            for other in solids.values():
                assert (moved ^ other).volume() < 5.0, part.name
