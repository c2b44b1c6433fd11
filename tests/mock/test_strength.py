"""What hangs on the parts: sections against closed forms, weights against the meshes, and a neck made too thin."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from assembly import home, manifold
from layers import as_trimesh
from manifold3d import CrossSection, Manifold

from headergen.geometry.mesh.triangles import Points
from headergen.mock.build import Mock
from headergen.mock.part import MockPart
from headergen.mock.solid import mesh_of, prism
from headergen.mock.strength import ALLOWED, TubeSection, modulus, said_of, section_at, sections_at
from headergen.mock.weakest import weakest_necks
from headergen.model import Frame, Header, MockSettings

Demo = Callable[[str], tuple[Header, Mock]]
SETTINGS = MockSettings()
LEVEL = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def test_section_moduli_of_a_ring_and_a_rectangle() -> None:
    """π(R⁴ − r⁴)/(4R) and b·h²/6, by integrating y² over ring and rectangle; wherever they lie and however turned."""
    ring = CrossSection.circle(20.0, 720) - CrossSection.circle(16.0, 720)
    assert modulus(ring.translate((3.0, -7.0))) == pytest.approx(math.pi * (20**4 - 16**4) / 80, rel=1e-3)
    bar = CrossSection.square((12.0, 5.0)).rotate(37.0).translate((40.0, 11.0))
    assert modulus(bar) == pytest.approx(12.0 * 5.0**2 / 6, rel=1e-6)
    assert modulus(CrossSection()) == 0.0


def test_sections_cut_by_edges_are_those_of_the_solid() -> None:
    """A tube across a plate, cut anywhere, against the boolean library's own cut of the turned solid.

    Among the places are some where the outline crosses the circle, or goes all round it.
    """
    tube = Manifold.cylinder(120.0, 20.0, 20.0, 90) - Manifold.cylinder(120.0, 16.0, 16.0, 90)
    solid = tube + prism(CrossSection.square((90.0, 70.0), True) - CrossSection.circle(18.0, 90), 40.0, 52.0)
    rng = np.random.default_rng(5)
    stations, areas = [], []
    for z in rng.uniform(2.0, 118.0, 60).tolist():
        turn = np.linalg.qr(np.eye(3) + 0.25 * rng.normal(size=(3, 3)))[0]
        turn[:, 2] *= np.linalg.det(turn)
        place = np.array([*rng.normal(size=2), z])
        seen = solid.transform(np.column_stack([turn.T, -turn.T @ place])).slice(0.0) ^ CrossSection.circle(24.0, 64)
        areas.append(seen.area())
        x, y, up = (tuple(axis) for axis in turn.T.tolist())
        stations.append(("primary 1", Frame(tuple(place.tolist()), x, y, up), 2.0))
    found = sections_at(solid, stations, 24.0)
    assert [section.area for section in found] == pytest.approx(areas, rel=1e-6)
    assert max(areas) > 1.5 * min(areas) > 0.0


def hanging(mock: Mock, name: str) -> tuple[float, Points]:
    """Mass, g, and middle, engine axes, of a primary's tube parts by their meshes."""
    masses, middles = [], []
    for part in mock.parts:
        if part.runs == (name,) and part.spigot is not None:
            mesh = as_trimesh(part.mesh)
            rotation, shift = home(part)
            masses.append(mesh.volume * SETTINGS.density / 1000)
            middles.append(rotation @ mesh.center_mass + shift)
    total = sum(masses)
    return total, sum((m * at for m, at in zip(masses, middles, strict=True)), np.zeros(3)) / total


def test_the_flange_holds_what_the_meshes_weigh(name: str, demo: Demo) -> None:
    """Mass and middle by trimesh and those by sections: within 3 %, ribs and letters and slopes of bores apart."""
    header, mock = demo(name)
    found = weakest_necks(mock.parts, SETTINGS)
    loads = []
    for line in header.centrelines:
        plate = next(part for part in mock.parts if part.spigot is None and line.run in part.runs)
        mass, middle = hanging(mock, line.run)
        last = next(part for part in reversed(mock.parts) if part.runs == (line.run,) and part.spigot is not None)
        far = home(last)[1]  # it stands on its far end, where the weight hangs
        total = mass + SETTINGS.weight
        middle = (mass * middle + SETTINGS.weight * far) / total
        rotation, shift = home(plate)
        places = [rotation @ np.array(s.place) + shift for s in plate.sections if s.run == line.run]
        loads.append((plate.name, total, [float(np.linalg.norm(middle - place)) for place in places]))
    for plate_name in {load[0] for load in loads}:
        mine = [load for load in loads if load[0] == plate_name]
        neck = found[plate_name]
        assert any(
            neck.mass == pytest.approx(total, rel=0.03) and neck.lever == pytest.approx(max(levers), rel=0.06)
            for _, total, levers in mine
        ), plate_name


def test_nothing_of_a_demo_is_too_thin(name: str, demo: Demo) -> None:
    _, mock = demo(name)
    hung = [fact for fact in mock.facts if fact.name[0] in "FP"]
    assert all(0.0 < fact.stress < ALLOWED for fact in hung)
    assert all(fact.smallest_section > 0.0 for fact in mock.facts)
    assert not any("thin neck" in note for fact in mock.facts for note in fact.notes)


def grooved(part: MockPart, radius: float, left: float, above: float) -> MockPart:
    """The part with a groove turned into it `above` mm over the bed, down to a wall of `left` mm round its bore."""
    solid = manifold(part.mesh)
    bore = min(float(np.linalg.norm(polygon, axis=1).max()) for polygon in solid.slice(above).to_polygons())
    groove = CrossSection.circle(radius + 5.0, 256) - CrossSection.circle(bore + left, 256)
    thin = solid - prism(groove, above - 2.0, above + 2.0)
    level = [replace(LEVEL, origin=section.place) for section in part.sections]
    return replace(
        part,
        sections=tuple(
            section_at(thin, frame, radius + 1.0, section.run, section.length)
            for frame, section in zip(level, part.sections, strict=True)
        ),
    )


def test_a_thin_neck_is_found(demo: Demo) -> None:
    """The long straight leg grooved to 0.08 mm of wall is named, and no other part; whole, it is not."""
    header, mock = demo("bogbean")
    [leg] = [part for part in mock.parts if part.name == "P1-4"]
    assert max(abs(value) for section in leg.sections for value in section.place[:2]) < 1e-6
    thin = grooved(leg, header.draft.tube.radius, 0.08, 120.0)
    before = weakest_necks(mock.parts, SETTINGS)
    found = weakest_necks([thin if part is leg else part for part in mock.parts], SETTINGS)
    assert [name for name, neck in found.items() if said_of(neck)] == ["P1-4"]
    assert not any(said_of(neck) for neck in before.values())
    assert found["P1-4"].area < 0.35 * before["P1-4"].area


def test_necks_by_hand() -> None:
    """A straight rod of 200 mm with a waist of 6 mm across, 150 mm before its end: σ = 32·M/(π·d³)."""
    rod = Manifold.cylinder(200.0, 10.0, 10.0, 256)
    waist = prism(CrossSection.circle(15.0, 256) - CrossSection.circle(3.0, 256), 48.0, 52.0)
    solid = rod - waist
    frames = [replace(LEVEL, origin=(0.0, 0.0, z)) for z in np.arange(1.0, 200.0, 2.0).tolist()]
    sections = tuple(section_at(solid, frame, 20.0, "primary 1", 2.0) for frame in frames)
    part = MockPart("P1-1", ("primary 1",), (1,), mesh_of(solid), LEVEL, 0.0, sections=sections)
    neck = weakest_necks([part], SETTINGS)["P1-1"]
    rest = math.pi * 100.0 * 148.0 * SETTINGS.density / 1000  # g, beyond the waist
    moment = 9.80665e-3 * (rest * (2.0 + 74.0) + 500.0 * 150.0)  # N mm, about the waist's middle
    assert neck.stress == pytest.approx(32 * moment / (math.pi * 6.0**3), rel=0.02)
    assert neck.area == pytest.approx(math.pi * 9.0, rel=1e-3)
    assert "thin neck: 28 mm² bear" in said_of(neck)[0]


def test_an_adapter_bears_the_steel_that_it_holds() -> None:
    """A rod of plastic of 50 mm, an adapter of 20 mm across, 20 mm long, half of it in each, 200 mm of steel beyond:
    σ = 32·M/(π·d³) where the steel begins, with the set weight at its end."""
    rod = Manifold.cylinder(50.0, 10.0, 10.0, 256)
    frames = [replace(LEVEL, origin=(0.0, 0.0, z)) for z in np.arange(1.0, 50.0, 2.0).tolist()]
    part = MockPart(
        "P1-1",
        ("primary 1",),
        (1,),
        mesh_of(rod),
        LEVEL,
        0.0,
        sections=tuple(section_at(rod, frame, 20.0, "primary 1", 2.0) for frame in frames),
    )
    steel = [
        TubeSection("primary 1", (0.0, 0.0, z), 1000.0, 5000.0, 10.0) for z in np.arange(55.0, 250.0, 10.0).tolist()
    ]
    pin = Manifold.cylinder(20.0, 5.0, 5.0, 256).translate((0.0, 0.0, 40.0))
    places = [replace(LEVEL, origin=(0.0, 0.0, z)) for z in (45.0, 55.0)]
    held = tuple(section_at(pin, frame, 20.0, "primary 1", 10.0) for frame in places)
    adapter = MockPart("J1-1", ("primary 1",), (), mesh_of(pin), LEVEL, 0.0, sections=held)
    found = weakest_necks([part], SETTINGS, {}, {"P1-1": steel}, ([adapter], ()))
    hangs = 1000.0 * 200.0 * SETTINGS.density / 1000  # g of steel, its middle at 150 mm
    moment = 9.80665e-3 * (hangs * (150.0 - 45.0) + 500.0 * (245.0 - 45.0))  # N mm, at the adapter's first section
    assert found["J1-1"].stress == pytest.approx(32 * moment / (math.pi * 10.0**3), rel=0.02)
    assert "J1-1" not in weakest_necks([part], SETTINGS, {}, {}, ([adapter], ()))  # where nothing hangs on it
