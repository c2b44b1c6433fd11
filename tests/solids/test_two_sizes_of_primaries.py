"""Primaries of one collector that arrive with two sizes: bores, merge, gaps, sleeves and locating plates for each."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.uneven import UnevenMerge
from headergen.mock.locating import plate_pairs
from headergen.model import Bore, Header, MockSettings
from headergen.parts.kind import Seated
from headergen.parts.table import parts_of
from headergen.pipeline import settle
from headergen.solids.making import Making
from headergen.solids.mesh import solid_mesh
from headergen.solids.table import SOLIDS

GUIDE = Path(__file__).resolve().parents[2] / "specs" / "guide_steps.yaml"
LAST_STEP = """    - {step: {outside_diameter: 44.5, wall: 1.5, by: cone, length: 25}}
    - {straight: {fit: 20, min: 12}}
"""
WIDE, SLIM, WALL, GAP, SLIP = 44.5, 41.3, 1.5, 0.3, 40.0  # mm, as the guide has them


@cache
def two_sizes(folder: Path) -> Header:
    """The guide to steps, whose second primary leaves out its second step."""
    text = GUIDE.read_text(encoding="utf-8")
    first, second = text.split("\n  2:\n    - {straight: 60}\n")
    assert LAST_STEP in second
    path = folder / "two_sizes.yaml"
    path.write_text(f"{first}\n  2:\n    - {{straight: 60}}\n" + second.replace(LAST_STEP, ""), encoding="utf-8")
    return settle(path)


@pytest.fixture(scope="module")
def header(tmp_path_factory: pytest.TempPathFactory) -> Header:
    return two_sizes(tmp_path_factory.mktemp("two"))


def arrives(header: Header, bore: Bore) -> float:
    """Outside diameter of the tube in a bore."""
    return WIDE if bore.run == "primary 1" else SLIM


def test_every_bore_is_of_the_tube_that_arrives(header: Header) -> None:
    [collector] = header.draft.collectors
    assert [bore.tube and bore.tube.outside_diameter for bore in collector.bores] == [WIDE, SLIM]
    merge = merge_of(header.draft.tube, collector)
    assert isinstance(merge, UnevenMerge)
    assert [tube.inner for tube in merge.tubes] == pytest.approx([WIDE / 2 + GAP, SLIM / 2 + GAP])
    assert [tube.outer for tube in merge.tubes] == pytest.approx([each.inner + WALL for each in merge.tubes])


@pytest.mark.slow
def test_the_sleeves_of_the_made_collector_take_these_tubes(header: Header) -> None:
    """The mesh at each mouth: two circles about the bore, of the tube with its clearance, and of that with the wall."""
    [collector] = header.draft.collectors
    part = next(each for each in parts_of(header) if each.name == "collector main")
    assert isinstance(part, Seated)
    mesh = solid_mesh(SOLIDS[part.kind.shape](part, Making(header.draft)).solid, 0.02, part.name)
    for bore in collector.bores:
        frame = bore.frame
        off = mesh.vertices - np.array(frame.origin)
        along = off @ np.array(frame.z)
        mouth = off[np.abs(along + SLIP) < 1e-3]
        reach = np.hypot(mouth @ np.array(frame.x), mouth @ np.array(frame.y))
        reach = reach[reach < WIDE]  # of this bore: the other is farther off than a tube
        bored, outside = arrives(header, bore) / 2 + GAP, arrives(header, bore) / 2 + GAP + WALL
        near = reach[reach < (WIDE + 2) / 2 + WALL]
        assert near.min() == pytest.approx(bored, abs=1e-3)
        # sleeves that touch are drawn up to a tenth of a millimetre thinner
        assert any(abs(each - outside) < 0.06 for each in near)


def test_the_holes_of_the_locating_plates_fit_each_tube(header: Header) -> None:
    [pair] = plate_pairs(header, MockSettings())
    for plate in pair.plates:
        holes = {hole.run: hole.diameter for hole in plate.holes if hole.run}
        play = 2 * MockSettings().gap
        assert holes == {"primary 1": pytest.approx(WIDE + play), "primary 2": pytest.approx(SLIM + play)}


def test_bores_without_a_pitch_are_spaced_for_the_wider_tube(header: Header) -> None:
    """Sleeves of the wider tube would touch."""
    [collector] = header.draft.collectors
    one, other = (bore.frame.origin for bore in collector.bores)
    assert math.dist(one, other) == pytest.approx(WIDE + 2 * (GAP + WALL))
