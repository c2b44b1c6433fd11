"""Printed tubes on the side of others: seated with their fishmouth, put together by their own meshes, weighed."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from assembly import end_of, home, manifold
from layers import starts_in_mid_air
from manifold3d import Manifold

from headergen.geometry.curves.centreline import frame_at
from headergen.mock.build import Mock, make_mock
from headergen.mock.part import MockPart, overhang
from headergen.mock.seated import SEAT_GAP
from headergen.model import Header, MockSettings
from headergen.pipeline import settle
from headergen.words.seated import said_of_seats

SPEC = Path(__file__).resolve().parents[2] / "specs" / "guide_crossover.yaml"
BARE = MockSettings(flange=False, plates=False)
DEPTH = 2.5  # mm from the stop face: in the middle of the ribs
RUN, LEFT, RIGHT = "secondary balance", "secondary left", "secondary right"


@pytest.fixture(scope="module")
def both() -> tuple[Header, Mock]:
    """The crossover, what it stands on, and one primary into each header."""
    header = settle(SPEC).with_runs({"primary 1", "primary 2", LEFT, RIGHT, RUN})
    return header, make_mock(header, BARE)


def parts_of(mock: Mock, run: str) -> list[MockPart]:
    return [part for part in mock.parts if part.runs == (run,)]


def test_it_is_printed_in_two_and_a_nipple(both: tuple[Header, Mock]) -> None:
    _, mock = both
    assert [part.name for part in parts_of(mock, RUN)] == ["R4-1.1", "NR4", "R4-1.2"]
    place = mock.order.index
    assert place("R4-1.1") < place("NR4") == place("R4-1.2") - 1
    assert not any("is not printed, since" in note for note in mock.notes if "balance" in note)
    begins, ends = mock.seats
    assert (begins.part, begins.on, begins.nipple) == ("R4-1.1", ("R1-1.1",), "")
    assert (ends.part, ends.on, ends.nipple) == ("R4-1.2", ("R2-1.1",), "NR4")


@pytest.mark.parametrize(("part", "host"), [(0, LEFT), (2, RIGHT)])
def test_the_fishmouth_lies_on_the_other_tube(part: int, host: str, both: tuple[Header, Mock]) -> None:
    """Its nearest points, but for pins, are as far from that run's axis as its outside and the gap; all round it."""
    header, mock = both
    vertices = manifold(parts_of(mock, RUN)[part].mesh, home(parts_of(mock, RUN)[part])).to_mesh64().vert_properties
    points = np.asarray(vertices)[:, :3]
    point, way, _ = frame_at(next(line for line in header.centrelines if line.run == host), 150.0)
    off = np.linalg.norm(np.cross(points - np.array(point), np.array(way)), axis=1)
    radius = header.run(host).tube.radius + SEAT_GAP
    rim = points[abs(off - radius) < 0.02] - np.array(point)
    across = header.run(RUN).tube.radius
    assert np.ptp(rim @ np.array(way)) == pytest.approx(2 * across, abs=0.1)
    assert np.ptp(rim[:, 2]) == pytest.approx(2 * across, abs=0.1)
    pins = off < radius - 0.02
    assert bool(pins.any()) == (part == 0), "pins where it begins only"


def test_nothing_overlaps(both: tuple[Header, Mock]) -> None:
    _, mock = both
    parts = [*mock.parts, *mock.collectors]
    solids = [manifold(part.mesh, home(part)) for part in parts]
    for k, one in enumerate(solids):
        for other, part in zip(solids[:k], parts[:k], strict=True):
            assert (one ^ other).volume() < 2.0, (parts[k].name, part.name)


def test_the_nipple_turns_both_parts_as_they_are_to_be(both: tuple[Header, Mock]) -> None:
    """By the notches as the meshes have them: each has a rib of the nipple in it, and both sockets face each other."""
    header, mock = both
    first, nipple, last = parts_of(mock, RUN)
    radius = header.run(RUN).tube.radius
    turned, probe = manifold(nipple.mesh, home(nipple)), Manifold.sphere(0.2, 12)
    faces, ways, angles = [], [], []
    for part in (first, last):
        notches = end_of(part.mesh, part.sockets[0][1], radius, DEPTH, False)
        rotation, shift = home(part)
        faces.append(rotation @ notches.middle + shift)
        ways.append(rotation @ notches.travel)
        angles.append(notches.bearings)
        left = np.cross(notches.travel, notches.x)
        for bearing in notches.bearings:
            out = math.cos(bearing) * notches.x + math.sin(bearing) * left
            place = rotation @ (notches.middle - DEPTH * notches.travel + (radius - 2.2) * out) + shift
            shared = probe.translate(tuple(place)) ^ turned
            assert shared.volume() == pytest.approx(probe.volume(), rel=1e-6)
    assert np.linalg.norm(faces[0] - faces[1]) < 0.06 and ways[0] @ ways[1] == pytest.approx(-1.0, abs=1e-5)
    assert [len(each) for each in angles] == [4, 4]
    assert max(abs(a - b) for a, b in zip(*angles, strict=True)) > 0.1, "each end of the nipple has its own key"


def test_its_parts_print_without_support(both: tuple[Header, Mock]) -> None:
    _, mock = both
    for part in [*parts_of(mock, RUN), *parts_of(mock, LEFT), *parts_of(mock, RIGHT)]:
        assert part.notes == () and overhang(part.mesh, BARE.lean) < 0.01, part.name
    for part in parts_of(mock, RUN):
        assert starts_in_mid_air(part.mesh) == [], part.name


def test_it_goes_on_between_what_it_stands_on(both: tuple[Header, Mock]) -> None:
    """By solids, on what is there by then: pushed on along its joint, as is the part on which it ends, through the
    fishmouth. With both there, nothing would go between; so each has its place in the order."""
    header, mock = both
    place = mock.order.index
    assert place("R1-1.1") < place("R4-1.1") < place("R4-1.2") < place("R2-1.1")
    parts = {part.name: part for part in (*mock.parts, *mock.collectors)}
    solids = {name: manifold(part.mesh, home(part)) for name, part in parts.items()}

    def touched(name: str, others: set[str], back: float) -> float:
        run, at = (RUN, 135.0) if name == "R4-1.2" else (RIGHT, 0.0)
        way = frame_at(next(line for line in header.centrelines if line.run == run), at)[1]
        moved = solids[name].translate(tuple(back * np.array(way)))
        return max((moved ^ solids[other]).volume() for other in others)

    for name in ("R4-1.2", "R2-1.1"):
        there = set(mock.order[: place(name)]) & solids.keys()
        assert max(touched(name, there, back) for back in (2.0, 6.0, 10.4)) < 5.0, name
    assert touched("R4-1.2", {"R2-1.1"}, 10.4) > 500.0, "with both there, it does not go between"


def test_the_sheet_says_when_what_it_ends_on_goes_in(both: tuple[Header, Mock]) -> None:
    _, mock = both
    begins, ends = list(said_of_seats(mock.seats, mock.order))[1:]
    assert begins == "R4-1.1: push its two pins into the holes of R1-1.1 (secondary left)."
    assert ends.endswith("R2-1.1 (secondary right) then goes in through the fishmouth, until that is in its groove.")
    last = (*(name for name in mock.order if not name.startswith("R4")), "R4-1.1", "R4-1.2")
    assert list(said_of_seats(mock.seats, last))[-1].endswith("and its fishmouth over R2-1.1 (secondary right).")


@pytest.mark.slow
def test_half_of_its_weight_hangs_on_each_run(both: tuple[Header, Mock]) -> None:
    """The primaries carry more than without it."""
    header, mock = both
    bare = make_mock(header.with_runs({"primary 1", "primary 2", LEFT, RIGHT}), BARE)
    with_it, without = ({fact.name: fact.stress for fact in each.facts} for each in (mock, bare))
    for name in ("P1-1", "P2-1"):
        assert with_it[name] > 1.001 * without[name]
