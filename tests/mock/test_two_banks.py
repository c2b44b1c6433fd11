"""The prints of both banks of a vee on one bench: names that differ, and keys of which none fits the other bank."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from test_assembly import HIGH, SHEARED, _farthest, _nearest, _shared_arcs, _slice, _solid_at

from headergen.geometry.frames import point_in
from headergen.mock.build import Mock, make_mock
from headergen.mock.joint import keys_for
from headergen.mock.keys import RIBS
from headergen.mock.steel_straights import adapter_name
from headergen.model import Header, MockSettings, Step, Straight
from headergen.solve.closing import close
from tests.checks.small_header import FACE, LENGTH, draft, moved


@pytest.mark.parametrize("core", [18.8, 16.0, 12.5])
@pytest.mark.parametrize("counts", [(12, 12), (3, 40), (40, 25)])
def test_no_key_of_one_bank_is_one_of_the_other(counts: tuple[int, int], core: float) -> None:
    """However a spigot of B is turned in a socket of A, and whichever ribs are paired, two of its ribs miss by half a
    rib and the gaps to both sides, also where the banks have not the same number of joints."""
    one, other = (
        [np.degrees([0.0, *turns]) for turns in keys_for(count, core, 0.2, letter)]
        for count, letter in zip(counts, "AB", strict=True)
    )
    assert (len(one), len(other)) == counts
    width = min(4.0, core / 3)
    least = math.degrees((0.5 * width + 2 * 0.2) / core)
    for mine in one:
        for theirs in other:
            for first in range(RIBS):
                turned = np.sort((theirs - theirs[first]) % 360)
                assert np.ptp(turned - mine) > least - 1e-9


def lettered(letter: str) -> Mock:
    steps: list[Step] = [Straight(200.0), Straight(200.0)]
    made = draft(steps, steps, pitch=60.0, letter=letter)
    plane = moved(FACE, point_in(FACE, (30.0, 0.0, LENGTH)))
    collectors = (
        replace(made.collectors[0], frame=plane, join="slip", slip=30.0, half_angle=math.radians(9), outlet=54.0),
    )
    header = close(replace(made, collectors=collectors))
    return make_mock(header, MockSettings(cut_guides=True, collector=True))


@pytest.mark.slow
def test_every_part_of_a_bank_begins_with_its_letter() -> None:
    """Whatever is printed, and on the locating plates that are cut: tubes, plates, adapters, guides."""
    plain, one = lettered(""), lettered("A")
    names = [part.name for part in plain.printed]
    assert {"F", "P", "L", "C", "G"} == {name[0] for name in names} and "G1-1" in names
    assert adapter_name("", "2", 3) == "J2-3" and adapter_name("A", "2", 3) == "AJ2-3"
    assert [part.name for part in one.printed] == [f"A{name}" for name in names]
    assert [place.name for place in one.placed] == [fact.name for fact in one.facts] == [p.name for p in one.printed]
    assert [plate.name for pair in one.pairs for plate in pair.plates] == ["AL1", "AL2"]
    volumes = [[part.volume for part in mock.parts] for mock in (plain, one)]
    assert all(a != b for a, b in zip(*volumes, strict=True)), "the letter is cut into each of them"


@pytest.mark.slow
def test_no_part_of_one_bank_goes_into_the_other(demo: Callable[[str], tuple[Header, Mock]]) -> None:
    """Every spigot of either bank in every socket of the other, by slices of the meshes, as within one bank."""
    banks = [demo("glasswort_left"), demo("glasswort_right")]
    names = [part.name for _, mock in banks for part in mock.printed]
    assert len(set(names)) == len(names) > 40
    for (header, mine), (_, theirs) in (banks, banks[::-1]):
        radius = header.draft.tube.radius
        sockets = [_slice(part, near, radius, False) for part in theirs.parts for _, near in part.sockets]
        spigots = [(part, _slice(part, part.spigot, radius, True)) for part in mine.parts if part.spigot is not None]
        for part, (_, core) in spigots:
            tip = _farthest(core)
            for _, wall in sockets:
                at = (tip + _nearest(wall)) / 2
                assert tip - _nearest(wall) > HIGH
                assert (_shared_arcs(_solid_at(core, at), _solid_at(wall, at)) * at).min() > SHEARED, part.name
