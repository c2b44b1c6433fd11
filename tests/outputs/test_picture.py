"""The picture: where the camera stands, what is drawn over the photograph, and the PNG itself.

What needs a renderer is asked of a child process first: where there is none, VTK would end the tests.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sample_result as sample
from numpy.typing import NDArray

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import frame_from_normal, unit
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.triangles import TriangleMesh, enclosed_volume
from headergen.geometry.mesh.tube import tube_mesh
from headergen.model import Box, Plane
from headergen.model.finding import Finding
from headergen.outputs.picture import best_view, picture_notes, render
from headergen.outputs.picture.crops import crops_around
from headergen.outputs.picture.marks import Mark, balls, marks_of
from headergen.outputs.picture.view import FILL, View, fitted, other_directions, projected, view_directions
from headergen.show.chassis import chassis_meshes

SMALL = (480, 330)
FRAME = (np.array([[-200.0, 300, -250], [200, 300, -250], [0, 300, 150]]), np.array([[0, 1, 2]]))
ASK = "from headergen.outputs.picture import can_render; print('draws' if can_render() else 'draws nothing')"
DRAW = "import sys, pathlib, test_picture; test_picture.draw(pathlib.Path(sys.argv[1]), int(sys.argv[2]))"


def draw(path: Path, errors: int) -> None:
    header = sample.header()
    tubes = {line.run: tube_mesh(line, 21.2, 19.7, 0.05) for line in header.centrelines}
    meshes = tubes, (), [TriangleMesh(*FRAME, closed=False)]
    render(path, meshes, picture_notes(header, errors), SMALL)


def run_python(code: str, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A fresh process that also finds the modules beside this file; an empty value takes a variable away."""
    variables = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "DISPLAY": "", **environment}
    kept = {name: value for name, value in variables.items() if value}
    command = [sys.executable, "-c", code, *arguments]
    return subprocess.run(
        command, env=kept, cwd=Path(__file__).parent, capture_output=True, text=True, timeout=600, check=False
    )


@pytest.fixture(scope="module")
def renderer() -> None:
    asked = run_python(ASK)
    if "draws\n" not in asked.stdout:
        pytest.skip(f"no renderer here (exit code {asked.returncode})")


def read_png(path: Path) -> NDArray[np.int64]:
    """(height, width, 3) of an 8-bit RGB PNG without interlace, from the file format alone (ISO/IEC 15948)."""
    raw = path.read_bytes()
    assert raw[:8] == b"\x89PNG\r\n\x1a\n"
    at, data = 8, b""
    while at < len(raw):
        length, kind = int.from_bytes(raw[at : at + 4]), raw[at + 4 : at + 8]
        body = raw[at + 8 : at + 8 + length]
        assert zlib.crc32(kind + body) == int.from_bytes(raw[at + 8 + length : at + 12 + length])
        if kind == b"IHDR":
            width, height = int.from_bytes(body[:4]), int.from_bytes(body[4:8])
            assert tuple(body[8:]) == (8, 2, 0, 0, 0)
        data += body if kind == b"IDAT" else b""
        at += 12 + length
    lines = np.frombuffer(zlib.decompress(data), np.uint8).reshape(height, 1 + 3 * width).astype(np.int64)
    above = np.zeros(3 * width, np.int64)
    rows = []
    for line in lines:
        above = _unfiltered(int(line[0]), line[1:], above)
        rows.append(above)
    return np.array(rows).reshape(height, width, 3)


def _unfiltered(kind: int, line: NDArray[np.int64], above: NDArray[np.int64]) -> NDArray[np.int64]:
    if kind == 0:
        return line
    if kind == 2:
        return (line + above) % 256
    row = np.zeros(len(line) + 3, np.int64)  # three zeros stand for the pixel before the first
    over = np.concatenate([np.zeros(3, np.int64), above])
    for k in range(3, len(row)):
        left, up, corner = int(row[k - 3]), int(over[k]), int(over[k - 3])
        paeth = min((left, up, corner), key=lambda value: abs(left + up - corner - value))
        row[k] = (line[k - 3] + {1: left, 3: (left + up) // 2, 4: paeth}[kind]) % 256
    return row[3:]


# --- the camera -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("outward", [(0.0, 1.0, -0.15), (0.6, -0.8, 0.0), (0.0, 0.0, -1.0)])
def test_cameras_stand_before_the_flange_and_above(outward: tuple[float, float, float]) -> None:
    for direction in view_directions(outward):
        assert math.hypot(*direction) == pytest.approx(1.0, abs=1e-12)
        assert direction[2] > 0.25
        if math.hypot(*outward[:2]) > 0.1:
            assert np.dot(direction[:2], outward[:2]) > 0


@pytest.mark.parametrize("seed", range(20))
def test_header_just_fills_its_share_of_the_picture(seed: int) -> None:
    """All points inside the margin, and the tighter direction touches it on both sides: as near as can be."""
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(200, 3)) * rng.uniform(20, 400, 3) + rng.uniform(-500, 500, 3)
    size = (1600, 1100)
    for direction in view_directions((0.0, 1.0, 0.0))[::5]:
        places = projected(points, fitted(points, direction, size[0] / size[1]), size)
        share = (places - np.array(size) / 2) / (np.array(size) / 2)
        low, high = share.min(axis=0), share.max(axis=0)
        assert np.all(low >= -FILL - 1e-9) and np.all(high <= FILL + 1e-9)
        assert np.any((low < -FILL + 1e-9) & (high > FILL - 1e-9))


def test_view_that_shows_the_worst_seen_tube_best_is_chosen() -> None:
    views = [View((float(k), 0.0, 0.0), (0.0, 0.0, 0.0)) for k in range(3)]
    hidden = np.array([[1, 1, 1, 0, 3]])  # second tube not seen at all; 3 is chassis
    even = np.array([[1, 1, 2, 2, 3]])
    poor = np.array([[1, 2, 3, 3, 3]])
    assert best_view([hidden, poor, even], 2, views) is views[2]
    assert best_view([even, even, even], 2, views) is views[0]
    more = np.array([[1, 1, 1, 1, 3]])
    assert best_view([hidden, more, hidden], 2, views) is views[1]  # the second one is in sight from nowhere


# --- what stands in it ------------------------------------------------------------------------------------------


def test_every_chassis_item_with_a_body_is_drawn() -> None:
    items = sample.header().draft.chassis
    box, shaft, *line, frame = chassis_meshes(items, {"frame": FRAME})
    assert enclosed_volume(box.vertices, box.faces) == pytest.approx(300 * 200 * 120)
    # a chord mesh lies inside the true surface, here by less than 2 % of its volume
    true = math.pi * 11.0**2 * math.dist((300, 260, 60), (-300, 200, -20))
    assert 0.98 * true < enclosed_volume(shaft.vertices, shaft.faces) <= true
    assert len(line) == 2 + 3  # two legs, and a ball at each of three points
    ball = 4 / 3 * math.pi * 3.0**3
    assert 0.96 * ball < enclosed_volume(line[-1].vertices, line[-1].faces) < ball
    assert np.array_equal(frame.vertices, FRAME[0])


def test_a_plane_is_left_out() -> None:
    items = sample.header().draft.chassis[:1]
    plane = type(items[0])("floor", Plane((0.0, 0.0, -300.0), (0.0, 0.0, 1.0)), 20.0)
    assert len(chassis_meshes((*items, plane), {})) == 1


def test_numbers_point_at_their_own_primary() -> None:
    made = sample.header()
    notes = picture_notes(made, 2)
    assert (notes.title, notes.revision, notes.date, notes.errors) == ("Bogbean", "A", "2026-03-14", 2)
    for (number, places), line in zip(notes.places, made.centrelines, strict=True):
        assert f"primary {number}" == line.run
        near = [math.dist(place, line.segments[0].start) for place in places]
        assert near == sorted(near) and near[0] < 0.1 * line.length  # port end first


def test_a_header_without_primaries_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="no primary"):
        render(tmp_path / "a.png", ({}, (), []), picture_notes(sample.header(), 0), SMALL)


def test_importing_loads_nothing_heavy() -> None:
    code = (
        "import sys, headergen.outputs.picture, headergen.outputs.report\n"
        "print([name for name in ('vtkmodules', 'vtk', 'trimesh', 'OCP', 'rich') if name in sys.modules])"
    )
    assert run_python(code).stdout == "[]\n"


# --- what is drawn over the photograph --------------------------------------------------------------------------


@pytest.fixture
def overlay() -> Any:
    from headergen.outputs.picture import overlay

    return overlay


def test_tubes_show_through_what_hides_them(overlay: Any) -> None:
    whole, bare = np.zeros((2, 2, 3)), np.ones((2, 2, 3))
    hidden = np.zeros((4, 4), bool)
    hidden[:2, :2] = True
    hidden[0, 2] = True
    share = overlay.seen_through(whole, bare, hidden)[..., 0] / overlay.GHOST
    assert share == pytest.approx(np.array([[1.0, 0.25], [0.0, 0.0]]))


def test_outline_runs_between_tubes_only(overlay: Any) -> None:
    image, owners = np.ones((4, 8, 3)), np.ones((8, 16), int)
    owners[:, 8:] = 2
    overlay.draw_outlines(image, owners)
    dark = image[..., 0] < 1
    assert dark[:, 3:5].all() and not dark[:, :3].any() and not dark[:, 5:].any()


@pytest.fixture
def strips() -> Any:
    from headergen.outputs.picture import strips

    return strips


def chance(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)


@pytest.mark.quick(5)
@pytest.mark.parametrize("seed", range(20))
def test_numbers_and_words_stand_in_strips_and_never_on_each_other(strips: Any, seed: int) -> None:
    """Places anywhere in the photograph: but for leaders and their dots nothing is drawn on it, no disc on another."""
    rng, size = chance(seed), (1600, 1100)
    errors = seed % 2 == 1
    sheet = strips.sheet_of(size, banner=errors, errors=errors)
    width, height = sheet.photograph
    image = strips.laid_out(np.full((height, width, 3), 0.5), sheet)
    assert (image == 0.5).all(axis=2).sum() == width * height
    places = rng.uniform((0, 0), (width, height), (int(rng.integers(1, 15)), 2))
    strips.draw_pointers(image, sheet, [strips.Pointer(str(k), tuple(place)) for k, place in enumerate(places)])
    marks = [strips.Marked(("Primary 12", "steering shaft: 30.6 mm apart"), tuple(place)) for place in places[:12]]
    if errors:
        strips.draw_marks(image, sheet, marks)
        strips.draw_banner(image, sheet, "NOT CLEARED: 12 errors - see report", (strips.RED, strips.PAPER))
    strips.draw_foot(image, sheet, "A title that goes on " * 20)
    inside = image[sheet.top : sheet.top + height, sheet.side : sheet.side + width]
    touched = (inside != 0.5).any(axis=2)
    for row, column in places.astype(int)[:, ::-1]:
        touched[max(row - 12, 0) : row + 12, max(column - 12, 0) : column + 12] = False
    assert not _holds_a_square(touched, 14)


@pytest.mark.parametrize("label", ["7", "2.2", "S3.2"])
def test_a_longer_number_is_whole_on_a_wider_disc(strips: Any, label: str) -> None:
    """All of its letters are there, dark on paper, by the letters of the same size drawn alone."""
    from headergen.outputs.picture.stage import lettering

    sheet = strips.sheet_of((1600, 1100), banner=False, errors=False)
    image = strips.laid_out(np.full((*sheet.photograph[::-1], 3), 0.5), sheet)
    strips.draw_pointers(image, sheet, [strips.Pointer(label, (10.0, 400.0))])
    letters = lettering(label, round(1.25 * strips.RADIUS * 1600))
    dark = 1.0 - image[:, : sheet.side].mean(axis=2)
    high, wide = letters.shape
    row, column = round(400.0 + sheet.top - high / 2), round(sheet.side / 2 - wide / 2)
    shown = dark[row : row + high, column : column + wide]
    assert shown.shape == letters.shape
    assert np.corrcoef(shown.ravel(), letters.ravel())[0, 1] > 0.9


def _holds_a_square(mask: NDArray[np.bool_], side: int) -> bool:
    """Whether somewhere a whole square of the mask is set, by its summed areas."""
    sums = np.pad(mask.astype(int).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    full = sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side]
    return bool((full == side * side).any())


@pytest.mark.parametrize("seed", range(50))
def test_what_is_spread_keeps_its_distance_its_order_and_its_range(strips: Any, seed: int) -> None:
    rng = chance(seed)
    count = int(rng.integers(1, 12))
    wanted = np.sort(rng.uniform(0, 1000, count))
    rows = np.array(strips.spread(wanted.tolist(), 60.0, (20.0, 980.0)))
    assert len(rows) == count and rows.min() >= 20 - 1e-9 and rows.max() <= 980 + 1e-9
    assert count == 1 or np.diff(rows).min() >= 60 - 1e-9


def test_what_has_room_is_not_moved(strips: Any) -> None:
    assert strips.spread([100.0, 300.0, 500.0], 60.0, (0.0, 900.0)) == [100.0, 300.0, 500.0]
    assert strips.spread([300.0, 300.0], 60.0, (0.0, 900.0)) == [270.0, 330.0]


def test_errors_without_room_are_counted(strips: Any) -> None:
    sheet = strips.sheet_of((1600, 1100), banner=True, errors=True)
    drawn: list[str] = []
    image = np.ones((1100, 1600, 3))
    old = strips.fitted_letters
    try:
        strips.fitted_letters = lambda text, *rest: drawn.append(text) or old(text, *rest)
        strips.draw_marks(image, sheet, [strips.Marked((f"Primary {k}", "length"), (10.0, 10.0)) for k in range(40)])
    finally:
        strips.fitted_letters = old
    shown = sum(each.startswith("Primary") for each in drawn)
    assert shown >= 8 and f"and {40 - shown} more" in drawn


def test_warning_stands_only_on_headers_with_errors(strips: Any) -> None:
    image = np.ones((330, 480, 3))
    sheet = strips.sheet_of((480, 330), banner=True, errors=True)
    strips.draw_banner(image, sheet, "NOT CLEARED: 3 errors - see report", (strips.RED, strips.PAPER))
    strips.draw_foot(image, sheet, "Bogbean   revision A   2026-03-14")
    assert np.all(np.isclose(image, strips.RED), axis=2).sum() > 500
    assert not np.any(image[sheet.top : 330 - sheet.foot] != 1.0)  # both in their strips
    assert (image[300:] < 0.5).all(axis=2).any()  # the job, in dark ink at the foot


def test_marks_name_the_worst_first() -> None:
    """A crossing 3 mm deep is worse than a gap that lacks 5 mm; what has no place stands at its primary's middle."""
    header = sample.header()
    line = header.centrelines[0]
    gaps = [
        Finding("gap-chassis", "error", "primary 1", 10.0, 15.0, "mm", "…", (1.0, 2.0, 3.0), "frame"),
        Finding("gap-chassis", "error", "primary 1", -3.0, 15.0, "mm", "…", (4.0, 5.0, 6.0), "mount"),
        Finding("length", "error", "primary 1", 504.5, 420.0, "mm", "…"),
        Finding("reach", "warning", "socket", -1.0, 0.0, "mm", "…", (0.0, 0.0, 0.0), "frame"),
    ]
    marks = marks_of(header, gaps)
    assert [mark.lines for mark in marks] == [
        ("Primary 1", "mount: 3.0 mm deep"),
        ("Primary 1", "frame: 10.0 mm apart"),
        ("Primary 1", "length: 504.5 mm"),
    ]
    assert marks[0].place == (4.0, 5.0, 6.0) and marks[0].deep == 3.0
    assert marks[2].place == pytest.approx(frame_at(line, line.length / 2)[0])


@pytest.mark.parametrize("text", ["", "   "])
def test_empty_words_are_no_trouble(strips: Any, text: str) -> None:
    strips.draw_foot(np.zeros((330, 480, 3)), strips.sheet_of((480, 330), banner=False, errors=False), text)


# --- the renderer -----------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_same_bytes_from_two_processes_and_quiet(renderer: None, tmp_path: Path) -> None:
    here, there = tmp_path / "here.png", tmp_path / "there.png"
    draw(here, 3)
    run = run_python(DRAW, str(there), "3", PYTHONHASHSEED="0")
    assert (run.returncode, run.stdout, run.stderr) == (0, "", "")
    assert here.read_bytes() == there.read_bytes()
    image = read_png(there)
    assert image.shape == (330, 480, 3)
    steel = (np.ptp(image, axis=2) < 12) & (image.max(axis=2) > 70) & (image.max(axis=2) < 235)
    assert steel.mean() > 0.05  # tubes are there
    assert (image[:40, :, 0] > image[:40, :, 1] + 100).sum() > 500  # so is the warning


def test_camera_formula_is_what_the_renderer_does(renderer: None) -> None:
    """A small square far off the middle lands where `projected` says, within a pixel."""
    from headergen.outputs.picture import stage

    stage.keep_quiet()
    view = View((600.0, -900.0, 500.0), (20.0, 10.0, -30.0))
    for middle in ((0.0, 0.0, 0.0), (120.0, -60.0, 40.0), (-90.0, 30.0, -110.0)):
        corners = np.array(middle) + np.array([[-8.0, -8, 0], [8, -8, 0], [8, 8, 0], [-8, 8, 0]])
        mesh = TriangleMesh(corners, np.array([[0, 1, 2], [0, 2, 3]]), False)
        [image] = stage.owners([stage.polydata(mesh)], [view], SMALL)
        rows, columns = np.nonzero(image)
        assert len(rows) > 10
        seen = np.array([columns.mean() + 0.5, rows.mean() + 0.5])
        assert np.abs(seen - projected(np.array([middle]), view, SMALL)[0]).max() < 1.0


def test_owners_count_past_a_byte(renderer: None) -> None:
    from headergen.outputs.picture import stage

    stage.keep_quiet()
    square = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    bodies = [
        stage.polydata(TriangleMesh(square + np.array([3.0 * k, 0, 0]), np.array([[0, 1, 2], [0, 2, 3]]), False))
        for k in range(300)
    ]
    above = View((3.0 * 299, 0.0, 5.0), (3.0 * 299, 0.0, 0.0), up=(0.0, 1.0, 0.0), half_height=2.0)
    [image] = stage.owners(bodies, [above], (32, 32))
    assert image[16, 16] == 300


def test_the_back_of_a_closed_body_is_not_drawn(renderer: None) -> None:
    """From inside a box only its back is in sight: it is drawn where the mesh need not be closed."""
    from headergen.outputs.picture import stage

    stage.keep_quiet()
    box = box_mesh(Box(frame_from_normal((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)), (20.0, 20.0, 20.0)))
    inside = View((0.0, 0.0, 5.0), (0.0, 0.0, 0.0), up=(0.0, 1.0, 0.0))
    outside = View((0.0, 0.0, 90.0), (0.0, 0.0, 0.0), up=(0.0, 1.0, 0.0))
    for closed, seen in ((True, 0), (False, 1)):
        body = stage.polydata(TriangleMesh(box.vertices.copy(), box.faces.copy(), closed))
        within, whole = stage.owners([body], [inside, outside], (32, 32))
        assert within[16, 16] == seen and whole[16, 16] == 1


def test_crop_is_part_of_the_whole_picture(renderer: None) -> None:
    """What is drawn of a crop alone is what stands there in the whole picture."""
    from headergen.outputs.picture import stage

    stage.keep_quiet()
    mesh = tube_mesh(sample.header().centrelines[0], 21.2, 19.7, 0.5)
    rooms = stage.opened()
    rooms.lit.renderer.UseSSAOOff()  # a crop has none
    view = fitted(mesh.vertices, unit((0.3, -0.9, 0.4)), 1.5)
    crops = [(slice(10, 80), slice(60, 130)), (slice(60, 160), slice(96, 200))]
    whole, parts = stage.photographs([stage.polydata(mesh)], [], view, (240, 160), rooms, crops)
    for crop, part in zip(crops, parts, strict=True):
        assert np.ptp(whole[crop]) > 0.3  # the tube is there
        off = np.abs(part - whole[crop]).max(axis=2)
        assert (off > 2 / 255).mean() < 0.01


@pytest.mark.parametrize("share", [0.0, 0.002, 0.05, 1.0])
def test_crops_hold_every_wanted_pixel_once(share: float) -> None:
    random = np.random.default_rng(5)
    wanted = random.random((610, 1013)) < share
    wanted[:300, 400:] = False
    wanted[-1, -1] = share > 0
    count = np.zeros(wanted.shape, int)
    for crop in crops_around(wanted):
        count[crop] += 1
    assert count.max(initial=0) <= 1 and (count[wanted] == 1).all()


def test_far_corners_are_two_crops() -> None:
    wanted = np.zeros((1000, 1500), bool)
    wanted[:20, :20] = wanted[-20:, -20:] = True
    assert len(crops_around(wanted)) == 2
    wanted[:, :] = True
    assert crops_around(wanted) == [(slice(0, 1000), slice(0, 1500))]


@pytest.mark.skipif(sys.platform != "linux", reason="the renderer is taken away through libglvnd's variable")
def test_without_gl_the_answer_is_not_yes() -> None:
    asked = run_python(ASK, __EGL_VENDOR_LIBRARY_DIRS="/nonexistent")
    assert "draws\n" not in asked.stdout


def test_the_worst_error_is_seen(renderer: None) -> None:
    """A plate behind the tube hides a place from the front: the views that are kept stand behind it."""
    from headergen.outputs import picture
    from headergen.outputs.picture import stage

    stage.keep_quiet()
    header = sample.header()
    points = np.concatenate([[frame_at(line, s)[0] for s in (0, line.length)] for line in header.centrelines])
    low, high = points.min(axis=0) - 300, points.max(axis=0) + 300
    y = high[1] - 200
    x, z = (low[0], high[0]), (low[2], high[2] + 900)
    wall = np.array([[x[0], y, z[0]], [x[1], y, z[0]], [x[1], y, z[1]], [x[0], y, z[1]]])
    spot = Mark((float(points[:, 0].mean()), y + 30.0, float(points[:, 2].mean())), ("", ""))
    faces = np.array([[0, 1, 2], [0, 2, 3]])
    ways = [*view_directions((0.0, -1.0, 0.0)), *other_directions((0.0, 1.0, 0.0))]
    views = [fitted(points, way, 1.4) for way in ways]
    bodies = [stage.polydata(TriangleMesh(wall, faces, closed=False))]
    kept = picture._that_show([stage.polydata(mesh) for mesh in balls([spot])], bodies, views)
    assert kept and all(view.position[1] > y for view in kept)
    assert any(view.position[1] < y for view in views)
