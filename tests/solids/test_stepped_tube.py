"""Tubes that grow: their solids and meshes hold the metal that Pappus–Guldinus gives for each size, and equal sizes
change no byte."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.curves.run import line_of, run_bodies
from headergen.geometry.curves.stepped import growth_places, wall_spans
from headergen.geometry.mesh.tube import run_mesh, stepped_mesh
from headergen.model import Centreline, Header
from headergen.parts.run import run_seat
from headergen.solids.inspect import measure
from headergen.solids.kept import written_solid
from headergen.solids.tube import stepped_solid, tube_solid
from tests.geometry.test_stepped_gaps import stepped_run
from tests.spec.small_spec import changed, draft_of

ORIGIN, WAY = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def metal(outer: float, wall: float, length: float) -> float:
    """π·(OD − t)·t·L, Pappus–Guldinus."""
    return math.pi * (outer - wall) * wall * length


def cone(radii: tuple[float, float], length: float) -> float:
    """Of a full frustum: π·h·(R² + R·r + r²)/3."""
    a, b = radii
    return math.pi * length * (a * a + a * b + b * b) / 3


def expected(run_number: int) -> tuple[float, object, Centreline]:
    """The metal of a random stepped run by its sizes alone; the clearance in a slip joint is full."""
    run = stepped_run(np.random.default_rng(run_number), ORIGIN, WAY)
    line, at, total = line_of(run), 0.0, 0.0
    for place in growth_places(run):
        before, after = place.before, place.after
        total += metal(before.outside_diameter, before.wall, place.start - at)
        along, bore = place.end - place.start, before.radius - before.wall
        if place.by == "slip":
            total += math.pi * (after.radius**2 - bore**2) * along
        else:
            total += cone((before.radius, after.radius), along) - cone((bore, after.radius - after.wall), along)
        at = place.end
    last = run.tubes[-1]
    return total + metal(last.outside_diameter, last.wall, line.length - at), run, line


@pytest.mark.parametrize("seed", range(6))
def test_a_stepped_solid_has_the_metal_of_its_sizes(seed: int) -> None:
    volume, run, line = expected(seed)
    facts = measure(stepped_solid(line, wall_spans(run)))  # type: ignore[arg-type]
    assert (facts.valid, facts.shells, facts.closed) == (True, 1, True)
    assert facts.volume == pytest.approx(volume, rel=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_a_stepped_mesh_is_closed_and_its_metal_is_near(seed: int) -> None:
    volume, run, line = expected(seed)
    mesh = stepped_mesh(line, wall_spans(run), 0.02)  # type: ignore[arg-type]
    skin = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert skin.is_watertight and skin.is_winding_consistent
    assert skin.volume == pytest.approx(volume, rel=5e-3)


def test_cut_at_its_flange_it_begins_there() -> None:
    _, run, line = expected(3)
    walls = wall_spans(run, 12.5)  # type: ignore[arg-type]
    assert walls[0].start == 0.0 and walls[-1].end == pytest.approx(line.length - 12.5)
    assert sum(wall.volume for wall in walls) == pytest.approx(expected(3)[0] - metal(36.0, 1.5, 12.5), rel=1e-9)


STEP = "    - {straight: 80}\n    - {step: {outside_diameter: 42.4, wall: 1.5, by: BY}}\n    - {straight: 100}\n"
PLAIN = "    - {straight: 80}\n    - {straight: 20}\n    - {straight: 100}\n"


@pytest.mark.parametrize("by", ["slip", "cone, length: 20"])
def test_two_equal_sizes_give_the_bytes_of_one_size(by: str, tmp_path: Path) -> None:
    one, two = (
        draft_of(tmp_path, changed(("    - {straight: 200}\n", steps))) for steps in (STEP.replace("BY", by), PLAIN)
    )
    assert one == two, "nothing made of them can differ"
    made = []
    for draft in (one, two):
        (run,) = draft.runs
        line = line_of(run)
        seat = run_seat(Header(draft, draft.runs, (line,)), run, line)
        assert not seat.walls and len(run_bodies(run, line)) == 1
        mesh = run_mesh(run, line, 0.05)
        solid = tube_solid(cut_out(line, 0.0, line.length), run.tube.radius, run.tube.radius - run.tube.wall)
        made.append((written_solid(solid), mesh.vertices.tobytes(), mesh.faces.tobytes()))
    assert made[0] == made[1]
