"""Numbers in the views of a tube: none on another, each on its piece or tied to it by a leader."""

from __future__ import annotations

import math
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString

from headergen.geometry.mesh.tube import tube_mesh
from headergen.outputs.shop.sheets.labels import LABEL, PieceLabel, ShownPiece, labels
from headergen.outputs.shop.sheets.views import arranged, shown_pieces
from headergen.show.drawing import ABOVE, SIDE, drawn
from headergen.show.meshes import ShownMesh
from tests.demos import cut_once, settled_once

SPECS = Path(__file__).parents[2] / "specs"
HALF, ROOM = 3.0, (80.0, 60.0)


def piece(*ends: tuple[float, float], shows: bool = True) -> ShownPiece:
    places = np.linspace(*ends, 21)
    return ShownPiece(places, np.full(21, shows))


def are_apart(found: tuple[PieceLabel, ...]) -> bool:
    """No circle on another, none on the leader of another, and no two leaders across each other."""
    for one, other in combinations(found, 2):
        if math.dist(one.at, other.at) < 2 * LABEL:
            return False
        leaders = [LineString([each.at, each.to]) for each in (one, other) if each.at != each.to]
        if len(leaders) == 2 and leaders[0].intersects(leaders[1]):
            return False
        for label, leader in ((one, other), (other, one)):
            line = np.linspace(leader.at, leader.to, 200)
            if np.hypot(*(line - label.at).T).min() < LABEL:
                return False
    return True


def test_a_number_stands_in_the_middle_of_a_piece_that_shows() -> None:
    found = labels([piece((10, 30), (30, 30)), piece((30, 30), (60, 30))], HALF, ROOM)
    assert found == (PieceLabel((20.0, 30.0), (20.0, 30.0)), PieceLabel((45.0, 30.0), (45.0, 30.0)))


def test_a_piece_seen_end_on_has_its_number_beside_it() -> None:
    """It is 2 mm long between two others: its number is off the tube, and its leader ends on it."""
    row = [piece((10, 30), (39, 30)), piece((39, 30), (41, 30)), piece((41, 30), (70, 30))]
    found = labels(row, HALF, ROOM)
    assert are_apart(found) and abs(found[1].at[1] - 30) >= HALF + LABEL
    assert 39 <= found[1].to[0] <= 41 and found[1].to[1] == pytest.approx(30)


def test_three_pieces_in_one_place_have_three_numbers() -> None:
    row = [piece((40, 30), (40.5, 30)), piece((40.5, 30), (41, 30), shows=False), piece((41, 30), (41.5, 30))]
    found = labels(row, HALF, ROOM)
    assert are_apart(found)
    assert all(LABEL <= x <= ROOM[0] - LABEL and LABEL <= y <= ROOM[1] - LABEL for x, y in (each.at for each in found))


@pytest.mark.quick(1)
@pytest.mark.parametrize("spec", ["bogbean", "withybed", "glasswort_left", "glasswort_right", "sedge", "bulrush"])
def test_no_numbers_of_a_demo_overlap(spec: str) -> None:
    header, shop, seen = settled_once(spec), cut_once(spec), 0
    for run, line in header.tubes:
        mesh = ShownMesh(run.name, "header", tube_mesh(line, run.tube.radius, run.tube.radius - run.tube.wall, 0.5))
        both = [drawn(header, [mesh], way) for way in (SIDE, ABOVE)]
        scale, _, _ = arranged([view.size for view in both], 60.0)
        for view in both:
            pieces = shop.plan.of_run(run.name)
            shown = shown_pieces(line, pieces, view, scale, run.tube.radius / scale)
            room = (view.size[0] / scale + 14.0, view.size[1] / scale + 14.0)
            found = labels([ShownPiece(p.places + 7.0, p.shows) for p in shown], run.tube.radius / scale, room)
            assert are_apart(found), (run.name, view.direction.name)
            for label, each in zip(found, shown, strict=True):
                assert np.hypot(*(each.places + 7.0 - np.array(label.to)).T).min() < 1e-9, "it is on its piece"
            seen += len(found)
    assert seen > 4
