"""The mock of a stepped primary: printed parts that have the outside of the size they stand for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.stepped import growth_places
from headergen.mock.build import Mock, make_mock
from headergen.mock.part import MockPart, in_place
from headergen.mock.saddle import saddles_of
from headergen.model import Header, MockSettings
from headergen.pipeline import settle
from headergen.shop.stage import pieces_of

SPECS = Path(__file__).resolve().parents[2] / "specs"
GUIDE = SPECS / "guide_steps.yaml"
FACETS = 0.06  # mm that a printed skin may be inside the round


@pytest.fixture(scope="module")
def header() -> Header:
    return settle(GUIDE).with_runs({"primary 1"})


@pytest.fixture(scope="module")
def mock(header: Header) -> Mock:
    return make_mock(header, MockSettings(plates=False))


def farthest(mock: Mock, header: Header, at: float) -> float:
    """The largest distance from the axis of the plastic in a plane across the tube at a length along it."""
    point, way, _ = (np.array(each) for each in frame_at(header.centrelines[0], at))
    found = 0.0
    for part in mock.parts:
        mesh = in_place(part)
        cut = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).section(way, point)
        if cut is not None:
            away = np.linalg.norm(cut.vertices - point, axis=1)
            found = max(found, float(away[away < 40.0].max(initial=0.0)))
    return found


def test_all_parts_are_closed(mock: Mock) -> None:
    for part in mock.parts:
        assert trimesh.Trimesh(part.mesh.vertices, part.mesh.faces, process=False).is_watertight, part.name


def test_each_size_is_as_wide_as_its_steel(mock: Mock, header: Header) -> None:
    """At places off the letters, witness lines and notches: 30 mm before each step, and beyond it."""
    slip, cone = growth_places(header.runs[0])
    for at, radius in ((slip.start - 25, 38.1 / 2), (slip.end + 12, 41.3 / 2), (cone.end + 15, 44.5 / 2)):
        assert farthest(mock, header, at) == pytest.approx(radius, abs=FACETS)


def test_a_cone_goes_from_one_size_to_the_other(mock: Mock, header: Header) -> None:
    _, cone = growth_places(header.runs[0])
    middle = farthest(mock, header, (cone.start + cone.end) / 2)
    assert (41.3 / 2 + FACETS) < middle < (44.5 / 2 - FACETS)


def test_steel_straights_are_of_the_size_that_is_there() -> None:
    """No growth is in one, nor in what its ends go into; the sheet has the tube to saw it from."""
    header = settle(SPECS / "bulrush.yaml").with_runs({"primary 1"})
    made = make_mock(header, MockSettings(plates=False, straights="steel"))
    [run], [place] = header.runs, growth_places(header.runs[0])
    pieces = {piece.number: piece for piece in made.pieces}
    assert made.straights
    line = header.centrelines[0]
    lengths = np.linspace(0.0, line.length, 3000)
    middles = np.array([frame_at(line, at)[0] for at in lengths])
    for each in made.straights:
        tube = run.tubes[0] if pieces[each.piece].end <= place.end else run.tubes[1]
        assert each.size == (tube.outside_diameter, tube.wall)
        off = np.linalg.norm(made.steel[each.name].vertices[:, None] - middles, axis=2)
        assert off.min(axis=1).max() == pytest.approx(tube.radius, abs=0.1)
        along = lengths[off.argmin(axis=1)]
        assert along.max() < place.start or along.min() > place.end
    assert "Primary 1 grows: a straight that grows, or is next to where it does, is printed." in made.notes
    assert {part.name for part in made.adapters} >= {each.before for each in made.straights}


def saddles_by_joint(header: Header) -> dict[int, MockPart | str]:
    [(run, line)], plan = header.tubes, pieces_of(header)
    made = saddles_of((run, line, "1"), plan.of_run(run.name), plan.joints_of(run.name), MockSettings())
    return {k: each if isinstance(each, str) else each[0] for k, each in enumerate(made, 1)}


def test_a_saddle_holds_two_sizes_where_the_larger_is_pushed_over_the_smaller(header: Header) -> None:
    """At the mouth of the larger tube: the ribs before it have the one radius, those after it the other."""
    [(run, line)], [slip, _] = header.tubes, growth_places(header.runs[0])
    joint = next(each for each in pieces_of(header).joints_of(run.name) if each.at == pytest.approx(slip.start))
    part = saddles_by_joint(header)[joint.number]
    assert isinstance(part, MockPart)
    place, along, _ = (np.array(each) for each in frame_at(line, joint.at))
    points = in_place(part).vertices - place
    far = points @ along
    away = np.linalg.norm(points - np.outer(far, along), axis=1)
    sides = [away[(far < -24.9) & (far > -49.0)].min(), away[(far > 24.9) & (far < 76.0)].min()]
    assert sides == pytest.approx([38.1 / 2 + 0.1, 41.3 / 2 + 0.1], abs=0.02), "the tube's radius and 0.1 of play"
    assert away[abs(far) < 24.9].min() > 41.3 / 2 + 20.0, "the window is free"


def test_what_has_no_saddle_says_why_joint_by_joint(header: Header) -> None:
    """Cone and short pieces; the tube's growing alone is no reason."""
    found = saddles_by_joint(header)
    why = {number: each for number, each in found.items() if isinstance(each, str)}
    assert set(found) - set(why) >= {1, 2, 3} and why
    assert all("a rib needs" in each for each in why.values())
    assert not any("is stepped" in each for each in why.values())
