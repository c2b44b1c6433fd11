"""A joint without key: what its marks say, read as the sheet tells it, gives the spec the path that was tried."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from assembly import home, manifold
from manifold3d import CrossSection

from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.mesh.triangles import Points
from headergen.mock.build import Mock, make_mock
from headergen.mock.part import MockPart
from headergen.model import Bend, Frame, Header, MockSettings

Demo = Callable[[str], tuple[Header, Mock]]
# without stock a joint stands after every step of a path but the last, and has its number
PRIMARY, JOINT, BEND = 1, 3, 3  # the joint after primary 1's long leg, and the place of the bend that follows it


def clockwise(points: Points, about: Points, travel: Points, turn: float) -> Points:
    """Points turned clockwise as seen by one who looks along the travel, by Rodrigues' formula."""
    off = points - about
    along = (off @ travel)[:, None] * travel
    return about + along + math.cos(turn) * (off - along) + math.sin(turn) * np.cross(travel, off)


@pytest.mark.parametrize("degrees", [10.0, -30.0])
def test_what_is_read_and_added_is_the_path_that_was_tried(demo: Demo, degrees: float) -> None:
    """Everything after the joint turned by hand is what the bend that follows gives with as much more rotation."""
    header, _ = demo("bogbean")
    primary, line = header.primaries[PRIMARY - 1], header.centrelines[PRIMARY - 1]
    at = line.starts[JOINT]
    point, travel, _ = (np.array(each) for each in frame_at(line, at))
    after = [at + share * (line.length - at) for share in np.linspace(0.05, 1.0, 12)]
    tried = clockwise(np.array([frame_at(line, s)[0] for s in after]), point, travel, math.radians(degrees))
    steps = list(primary.steps)
    bend = steps[BEND]
    assert isinstance(bend, Bend)
    steps[BEND] = replace(bend, rotation=bend.rotation + math.radians(degrees))
    changed = trace(primary.port.frame, steps, primary.name)
    np.testing.assert_allclose([frame_at(changed, s)[0] for s in after], tried, atol=1e-9)


@pytest.mark.slow
def test_the_long_mark_meets_the_notch_and_marks_stand_ten_degrees_apart(demo: Demo) -> None:
    """On the meshes: the part before has one notch, the part after 36 grooves, of which one alone is 6 mm long."""
    header, _ = demo("bogbean")
    draft = replace(header.draft, stock=None)
    only = replace(header, draft=draft, runs=header.runs[:1], centrelines=header.centrelines[:1])
    mock = make_mock(only, MockSettings(without_key=((f"primary {PRIMARY}", JOINT),), plates=False))
    line, radius = header.centrelines[0], header.draft.tube.radius
    at = line.starts[JOINT]
    point, travel, normal = (np.array(each) for each in frame_at(line, at))
    axes = np.array([np.cross(normal, travel), normal, travel])
    places = {part.name: manifold(part.mesh, home(part)) for part in mock.parts}
    local = {name: solid.transform(np.column_stack([axes, -axes @ point])) for name, solid in places.items()}
    after = next(part.name for part in mock.parts if part.spigot is not None and _at(part, part.spigot, point))
    before = next(part.name for part in mock.parts if any(_at(part, near, point) for _, near in part.sockets))
    ring = CrossSection.circle(radius - 0.2, 720) - CrossSection.circle(radius - 0.3, 720)
    notch = _bearings(ring - local[before].slice(-1.0))
    grooves = _bearings(ring - local[after].slice(1.0))
    long = _bearings(ring - local[after].slice(5.0))
    assert len(notch) == len(long) == 1 and len(grooves) == 36
    assert long[0] == pytest.approx(notch[0], abs=math.radians(0.3))
    assert np.diff(grooves) == pytest.approx(math.radians(10), abs=math.radians(0.3))


def _at(part: MockPart, near: Frame, point: Points) -> bool:
    rotation, shift = home(part)
    return float(np.linalg.norm(rotation @ np.array(near.origin) + shift - point)) < 1e-3


def _bearings(gaps: CrossSection) -> list[float]:
    """Middles of what is missing of a ring, radians."""
    middles = [np.concatenate(piece.to_polygons()).mean(axis=0) for piece in gaps.decompose() if piece.area() > 0.02]
    return sorted(math.atan2(y, x) for x, y in middles)
