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

from headergen.geometry.mesh import TriangleMesh, enclosed_volume
from headergen.model import Plane
from headergen.outputs.picture import best_view, picture_notes, render
from headergen.outputs.picture.chassis import chassis_meshes
from headergen.outputs.picture.view import FILL, View, fitted, projected, view_directions

SMALL = (480, 330)
FRAME = (np.array([[-200.0, 300, -250], [200, 300, -250], [0, 300, 150]]), np.array([[0, 1, 2]]))
ASK = "from headergen.outputs.picture import can_render; print('draws' if can_render() else 'draws nothing')"
DRAW = """
import sys
from pathlib import Path
import sample_result as sample
from test_picture import FRAME, SMALL
from headergen.geometry.mesh import TriangleMesh
from headergen.geometry.tube_mesh import tube_mesh
from headergen.outputs.picture import picture_notes, render
header = sample.header()
tubes = {line.primary: tube_mesh(line, 21.2, 19.7, 0.05) for line in header.centrelines}
render(Path(sys.argv[1]), tubes, [TriangleMesh(*FRAME, closed=False)], picture_notes(header, int(sys.argv[2])), SMALL)
"""


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
        assert number == line.primary
        near = [math.dist(place, line.segments[0].start) for place in places]
        assert near == sorted(near) and near[0] < 0.1 * line.length  # port end first


def test_a_header_without_primaries_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="no primary"):
        render(tmp_path / "a.png", {}, [], picture_notes(sample.header(), 0), SMALL)


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


def test_disc_of_a_number_keeps_off_the_tubes(overlay: Any) -> None:
    """Two tubes side by side with room beside them: each number is drawn, none over a tube, none over another."""
    size = (400, 600)
    owners = np.zeros(size, int)
    owners[150:250, 200:290], owners[150:250, 310:400] = 1, 2
    before = np.full((*size, 3), 0.5)
    image = before.copy()
    view = View((0.0, -1000.0, 0.0), (0.0, 0.0, 0.0))
    pixel = 1000 * math.tan(math.radians(9)) / 200  # millimetres a pixel in the plane of the focus
    places = {1: ((-55 * pixel, 0.0, 0.0),), 2: ((55 * pixel, 0.0, 0.0),), 7: ((0.0, 0.0, 0.0),)}
    overlay.draw_numbers(image, owners, [1, 2], {n: places[n] for n in (1, 2)}, view)
    white = (image == 1.0).all(axis=2)
    assert white.any() and not (white & (owners > 0)).any()
    disc = math.pi * (0.0135 * 600) ** 2
    assert 1.2 * disc < white.sum() < 2 * disc  # two discs less the ink of their digits


def test_warning_stands_only_on_headers_with_errors(overlay: Any) -> None:
    red = []
    for errors in (0, 1, 3):
        image = np.ones((330, 480, 3))
        overlay.draw_words(image, "Bogbean   revision A   2026-03-14", errors)
        red.append(int(np.all(np.isclose(image, overlay.RED), axis=2).sum()))
        assert (image[290:] < 0.5).all(axis=2).any()  # the job, in dark ink at the foot
    assert red[0] == 0 and red[1] > 500 and red[2] > red[1]  # "3 errors" is longer than "1 error"


def test_long_titles_end_before_the_edge(overlay: Any) -> None:
    image = np.zeros((330, 480, 3))
    overlay.draw_words(image, "Glasswort | $x$ %s Flößer " * 20, 1)
    assert not image[:, -8:].any() and image[:, -40:-20].any()


@pytest.mark.parametrize("text", ["", "   "])
def test_empty_words_are_no_trouble(overlay: Any, text: str) -> None:
    overlay.draw_words(np.zeros((330, 480, 3)), text, 0)


# --- the renderer -----------------------------------------------------------------------------------------------


def test_same_bytes_from_two_processes_and_quiet(renderer: None, tmp_path: Path) -> None:
    made = []
    for seed in ("0", "1"):
        path = tmp_path / f"{seed}.png"
        run = run_python(DRAW, str(path), "3", PYTHONHASHSEED=seed)
        assert (run.returncode, run.stdout, run.stderr) == (0, "", "")
        made.append(path.read_bytes())
    assert made[0] == made[1]
    image = read_png(tmp_path / "0.png")
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


@pytest.mark.skipif(sys.platform != "linux", reason="the renderer is taken away through libglvnd's variable")
def test_without_gl_the_answer_is_not_yes() -> None:
    asked = run_python(ASK, __EGL_VENDOR_LIBRARY_DIRS="/nonexistent")
    assert "draws\n" not in asked.stdout


def test_numbers_keep_off_the_title(overlay: Any) -> None:
    """A disc for a place low in the picture goes above the plate with the job's name, which is drawn over it."""
    owners = np.zeros((825, 1200), dtype=np.int32)
    image = np.zeros((825, 1200, 3))
    overlay.draw_words(image, "Bogbean: a job with a long enough name to reach across most of the picture", 0)
    drawn = np.flatnonzero(image.any(axis=(1, 2)))
    radius = 16.2
    for column, row in ((300.0, 760.0), (600.0, 790.0), (900.0, 740.0)):
        spot = overlay._free_spot(np.array([column, row]), owners, [], radius)
        assert spot[1] + radius <= drawn[0]
