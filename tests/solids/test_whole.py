"""A header with every kind of part: all in one STEP file by name, finish and volume, and nothing shared between two."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.STEPControl import STEPControl_Reader
from steputils import p21

from headergen.geometry.frames import point_in
from headergen.model import Bolt, Boss, Collector, Header, PortShape, Straight
from headergen.solids.build import MadeSolid, make_parts
from headergen.solids.inspect import measure
from headergen.solids.step import BARE, MACHINED
from headergen.solve.closing import close
from tests.checks.small_header import LENGTH, draft, moved
from tests.random_parts import TUBE, collector

BOSS = Boss("lambda", "main", 25.0, 0.3, 28.0, 14.0, 16.5, True, on_outlet=True)
GAUGE = Boss("gauge", "primary 2", 250.0, -0.5, 22.0, 10.0, 8.5, False)
PARTS = [
    "flange",
    "transition 1",
    "transition 2",
    "transition 3",
    "primary 1",
    "primary 2",
    "primary 3",
    "collector main",
    "spike main",
    "boss lambda",
    "boss gauge",
]


def whole() -> Header:
    """Three straight tubes as a bundle from a plate with D ports into a merge, so that every part meets its neighbours.

    The ports stand where the bores do, which no head would have, but every joint is as it would be.
    """
    made = draft(*[[Straight(LENGTH)]] * 3)
    ring: Collector = collector(TUBE, 3, 10.0, 57.0, pitch=60.0, frame=made.collectors[0].frame)
    ports = tuple(
        replace(
            port,
            frame=moved(port.frame, point_in(bore.frame, (0.0, 0.0, -LENGTH))),
            shape=PortShape("d", (36.0, 34.0, 5.0)),
            transition=40.0,
        )
        for port, bore in zip(made.flanges[0].ports, ring.bores, strict=True)
    )
    primaries = tuple(
        replace(primary, start=port, end=bore)
        for primary, port, bore in zip(made.primaries, ports, ring.bores, strict=True)
    )
    flange = replace(made.flanges[0], ports=ports, bolts=(Bolt((75.0, 0.0), 8.5), Bolt((-60.0, 0.0), 8.5)))
    return close(replace(made, collectors=(ring,), runs=primaries, flanges=(flange,), bosses=(BOSS, GAUGE)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("whole")


@pytest.fixture(scope="module")
def made(folder: Path) -> tuple[MadeSolid, ...]:
    parts, overlaps = make_parts(whole(), folder, lambda *_: None)
    assert overlaps == (), "welded parts touch, and share nothing"
    return parts


def test_every_part_is_made_and_named(made: tuple[MadeSolid, ...], folder: Path) -> None:
    assert [part.name for part in made] == PARTS
    for part in made:
        reader = STEPControl_Reader()
        reader.ReadFile(str(folder / part.files[0]))
        reader.TransferRoots()
        # of fitted curves only their places in space are written, to 15 digits, and not those on the surfaces
        assert measure(reader.OneShape()).volume == pytest.approx(part.volume, rel=1e-5)


def test_an_independent_reader_finds_names_and_two_finishes(made: tuple[MadeSolid, ...], folder: Path) -> None:
    instances = p21.readfile(str(folder / "header.step")).data[0].instances.values()
    simple = [i.entity for i in instances if getattr(i, "entity", None) is not None]
    assert [str(e.params[0]) for e in simple if e.name == "PRODUCT"] == ["Small", *PARTS]
    assert sum(e.name == "MANIFOLD_SOLID_BREP" for e in simple) == len(made)
    tones = sorted({tuple(float(v) for v in e.params[1:4]) for e in simple if e.name == "COLOUR_RGB"})
    # the kernel keeps colours as 32-bit floats
    assert [pytest.approx(tone, abs=1e-6) for tone in sorted((BARE, MACHINED))] == tones


def test_a_boss_takes_its_hole_out_of_its_tube(made: tuple[MadeSolid, ...]) -> None:
    """A straight tube from where its transition ends: 2 mm of setback, 7.7 of plate, 40 of transition."""
    by_name = {part.name: part.volume for part in made}
    full = math.pi * (21.2**2 - 19.7**2) * (LENGTH - 9.7 - 40.0)
    assert [by_name["primary 1"], by_name["primary 3"]] == pytest.approx([full, full], rel=1e-9)
    # the wall seen along the hole is 1.5 thick in the middle, and a little more beside it
    assert 1.5 < (full - by_name["primary 2"]) / (math.pi * 4.25**2) < 1.55


def test_equal_parts_are_equal(made: tuple[MadeSolid, ...]) -> None:
    volumes = [part.volume for part in made if part.role == "transition"]
    assert volumes == pytest.approx([volumes[0]] * 3, rel=1e-9)
    meshes = [part.mesh for part in made if part.role == "transition"]
    assert all(mesh is not None and (mesh.faces == meshes[0].faces).all() for mesh in meshes if meshes[0] is not None)


def test_parts_that_run_into_each_other_are_told(tmp_path: Path) -> None:
    """Two bosses on one spot, one of them turned by 20°: they share metal, and no others do."""
    one = replace(GAUGE, host="primary 1")
    other = replace(one, name="second", clock=one.clock + math.radians(20))
    _, overlaps = make_parts(close(draft(bosses=(one, other))), tmp_path, lambda *_: None)
    (found,) = overlaps
    assert found.parts == ("boss gauge", "boss second") and found.volume > 100.0


SLIDING, ROOM = 0.3, 0.2  # mm a side: of tube and sleeve, and of a tube in its plate
JOINTS = {
    ("flange", "transition 1"): ROOM,
    ("transition 1", "primary 1"): 0.0,
    ("primary 1", "collector main"): SLIDING,
    ("spike main", "collector main"): 0.0,
    ("boss lambda", "collector main"): 0.0,
    ("boss gauge", "primary 2"): 0.0,
}


@pytest.mark.quick(1)
@pytest.mark.parametrize(("one", "other"), JOINTS, ids=lambda name: name.replace(" ", "_"))
def test_what_is_joined_stands_as_its_joint_demands(
    one: str, other: str, made: tuple[MadeSolid, ...], folder: Path
) -> None:
    """The distance of the two solids as written: none where they are welded, the room where one slides in the other."""
    solids = []
    for name in (one, other):
        reader = STEPControl_Reader()
        reader.ReadFile(str(folder / next(part.files[0] for part in made if part.name == name)))
        reader.TransferRoots()
        solids.append(reader.OneShape())
    # written coordinates have 15 digits; where skins meet curves are fitted to a thousandth or better
    assert BRepExtrema_DistShapeShape(*solids).Value() == pytest.approx(JOINTS[one, other], abs=2e-3)
