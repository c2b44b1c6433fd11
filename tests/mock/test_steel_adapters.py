"""Plugs: they go into the printed socket with its key, and into the true steel that follows, and print."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from assembly import home, manifold
from layers import as_trimesh, starts_in_mid_air
from manifold3d import CrossSection, Manifold

from headergen.geometry.curves.centreline import cut_out, frame_at
from headergen.geometry.mesh.tube import tube_mesh
from headergen.mock.build import Mock, make_mock
from headergen.mock.part import MockPart, overhang
from headergen.mock.strength import ALLOWED
from headergen.model import Header, MockSettings
from headergen.pipeline import settle

ROOT = Path(__file__).resolve().parents[2]
# before bends and before straights
JOINTS = tuple((f"primary {number}", joint) for number in (1, 2, 3, 4) for joint in (1, 2, 3))
SETTINGS = MockSettings(steel_after=JOINTS, plates=False)


@pytest.fixture(scope="module")
def adapted() -> tuple[Header, Mock]:
    """Without stock, so that a joint stands after every step of a path but the last, and has its number."""
    header = settle(ROOT / "specs" / "bogbean.yaml")
    header = replace(header, draft=replace(header.draft, stock=None))
    return header, make_mock(header, SETTINGS)


def before(mock: Mock, adapter: MockPart) -> MockPart:
    """The part whose socket is where the adapter's joint is."""
    at = home(adapter)[0] @ np.array(adapter.spigot.origin) + home(adapter)[1]  # type: ignore[union-attr]
    [found] = [
        part
        for part in mock.parts
        for number, near in part.sockets
        if number in adapter.runs and np.linalg.norm(home(part)[0] @ np.array(near.origin) + home(part)[1] - at) < 1e-3
    ]
    return found


@pytest.mark.slow
def test_there_is_one_for_each_joint_asked_for(adapted: tuple[Header, Mock]) -> None:
    _, mock = adapted
    assert [adapter.name for adapter in mock.adapters] == [f"J{run[8:]}-{joint}" for run, joint in JOINTS]
    assert {place.name for place in mock.placed} >= {adapter.name for adapter in mock.adapters}


def about(adapter: MockPart, solid: Manifold) -> Manifold:
    """What of a solid is as near to an adapter's joint as adapters reach: all they could share, of fewer facets."""
    rotation, shift = home(adapter)
    low, high = adapter.mesh.vertices[:, 2].min() - 2.0, adapter.mesh.vertices[:, 2].max() + 2.0
    axis = rotation[:, 2]
    kept = solid.trim_by_plane(tuple(axis), float(axis @ shift) + low)
    return kept.trim_by_plane(tuple(-axis), -(float(axis @ shift) + high))


def shared(adapter: Manifold, at: MockPart, solid: Manifold, turn: float, deeper: float = 0.0) -> float:
    """Volume that an adapter has in common with a part, put where the adapter `at` belongs, turned and pushed in."""
    rotation, shift = home(at)
    c, s = math.cos(turn), math.sin(turn)
    turned = rotation @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return float((solid ^ adapter.transform(np.column_stack([turned, shift + deeper * rotation[:, 2]]))).volume())


@pytest.mark.slow
def test_an_adapter_goes_home_in_its_socket_and_in_no_other(adapted: tuple[Header, Mock]) -> None:
    """In one rotation, where the toes of the socket stop it: its chamfer meets their slope 1.4 mm farther in. Any other
    adapter is in the wall however it is turned."""
    _, mock = adapted
    [right] = [adapter for adapter in mock.adapters if adapter.name == "J2-2"]
    part = before(mock, right)
    solid = about(right, manifold(part.mesh, home(part)))
    assert shared(manifold(right.mesh), right, solid, 0.0) < 0.5
    assert shared(manifold(right.mesh), right, solid, 0.0, deeper=1.2) < 0.5
    assert shared(manifold(right.mesh), right, solid, 0.0, deeper=2.0) > 2.0
    for adapter in mock.adapters:
        turns = [math.radians(5 * k) for k in range(1 if adapter is right else 0, 72)]
        body = manifold(adapter.mesh)
        assert min(shared(body, right, solid, turn) for turn in turns) > 2.0, adapter.name


@pytest.mark.slow
def test_every_adapter_takes_the_steel_after_it(adapted: tuple[Header, Mock]) -> None:
    """The true tube beyond the joint, bent where it is bent, its bore narrowed by half the gap: nothing shared."""
    header, mock = adapted
    tube = header.draft.tube
    lines = {line.run: line for line in header.centrelines}
    for adapter, (number, joint) in zip(mock.adapters, JOINTS, strict=True):
        line = lines[number]
        at = line.starts[joint]
        steel = cut_out(line, at, min(at + 14.0, line.length))
        tight = tube_mesh(steel, tube.radius, tube.radius - tube.wall - SETTINGS.gap / 2, 0.01)
        loose = tube_mesh(steel, tube.radius, tube.radius - tube.wall - SETTINGS.gap - 0.5, 0.01)
        placed = manifold(adapter.mesh, home(adapter))
        assert (manifold(tight) ^ placed).volume() < 0.5, adapter.name
        assert (manifold(loose) ^ placed).volume() > 5.0, adapter.name  # but it is not loose there


@pytest.mark.slow
def test_the_grooved_rib_is_at_the_witness_line(adapted: tuple[Header, Mock]) -> None:
    header, mock = adapted
    lines = {line.run: line for line in header.centrelines}
    for adapter, (number, joint) in zip(mock.adapters, JOINTS, strict=True):
        at = lines[number].starts[joint]
        point, tangent, normal = (np.array(each) for each in frame_at(lines[number], at))
        axes = np.column_stack([np.cross(normal, tangent), normal, tangent])  # x toward the witness line
        section = (
            manifold(adapter.mesh, home(adapter)).transform(np.column_stack([axes.T, -axes.T @ point])).slice(-2.5)
        )
        tip = max(float(np.linalg.norm(polygon, axis=1).max()) for polygon in section.to_polygons())
        ring = CrossSection.circle(tip - 0.3, 512) - CrossSection.circle(tip - 0.35, 512)
        teeth = (ring ^ section).decompose()
        assert len(teeth) == 5  # four ribs, one of them in two halves
        bearings = sorted(abs(math.atan2(*np.concatenate(t.to_polygons()).mean(axis=0)[::-1])) for t in teeth)
        assert bearings[1] < 2.0 / tip and bearings[2] > 0.5  # the two halves are the nearest, either side of the line


@pytest.mark.slow
def test_an_adapter_prints_without_support(adapted: tuple[Header, Mock]) -> None:
    _, mock = adapted
    for adapter in mock.adapters[:4]:
        seen = as_trimesh(adapter.mesh)
        assert seen.is_watertight and seen.is_winding_consistent and seen.body_count == 1 and seen.volume > 0
        assert overhang(adapter.mesh, SETTINGS.lean) < 0.01, adapter.name
        assert starts_in_mid_air(adapter.mesh) == [], adapter.name
        assert adapter.smallest_section > 120.0  # two lines of 0.6 mm round a core of 36 mm


@pytest.mark.slow
def test_a_joint_that_is_not_printed_has_no_adapter_and_is_not_free(adapted: tuple[Header, Mock]) -> None:
    """Pieces 6 and 7 of primary 3 are printed as one. The sheet tells of joints that are there, by these settings."""
    header, _ = adapted
    joints = (("primary 3", 6), ("primary 3", 5))
    mock = make_mock(header, MockSettings(steel_after=joints, without_key=joints, plates=False, flange=False))
    assert [adapter.name for adapter in mock.adapters] == ["J3-5"]
    assert mock.settings.steel_after == mock.settings.without_key == (("primary 3", 5),)
    assert any(note.startswith("There is no steel adapter J3-6") for note in mock.notes)
    assert any(note.startswith("Joint 6 of primary 3 (") and "is not free to turn" in note for note in mock.notes)


@pytest.mark.slow
def test_an_adapter_that_bears_much_has_three_lines() -> None:
    """With 300 g more on the end of primary 1 its first adapter would be a thin neck with two; the last one would not.
    Three lines round the same core hold a quarter more plastic at the least."""
    header = settle(ROOT / "specs" / "bogbean.yaml").with_runs({"primary 1"})
    mock = make_mock(header, MockSettings(straights="steel", plates=False, weight=800.0))
    facts = {adapter.name: fact for adapter in mock.adapters for fact in mock.facts if fact.name == adapter.name}
    first, *_, last = facts
    assert facts[first].smallest_section > 1.25 * facts[last].smallest_section
    assert all(0.0 < fact.stress < ALLOWED and not fact.notes for fact in facts.values())
