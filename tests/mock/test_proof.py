"""The parts' own meshes fed back into the gap engine: the mock is the header, and a tube 2 mm long is found out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from headergen.geometry.curves.body import cylinder_body, tube_body
from headergen.geometry.curves.centreline import frame_on, trace
from headergen.geometry.distance.distance_bodies import body_to_body
from headergen.geometry.distance.distance_triangles import body_to_triangles
from headergen.geometry.frames import add
from headergen.geometry.mesh.triangles import Points
from headergen.mock.build import Mock, make_mock
from headergen.model import Cylinder, Header, MockSettings, Straight

Demo = Callable[[str], tuple[Header, Mock]]
LONGER = 2.0
NO_PLATES = MockSettings(plates=False)  # which ask for longer ends


def triangles_of(mock: Mock, number: str) -> Points:
    """All triangles of one primary's tube parts, in engine axes."""
    found = []
    for part in mock.parts:
        if part.runs == (number,) and part.spigot is not None:
            axes = np.array([part.home.x, part.home.y, part.home.z])
            found.append((part.mesh.vertices @ axes + np.array(part.home.origin))[part.mesh.faces])
    return np.concatenate(found)


@pytest.fixture(scope="module")
def long_mock(demo: Demo) -> tuple[Header, Mock]:
    """Primary 1 alone, its second straight 2 mm longer than the header has it."""
    header, _ = demo("bogbean")
    primary, line = header.primaries[0], header.centrelines[0]
    steps = [*primary.steps]
    assert isinstance(steps[2], Straight)
    steps[2] = Straight(steps[2].length + LONGER)
    wrong = trace(primary.port.frame, steps, primary.name)
    assert wrong.length == pytest.approx(line.length + LONGER)
    only = replace(header, runs=(replace(primary, steps=tuple(steps)),), centrelines=(wrong,))
    return header, make_mock(only, NO_PLATES)


@pytest.fixture(scope="module")
def right_mock(demo: Demo) -> Mock:
    """As the header is, its ends no longer than the steel."""
    return make_mock(demo("bogbean")[0], NO_PLATES)


@pytest.mark.slow
def test_gaps_of_the_mock_are_those_of_the_header(demo: Demo, right_mock: Mock) -> None:
    """Each tube's exact body to the mesh of each other: off by the chords, 0.04 mm either way, and by what is cut in.

    Beyond the flange plates, which hold the tubes' starts: the least gaps of the Bogbean are far from them.
    """
    header, mock = demo("bogbean")[0], right_mock
    radius = header.draft.tube.radius
    bodies = {line.run: tube_body(line, radius) for line in header.centrelines}
    meshes = {number: triangles_of(mock, number) for number in bodies}
    for a, b in permutations(bodies, 2):
        exact = body_to_body(bodies[a], bodies[b])[0].value
        seen = body_to_triangles(bodies[a], meshes[b]).value
        assert -0.045 < seen - exact < 0.1, (a, b)


@pytest.mark.slow
def test_two_millimetres_show_at_the_collector(demo: Demo, right_mock: Mock, long_mock: tuple[Header, Mock]) -> None:
    """A rod along the bore ends 10 mm behind the collector plane: that far from the mock, nearer to the long one."""
    header, right = demo("bogbean")[0], right_mock
    line = header.centrelines[0]
    point, tangent, _ = frame_on(line.segments[-1], line.segments[-1].length)
    rod = cylinder_body(
        Cylinder(add(point, tangent, 10.0), add(point, tangent, 60.0), header.draft.tube.outside_diameter)
    )
    assert body_to_triangles(rod, triangles_of(right, "primary 1")).value == pytest.approx(10.0, abs=0.01)
    longer = body_to_triangles(rod, triangles_of(long_mock[1], "primary 1")).value
    # the straight that grew leaves the bore's axis by the angles of two bends, so not all 2 mm go toward the rod
    start = next(s for s in line.segments if s.step == 3)
    toward = float(np.dot(start.tangent, tangent))
    assert longer == pytest.approx(10.0 - LONGER * toward, abs=0.06)
    assert longer < 9.5


@pytest.mark.slow
def test_two_millimetres_show_between_the_tubes(demo: Demo, right_mock: Mock, long_mock: tuple[Header, Mock]) -> None:
    header, right = demo("bogbean")[0], right_mock
    other = tube_body(header.centrelines[1], header.draft.tube.radius)
    exact = body_to_body(other, tube_body(header.centrelines[0], header.draft.tube.radius))[0].value
    assert abs(body_to_triangles(other, triangles_of(right, "primary 1")).value - exact) < 0.1
    assert abs(body_to_triangles(other, triangles_of(long_mock[1], "primary 1")).value - exact) > 0.3
