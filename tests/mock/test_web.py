"""What is left out of flat plates: nothing that holds, and never so much that a plate falls apart."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from assembly import manifold
from layers import as_trimesh
from manifold3d import CrossSection

from headergen.mock.build import Mock
from headergen.mock.flange import ROUND_BOLT, WEB
from headergen.mock.web import BAR, WINDOW, Disc, bars_from, open_web
from headergen.model import Header

Demo = Callable[[str], tuple[Header, Mock]]
PLATE = CrossSection.square((200.0, 120.0), True)


def test_discs_and_the_bar_between_them_are_kept() -> None:
    """Two discs of 20 mm, 100 mm apart: the section across the middle is the bar, and the corners are gone."""
    web = open_web(PLATE, [Disc((-50.0, 0.0), 20.0), Disc((50.0, 0.0), 20.0)], [((-50.0, 0.0), (50.0, 0.0))], [])
    across = web ^ CrossSection.square((1.0, 120.0), True)
    assert across.area() == pytest.approx(BAR, rel=0.01)
    discs = 2 * math.pi * 20.0**2
    assert discs < web.area() < discs + 100.0 * BAR
    assert (CrossSection.circle(19.9, 96).translate((50.0, 0.0)) - web).area() < 1e-6


def test_a_plate_that_would_fall_apart_is_whole() -> None:
    web = open_web(PLATE, [Disc((-60.0, 0.0), 20.0), Disc((60.0, 0.0), 20.0)], [], [])
    assert web.area() == pytest.approx(PLATE.area())


@pytest.mark.parametrize(("across", "filled"), [(0.9, True), (1.5, False)])
def test_small_windows_are_filled(across: float, filled: bool) -> None:
    """A square opening of less than WINDOW is not worth its outline."""
    side = math.sqrt(WINDOW) * across
    frame = CrossSection.square((80.0, 80.0), True) - CrossSection.square((side, side), True)
    web = open_web(PLATE, [], [], [frame])
    assert (web.area() == pytest.approx(80.0**2, rel=1e-3)) == filled


def test_bars_go_to_the_nearest_spots() -> None:
    spots = [(0.0, 0.0), (10.0, 0.0), (30.0, 0.0)]
    assert bars_from((4.0, 0.0), spots, 1.6) == [((4.0, 0.0), (0.0, 0.0)), ((4.0, 0.0), (10.0, 0.0))]
    assert bars_from((4.0, 0.0), spots, 1.1) == [((4.0, 0.0), (0.0, 0.0))]


def test_a_flange_plate_is_whole_where_it_works(demo: Demo) -> None:
    """Under each bolt it is as thick as the steel when faced, with the hole through it and plate round it; on the face
    there is a ring round each port; and from each of those all others are reached."""
    header, mock = demo("bogbean")
    [flange] = header.draft.flanges
    plates = [part for part in mock.parts if part.spigot is None]
    found = 0
    for part in plates:
        solid = manifold(part.mesh)
        low, high = solid.slice(0.5), solid.slice(flange.finished - 0.1)
        assert len(low.decompose()) == 1 and as_trimesh(part.mesh).body_count == 1
        for bolt in flange.bolts:
            ring = CrossSection.circle(bolt.hole / 2 + ROUND_BOLT - 0.1, 96) - CrossSection.circle(
                bolt.hole / 2 + 0.1, 96
            )
            ring = ring.translate(bolt.at)
            if (ring ^ low).area() < 1.0:
                continue
            found += 1
            hole = CrossSection.circle(bolt.hole / 2 - 0.1, 96).translate(bolt.at)
            for section in (low, high):
                assert (ring - section).area() < 0.1 and (hole ^ section).area() < 0.1, (part.name, bolt)
        assert solid.slice(WEB + 0.5).area() < 0.6 * low.area()
    assert found >= len(flange.bolts)
    assert float(np.ptp([part.mesh.vertices[:, 2].min() for part in plates])) < 0.01
