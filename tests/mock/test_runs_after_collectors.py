"""Runs that begin on a collector, printed: held by its outlet, turned as they are to be, and their weight."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from assembly import end_of, home, manifold, place_after, turn_between
from layers import starts_in_mid_air

from headergen.geometry.curves.centreline import frame_at
from headergen.mock.build import Mock, make_mock
from headergen.mock.collected import held_runs, plan_collectors
from headergen.mock.part import overhang
from headergen.mock.strength import Load, TubeSection, necks
from headergen.mock.weakest import weakest_necks
from headergen.model import Header, MockSettings
from headergen.pipeline import settle

ROOT = Path(__file__).resolve().parents[2]
SPEC = ROOT / "specs" / "guide_two_steps.yaml"
DEPTH = 2.5  # mm from the stop face: in the middle of the ribs
BARE = MockSettings(flange=False, plates=False)


@pytest.fixture(scope="module")
def both() -> tuple[Header, Mock]:
    """A primary into each of two collectors, and the run after each."""
    names = {"primary 1", "primary 3", "secondary outer", "secondary inner"}
    header = settle(SPEC).with_runs(names)
    return header, make_mock(header, BARE)


def chain(header: Header, mock: Mock, run: str) -> None:
    """Put together from the collector on, by ribs and notches as the meshes have them; it ends on its bore."""
    radius = header.run(run).tube.radius
    [(name, near, holder)] = [
        (part.name, frame, part) for part in mock.collectors for whose, frame in part.sockets if whose == run
    ]
    socket, place = end_of(holder.mesh, near, radius, DEPTH, False), home(holder)
    mine = [part for part in mock.parts if part.runs == (run,)]
    assert len(mine) > 2 and name in mock.order
    for part in mine:
        assert part.spigot is not None
        place = place_after(end_of(part.mesh, part.spigot, radius, DEPTH, True), socket, place)
        if part.sockets:
            socket = end_of(part.mesh, part.sockets[0][1], radius, DEPTH, False)
    [line] = [line for line in header.centrelines if line.run == run]
    point, tangent, _ = frame_at(line, line.length)
    assert np.linalg.norm(place[1] - np.array(point)) < 0.05
    assert math.acos(min(1.0, float(-(place[0] @ [0.0, 0.0, 1.0]) @ np.array(tangent)))) < math.radians(0.05)


@pytest.mark.parametrize("run", ["secondary outer", "secondary inner"])
def test_a_run_after_a_collector_ends_on_its_bore(run: str, both: tuple[Header, Mock]) -> None:
    chain(*both, run)


def test_the_outlet_takes_its_own_run_only(both: tuple[Header, Mock]) -> None:
    """The ribs of the other run miss the notches by half their width or more, however they are turned."""
    header, mock = both
    radius = header.run("secondary outer").tube.radius
    notches = {
        run: end_of(part.mesh, frame, radius, DEPTH, False).bearings
        for part in mock.collectors
        for run, frame in part.sockets
    }
    for run in notches:
        [first] = [part for part in mock.parts if part.runs == (run,) and 1 in part.pieces]
        assert first.spigot is not None
        ribs = end_of(first.mesh, first.spigot, radius, DEPTH, True).bearings
        misses = {other: turn_between(ribs, found)[0][0] * radius for other, found in notches.items()}
        assert misses[run] < 0.1 and all(miss > 1.0 for other, miss in misses.items() if other != run), misses


def test_names_and_order(both: tuple[Header, Mock]) -> None:
    """Outer is the first collector of the file: its run is R1, piece by piece, after C1, which is after primary 1."""
    _, mock = both
    names = [part.name for part in mock.parts if part.runs == ("secondary outer",)]
    assert names and all(name.startswith("R1-") for name in names)
    pieces = {piece.number for piece in mock.pieces if piece.run == "secondary outer"}
    assert {n for part in mock.parts if part.runs == ("secondary outer",) for n in part.pieces} == pieces
    assert not any("not printed, since" in note for note in mock.notes)
    for primary, collector, run in (("P1-", "C1", "R1-"), ("P3-", "C2", "R2-")):
        before = [k for k, name in enumerate(mock.order) if name.startswith(primary)]
        after = [k for k, name in enumerate(mock.order) if name.startswith(run)]
        assert max(before) < mock.order.index(collector) < min(after)


def test_nothing_overlaps(both: tuple[Header, Mock]) -> None:
    _, mock = both
    parts = [*mock.parts, *mock.collectors]
    solids = [manifold(part.mesh, home(part)) for part in parts]
    for k, one in enumerate(solids):
        for other, part in zip(solids[:k], parts[:k], strict=True):
            assert (one ^ other).volume() < 2.0, (parts[k].name, part.name)


@pytest.mark.slow
def test_a_collector_with_a_socket_prints_without_support(both: tuple[Header, Mock]) -> None:
    for part in both[1].collectors:
        assert overhang(part.mesh, BARE.lean) < 0.01 and starts_in_mid_air(part.mesh) == [], part.name


def test_what_follows_weighs_on_the_primaries(both: tuple[Header, Mock]) -> None:
    _, mock = both
    alone = weakest_necks(mock.parts, mock.settings)
    stress = {fact.name: fact.stress for fact in mock.facts}
    first = mock.parts[0].name
    assert first == "P1-1" and stress[first] > 1.1 * alone[first].stress
    run = [part.name for part in mock.parts if part.name.startswith("R1-")]
    assert all(stress[name] == pytest.approx(alone[name].stress) for name in run)


def test_a_weight_beyond_the_end_bends_by_its_lever() -> None:
    """1 kg at 300 mm from a section of 1000 mm³: 9.80665 N times 300 mm over that."""
    section = TubeSection("primary 1", (0.0, 0.0, 0.0), 150.0, 1000.0, 0.0)
    found = necks([("P1-1", section)], MockSettings(weight=0.0), [Load(1000.0, (0.0, 300.0, 0.0))])
    assert found["P1-1"].stress == pytest.approx(9.80665 * 300 / 1000)
    assert found["P1-1"].mass == pytest.approx(1000.0) and found["P1-1"].lever == pytest.approx(300.0)


def test_a_run_is_printed_only_where_its_collector_is() -> None:
    """On a bed for tubes but not for collectors, neither is, and the mock says why."""
    header = settle(SPEC)
    small = MockSettings(bed=(90.0, 90.0, 250.0))
    plans, notes = plan_collectors(header, small)
    assert not plans and len(notes) == 2 and all("too large for the bed" in note for note in notes)
    assert {run.name for run, _ in held_runs(header, plans)} == {f"primary {n}" for n in range(1, 5)}


@pytest.mark.slow
def test_a_whole_header_of_two_steps_with_steel_straights() -> None:
    """Plates hold the ends of both levels, real tube stands in runs of either width, and all goes on in some order."""
    header = settle(SPEC)
    mock = make_mock(header, MockSettings(straights="steel", collector=True))
    assert [pair.tubes for pair in mock.pairs] == ["primary", "primary", "secondary"]
    assert {each.before for each in mock.straights} <= {part.name for part in mock.adapters}
    assert {each.run for each in mock.straights} >= {"secondary outer", "secondary inner"}
    assert not any("No order was found" in note for note in mock.notes)
    assert [part.name for part in mock.collectors] == ["C1", "C2", "C3"]
    for run in ("secondary outer", "secondary inner"):
        assert set(mock.order) >= {each.name for each in mock.straights if each.run == run}
