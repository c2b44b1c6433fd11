"""Every part of the mocks: closed, one body, on the bed, printable layer by layer."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from layers import as_trimesh, islands, starts_in_mid_air
from manifold3d import CrossSection, Manifold, OpType
from scipy.special import ellipe

from headergen.geometry.curves.body import distance_to_body, tube_body
from headergen.geometry.curves.centreline import lengthened, trace
from headergen.geometry.frames import dot, frame_from_normal
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.mock.build import Mock, make_mock
from headergen.mock.cuts import divide
from headergen.mock.joint import keys_for
from headergen.mock.keys import RIBS
from headergen.mock.lettering import flat_letters
from headergen.mock.packing import pack, turned
from headergen.mock.part import overhang, sound_mesh
from headergen.mock.solid import MockError, prism
from headergen.model import Bend, Header, MockSettings, Straight
from headergen.solve.closing import close
from headergen.spec.reader import read_spec

SPECS = Path(__file__).resolve().parents[2] / "specs"
Demo = Callable[[str], tuple[Header, Mock]]


def test_every_part_is_one_closed_body_on_the_bed(name: str, demo: Demo) -> None:
    _, mock = demo(name)
    bed = np.array(MockSettings().bed)
    for part in (*mock.parts, *mock.coupon):
        seen = as_trimesh(part.mesh)
        assert seen.is_watertight and seen.is_winding_consistent and seen.body_count == 1, part.name
        assert seen.volume == pytest.approx(part.volume, rel=1e-9) and part.volume > 0
        assert abs(part.mesh.vertices[:, 2].min()) < 0.01, part.name
        assert (np.array(part.size) <= bed).all(), part.name


def test_parts_stand_apart_within_the_bed(name: str, demo: Demo) -> None:
    _, mock = demo(name)
    bed = MockSettings().bed
    for parts, placed in (((*mock.parts, *mock.locating), mock.placed), (mock.coupon, mock.coupon_placed)):
        boxes = []
        for part, place in zip(parts, placed, strict=True):
            points = turned(part.mesh.vertices, place.turn)[:, :2] + np.array(place.shift)
            low, high = points.min(axis=0), points.max(axis=0)
            assert (low >= 1.9).all() and high[0] <= bed[0] - 1.9 and high[1] <= bed[1] - 1.9, part.name
            boxes.append((place.plate, low, high))
        for k, (plate, low, high) in enumerate(boxes):
            for other, their_low, their_high in boxes[:k]:
                if plate == other:
                    assert (low > their_high + 3.9).any() or (their_low > high + 3.9).any()


def test_flat_contact_and_little_overhang(name: str, demo: Demo) -> None:
    """A tube part rests on a ring of at least 2 mm; under 1 % of its skin hangs over (letters and notch roofs)."""
    header, mock = demo(name)
    radius = header.draft.tube.radius
    for part in mock.parts:
        triangles = part.mesh.triangles
        flat = triangles[(abs(triangles[:, :, 2]) < 1e-3).all(axis=1)]
        area = float(np.linalg.norm(np.cross(flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]), axis=1).sum() / 2)
        assert area > 0.8 * math.pi * (radius**2 - (radius - 2.0) ** 2), part.name
        assert overhang(part.mesh, MockSettings().lean) < 0.01, part.name


@pytest.mark.slow
@pytest.mark.series
def test_no_layer_has_an_island(name: str, whole_demo: Demo) -> None:
    """Sections every 0.2 mm through every part there can be: whatever a layer has lies over something under it."""
    _, mock = whole_demo(name)
    assert mock.collectors and mock.guides and mock.adapters and mock.locating
    for part in (*mock.printed, *mock.coupon):
        assert starts_in_mid_air(part.mesh) == [], part.name


def test_an_island_is_found() -> None:
    """A bar whose one end hangs down without touching anything."""
    bar = trimesh.creation.box((40, 10, 10), trimesh.transformations.translation_matrix([15, 0, 15]))
    post = trimesh.creation.box((10, 10, 20), trimesh.transformations.translation_matrix([0, 0, 10]))
    hook = trimesh.creation.box((5, 10, 10), trimesh.transformations.translation_matrix([32, 0, 10]))
    assert islands(trimesh.boolean.union([bar, post, hook], engine="manifold")) == pytest.approx([5.1])
    assert islands(trimesh.boolean.union([bar, post], engine="manifold")) == []
    hanging = trimesh.boolean.union([bar, post, hook], engine="manifold")
    assert starts_in_mid_air(TriangleMesh(hanging.vertices, hanging.faces, closed=True)) == pytest.approx([5.1])


def test_walls_keep_what_they_are_to(name: str, demo: Demo) -> None:
    """The sections square to each tube hold two millimetres of wall in its spigot, and beyond it the ring of the
    tube's wall but for the letters, which are cut half as deep into a fifth of its girth at most, and for the groove
    round the last part where the steel is trimmed, which is as deep.

    Walls are measured level, as they are laid. Of a tube that leans by θ, one of the thickness w at the radius r is
    w·√(1 − sin²θ·cos²φ) thick at the angle φ, its section 4·w·r·E(sin²θ), by the complete elliptic integral E.
    """
    header, mock = demo(name)
    radius = header.draft.tube.radius
    slim = radius - header.draft.tube.wall - 3.5  # mid of the wall of the slimmest core
    share = ellipe(math.sin(MockSettings().lean) ** 2) / (math.pi / 2)
    ring = share * math.pi * (radius**2 - (radius - MockSettings().tube_wall) ** 2)
    for part in mock.parts:
        if part.spigot is not None:
            spigots = [each.area for each in part.sections[:4]]
            assert min(spigots) > share * 2 * math.pi * slim * 2.0 * 0.95, part.name
            assert part.smallest_section > (0.9 if part.sockets else 0.5) * ring * 0.95, part.name


@pytest.mark.slow
@pytest.mark.parametrize(("lean", "supported"), [(50.0, False), (30.0, True)])
def test_support_inside_is_said(demo: Demo, lean: float, supported: bool) -> None:
    """Bores close at 45° under a spigot: a printer that manages 30° needs support in each, and the list says so."""
    header, _ = demo("bogbean")
    header = replace(header, runs=header.runs[:1], centrelines=header.centrelines[:1])
    mock = make_mock(header, MockSettings(lean=math.radians(lean), flange=False, plates=False))
    with_socket = [part for part in mock.parts if part.sockets and part.spigot is not None]
    assert len(with_socket) > 3
    for part in with_socket:
        assert any("support in its socket" in note for note in part.notes) == supported, part.name


def test_letters_are_only_cut_in(name: str, demo: Demo) -> None:
    """Nothing of a tube part reaches beyond the outside of the tube, so gaps measured on the mock are the header's.

    A chord along the inside of a bend lies outside of it, by the 0.04 mm that the meshes may be off. The tube is
    as much longer than the steel as its locating plates ask for.
    """
    header, mock = demo(name)
    radius = header.draft.tube.radius
    add = {hole.run: pair.add for pair in mock.pairs for hole in pair.plates[1].holes}
    bodies = {line.run: tube_body(lengthened(line, add[line.run]), radius) for line in header.centrelines}
    for part in mock.parts:
        if part.spigot is not None:
            axes = np.array([part.home.x, part.home.y, part.home.z])
            points = part.mesh.vertices @ axes + np.array(part.home.origin)
            assert distance_to_body(bodies[part.runs[0]], points)[0].max() < 0.04, part.name


@pytest.mark.parametrize(("count", "core"), [(45, 16.0), (90, 18.3), (30, 6.0)])
def test_keys_differ_in_every_order(count: int, core: float) -> None:
    """Two keys, or one turned, miss each other by half a rib and the gaps to both sides, whichever ribs are paired."""
    keys = [np.degrees([0.0, *turns]) for turns in keys_for(count, core, 0.2)]
    assert len(keys) == count
    width = min(4.0, core / 3)
    least = math.degrees((0.5 * width + 2 * 0.2) / core)
    for k, mine in enumerate(keys):
        for m, other in enumerate(keys[: k + 1]):
            for first in range(1 if k == m else 0, RIBS):
                turned = np.sort((other - other[first]) % 360)
                assert np.ptp(turned - mine) > least - 1e-9
        assert np.diff([*mine, 360.0]).min() * math.radians(1) * core > width + 4.0 - 1e-9
    with pytest.raises(MockError, match="there are not 4000 different keys"):
        keys_for(4000, core, 0.2)


def test_what_the_bed_has_no_room_for(demo: Demo) -> None:
    _, mock = demo("bogbean")
    with pytest.raises(MockError, match=r"part P2-3.1 is 42 × 42 × 248 mm: the bed has no room"):
        pack([(part.name, part.mesh) for part in mock.parts], (220.0, 220.0, 240.0))


@pytest.mark.slow
@pytest.mark.parametrize("height", [120.0, 250.0, 400.0])
def test_straights_are_divided_for_height_only(demo: Demo, height: float) -> None:
    header, _ = demo("bogbean")
    draft = replace(header.draft, stock=None)  # each step is a piece
    header = replace(header, draft=draft, runs=header.runs[:1], centrelines=header.centrelines[:1])
    mock = make_mock(header, MockSettings(bed=(220.0, 220.0, height), flange=False))
    assert all(part.size[2] <= height for part in mock.parts)
    # the leg of 274.23 mm: whole under 400 mm, in two under 250, in three under 120
    assert sum(part.pieces == (3,) for part in mock.parts) == {400.0: 1, 250.0: 2, 120.0: 3}[height]


def test_cuts_that_only_the_printer_asks_for() -> None:
    line = trace(
        frame_from_normal((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)), [Straight(60), Bend(1.4, 25.0, 0.0), Straight(60)], 1
    )

    divided = divide(line, [], 0.0, MockSettings(), 21.2)
    assert [cut.joint for cut in divided.cuts].count(None) == len(divided.cuts) > 0


@pytest.mark.slow
def test_tubes_after_collectors_that_are_not_printed_are_said_to_be_left_out() -> None:
    """A mock without them looks whole, and proves nothing of what lies behind the first collectors."""
    spec = Path(__file__).parents[1] / "two_steps" / "bogbean_four_two_one.yaml"
    header = close(read_spec(spec)[1])
    runs = tuple(run for run in header.runs if not run.is_primary or run.number == 1)
    lines = tuple(line for line in header.centrelines if line.run in {run.name for run in runs})
    small = MockSettings(plates=False, flange=False, bed=(90.0, 90.0, 250.0))  # too small for the collectors
    notes = make_mock(replace(header, runs=runs, centrelines=lines), small).notes
    for source in ("outer", "inner"):
        assert any(note.startswith(f"Secondary {source}") and "is not printed" in note for note in notes), notes


def test_a_plate_is_lettered_on_the_side_that_looks_up_the_tubes(name: str, demo: Demo) -> None:
    """As the sheet says: cut into the face that stands upstream, and not into the other."""
    header, mock = demo(name)
    collectors = {collector.name: collector for collector in header.draft.collectors}
    owners = {plate.name: collectors[plate.collector] for pair in mock.pairs for plate in pair.plates}
    for part in mock.locating:
        assert dot(part.home.z, owners[part.name].frame.z) == pytest.approx(-1.0)
        seen = as_trimesh(part.mesh)
        low, high = float(part.mesh.vertices[:, 2].min()), float(part.mesh.vertices[:, 2].max())
        areas = [seen.section([0, 0, 1], [0, 0, at]).to_2D()[0].area for at in (low + 0.05, high - 0.05)]
        assert areas[1] < areas[0] - 5.0, part.name


@pytest.mark.parametrize("height", [2.5, 3.0, 4.0, 5.0, 6.0, 7.0])
def test_letters_on_a_level_face_leave_a_sound_solid(height: float) -> None:
    """Every figure that a plate carries, at every size: cut as deep as said, nowhere a wall of no thickness."""
    words = ("L12", "F1", "P0", "P34", "P56", "P78", "P9")
    slab = prism(CrossSection.square((120.0, 20.0 * len(words)), True), 0.0, 6.0)
    rows = [(text, (0.0, 20.0 * (k - len(words) / 2 + 0.5))) for k, text in enumerate(words)]
    letters = [flat_letters(text, middle, 6.0, height) for text, middle in rows]
    seen = as_trimesh(sound_mesh("a slab", Manifold.batch_boolean([slab, *letters], OpType.Subtract)))
    assert seen.is_watertight and seen.body_count == 1
    whole = 120.0 * 20.0 * len(words)
    areas = [seen.section([0, 0, 1], [0, 0, at]).to_2D()[0].area for at in (5.35, 5.45)]
    assert areas[0] == pytest.approx(whole) and areas[1] < whole - 5.0 * len(words)  # 0.6 deep
