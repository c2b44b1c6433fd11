"""Flange plates that share a bolt: both hold on to it, neither is in the other's way, and both can be printed."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from assembly import manifold
from layers import starts_in_mid_air
from manifold3d import CrossSection, Manifold
from random_headers import random_header

from headergen.mock.beginning import beginning_of
from headergen.mock.flange import Stub, flange_plates, least_stub, plate_shapes
from headergen.mock.joint import fit_at
from headergen.mock.part import MockPart
from headergen.mock.solid import prism
from headergen.model import Bolt, Header, MockSettings
from headergen.pipeline import settle

SPECS = Path(__file__).resolve().parents[2] / "specs"
DEMOS = ("bogbean", "withybed", "glasswort_left", "glasswort_right")


def plates_of(header: Header, settings: MockSettings) -> tuple[MockPart, ...]:
    """The flange plates alone, without keys in their sockets."""
    flange, tube = header.draft.flanges[0], header.draft.tube
    stubs = {}
    for primary, line in zip(header.primaries, header.centrelines, strict=True):
        begins = beginning_of(flange, primary.port, tube)
        end = max(least_stub(line, flange, settings, tube.radius), begins.tube + 20.0 if begins.tube else 0.0)
        fit = fit_at(line, end, tube, settings, None, (0.0, 0.0))
        stubs[primary.number] = Stub(line, end, fit, begins, 1)
    return flange_plates(flange, stubs, tube.radius, settings)


@cache
def demo_plates(name: str) -> tuple[Header, tuple[MockPart, ...]]:
    header = settle(SPECS / f"{name}.yaml")
    return header, plates_of(header, MockSettings())


def goes_through(part: MockPart, bolt: Bolt, thickness: float) -> bool:
    """Whether the plate has plastic all round the bolt's hole, somewhere in its thickness, and none in the hole."""
    solid = manifold(part.mesh)
    hole = CrossSection.circle(0.9 * bolt.hole / 2, 48).translate(bolt.at)
    round_it = CrossSection.circle(bolt.hole / 2 + 1.0, 96) - CrossSection.circle(bolt.hole / 2 + 0.1, 96)
    whole = round_it.translate(bolt.at).area()
    heights = np.arange(0.25, thickness, 0.5).tolist()
    empty = all((solid.slice(at) ^ hole).area() < 1e-6 for at in heights)
    return empty and any((solid.slice(at) ^ round_it.translate(bolt.at)).area() > 0.999 * whole for at in heights)


def held_by(part: MockPart, header: Header) -> list[Bolt]:
    return [
        bolt for bolt in header.draft.flanges[0].bolts if goes_through(part, bolt, header.draft.flanges[0].finished)
    ]


@pytest.mark.quick(1)
@pytest.mark.parametrize("demo_name", DEMOS)
def test_no_plate_of_a_demo_hangs_on_one_bolt(demo_name: str) -> None:
    """Counted on the meshes, and not taken from what the code calls shared."""
    header, plates = demo_plates(demo_name)
    for part in plates:
        assert len(held_by(part, header)) >= 2, part.name
        assert any("it may be off by up to" in note for note in part.notes), part.name
        assert not any("swing" in note or "no flange bolt" in note for note in part.notes), part.name


@pytest.mark.slow
def test_ears_on_one_bolt_fill_the_thickness_and_share_nothing() -> None:
    """The Withybed's three shared bolts: the two ears and half a millimetre between them are all there is in height."""
    header, plates = demo_plates("withybed")
    thickness, shared = header.draft.flanges[0].finished, 0
    for first, second in combinations(plates, 2):
        a, b = manifold(first.mesh), manifold(second.mesh)
        assert (a ^ b).volume() < 1e-6, (first.name, second.name)
        for bolt in (bolt for bolt in held_by(first, header) if bolt in held_by(second, header)):
            shared += 1
            ring = CrossSection.circle(bolt.hole / 2 + 3.0, 96) - CrossSection.circle(bolt.hole / 2 + 0.1, 96)
            column = prism(ring.translate(bolt.at), 0.0, thickness)
            parts = [(each ^ column).volume() / ring.area() for each in (a, b)]
            assert thickness - 0.8 < sum(parts) < thickness
            assert min(parts) > 0.25 * thickness
            assert f"shares a bolt with {second.name}" in " ".join(first.notes)
            assert f"shares a bolt with {first.name}" in " ".join(second.notes)
    assert shared == 3


def test_plates_go_on_in_the_order_of_their_numbers() -> None:
    """Each let down along the studs past those that are on already, as far up as they are thick."""
    header, plates = demo_plates("withybed")
    solids = [manifold(part.mesh) for part in plates]
    for k, solid in enumerate(solids):
        for lift in np.linspace(0.2, header.draft.flanges[0].thickness, 8).tolist():
            for before in solids[:k]:
                assert (solid.translate((0.0, 0.0, lift)) ^ before).volume() < 1e-6
    up = solids[0].translate((0.0, 0.0, 2.0))
    assert (up ^ solids[1]).volume() > 1.0  # and not the other way round


def widest_bridge(mesh_solid: Manifold, height: float) -> float:
    """The widest level stretch of a roof, mm, between `height` and just above: twice the largest circle in what begins
    there."""
    begins = mesh_solid.slice(height + 0.01) - mesh_solid.slice(height - 0.01)
    low, high = 0.0, 50.0
    while high - low > 0.05:
        middle = (low + high) / 2
        low, high = (middle, high) if begins.offset(-middle).area() > 0 else (low, middle)
    return 2 * low


@pytest.mark.quick(1)
@pytest.mark.parametrize("lean", [50.0, 45.0, 30.0])
def test_shared_ears_print_without_support(lean: float) -> None:
    """Nothing begins in the air, no level roof is 8 mm wide, and all else leans no more than the printer manages."""
    header = settle(SPECS / "withybed.yaml")
    for part in plates_of(header, MockSettings(lean=math.radians(lean))):
        assert starts_in_mid_air(part.mesh) == [], part.name
        solid = manifold(part.mesh)
        triangles = part.mesh.triangles
        normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        sizes = np.linalg.norm(normals, axis=1)
        level = (normals[:, 2] < -0.999 * sizes) & (triangles[:, :, 2].min(axis=1) > 0.1) & (sizes > 0)
        roofs = {round(float(at), 2) for at in triangles[level][:, 0, 2] if at < header.draft.flanges[0].finished}
        assert all(widest_bridge(solid, at) < 8.0 for at in roofs), part.name
        below = triangles[:, :, 2].max(axis=1) < header.draft.flanges[0].finished - 0.61
        near = [np.hypot(*(triangles.mean(axis=1)[:, :2] - bolt.at).T) < 25 for bolt in header.draft.flanges[0].bolts]
        ears = below & np.any(near, axis=0) & ~level & (triangles[:, :, 2].max(axis=1) > 0.01) & (sizes > 1e-9)
        steep = -normals[ears][:, 2] / sizes[ears]
        assert steep.max(initial=0.0) < math.sin(math.radians(lean) + 0.02), part.name


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(5))
def test_plates_of_random_flanges_share_their_bolts(seed: int) -> None:
    """One bolt between each two ports and a bed for one port: all plates that have a bolt on each side hang on both."""
    rng = np.random.default_rng(seed)
    header = next(drawn for n in range(10 * seed, 60) if len((drawn := random_header(n)).primaries) > 2)
    flange = header.draft.flanges[0]
    first, second = (np.array(port.frame.origin) for port in flange.ports[:2])
    pitch = float(np.linalg.norm(second - first))
    bolts = tuple(
        Bolt((pitch * (k + 0.5), (-1) ** k * float(rng.uniform(20, 34))), float(rng.choice([6.6, 8.5, 11.0])))
        for k in range(len(flange.ports) - 1)
    )
    draft = replace(header.draft, flanges=(replace(flange, bolts=bolts),))
    header = replace(header, draft=draft)
    plates = plates_of(header, MockSettings(bed=(pitch + 42.0, pitch + 42.0, 250.0)))
    for one, other in combinations(plates, 2):
        assert (manifold(one.mesh) ^ manifold(other.mesh)).volume() < 1e-6, (one.name, other.name)
    held = [len(held_by(part, header)) for part in plates]
    assert held == [1, *[2] * (len(plates) - 2), 1]  # the first and the last have no second bolt near
    for part, count in zip(plates, held, strict=True):
        assert ("held by one bolt" in " ".join(part.notes)) == (count == 1), part.name
        assert starts_in_mid_air(part.mesh) == [], part.name


def test_a_plate_too_thin_for_ears_hangs_on_its_one_bolt() -> None:
    header = settle(SPECS / "withybed.yaml")
    thin = replace(header.draft.flanges[0], thickness=6.0)
    shapes = plate_shapes(thin, range(1, 7), header.draft.tube.radius, MockSettings())
    assert not any(shape.under or shape.over for shape in shapes)
    assert sorted(len(shape.bolts) for shape in shapes) == [1, 1, 1, 2]
