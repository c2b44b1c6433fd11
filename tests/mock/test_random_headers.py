"""Mocks of random legal headers: every part sound and on the bed, none in the way of the next, its letters whole."""

from __future__ import annotations

from itertools import pairwise

import pytest
import trimesh
from assembly import home, manifold
from random_headers import random_header

from headergen.mock.build import make_mock
from headergen.model import MockSettings
from tests.mock.test_plate_letters import assert_letters_are_whole, plates_of

SEEDS = (13, 1, 18, 0)
MORE = [seed for seed in range(34) if seed not in SEEDS]


def assert_printable(seed: int) -> None:
    header = random_header(seed)
    mock = make_mock(header, MockSettings(spigot=6.0 if seed % 2 else 10.0))
    for part in mock.parts:
        seen = trimesh.Trimesh(part.mesh.vertices, part.mesh.faces, process=False)
        assert seen.is_watertight and seen.is_winding_consistent and seen.body_count == 1, (seed, part.name)
        assert part.volume > 0 and all(a <= b for a, b in zip(part.size, MockSettings().bed, strict=True))
    for number in range(1, len(header.primaries) + 1):
        mine = [manifold(part.mesh, home(part)) for part in mock.parts if f"primary {number}" in part.runs]
        for before, after in pairwise(mine):
            assert (before ^ after).volume() < 0.5, seed
    for line in header.centrelines:
        mine = [part for part in mock.parts if part.runs == (line.run,)]
        assert sum(part.spigot is not None for part in mine) == len([p for p in mine if p.name[0] == "P"])
    for plate in plates_of(header, mock):
        assert assert_letters_are_whole(plate) == plate.letters, (seed, plate.part.name)


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_random_header_prints(seed: int) -> None:
    assert_printable(seed)


@pytest.mark.slow
def test_what_plates_ask_for_past_a_last_bend_is_no_steel() -> None:
    """Some primaries of this header end in a bend, and their plates want more than a leg past it: that is printed."""
    header = random_header(0)
    mock = make_mock(header, MockSettings(straights="steel"))
    pieces = {(piece.run, piece.number) for piece in mock.pieces}
    assert mock.straights and all((each.run, each.piece) in pieces for each in mock.straights)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("seed", MORE)
def test_thirty_more_print(seed: int) -> None:
    assert_printable(seed)
