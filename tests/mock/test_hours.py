"""The hours of a fit mock, and its plates as a slicer takes them.

The rule was fitted to plates of the Bogbean and the saddles of two of its primaries; plates of the left bank of the
Glasswort, and the saddles of another primary, which are sliced here, were no part of that.
"""

from __future__ import annotations

import math
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from manifold3d import Manifold

from headergen.geometry.frames import WORLD
from headergen.jobs.mock import write_plates
from headergen.mock.build import Mock, make_mock
from headergen.mock.hours import LAYER, WITHIN, Printed, hours_of, printed, shared_out
from headergen.mock.packing import pack
from headergen.mock.part import MockPart
from headergen.mock.solid import mesh_of
from headergen.model import Header, MockSettings
from headergen.pipeline import settle

ROOT = Path(__file__).resolve().parents[2]
SLICER = shutil.which("prusa-slicer")
PLATES = 3
Demo = Callable[[str], tuple[Header, Mock]]
SETTINGS = Path(__file__).with_name("slicer.ini")
TIME = re.compile(r"^; estimated printing time \(normal mode\) = (?:(\d+)d )?(?:(\d+)h )?(?:(\d+)m )?(\d+)s$", re.M)
COMPLAINTS = re.compile(r"warning|error|empty layer|out of bounds|outside|repair|manifold", re.IGNORECASE)


def test_hours_go_by_plastic_and_skin() -> None:
    """Twice the plastic in the same skin takes less than twice as long, and so does twice the skin round as much; two
    parts take as long as one and one; none none."""
    one, full, open_ = Printed(10_000.0, 9_000.0), Printed(20_000.0, 9_000.0), Printed(10_000.0, 18_000.0)
    assert hours_of([]) == 0.0
    for other in (full, open_):
        assert hours_of([one]) < hours_of([other]) < 2 * hours_of([one])
    assert hours_of([one, one]) == pytest.approx(2 * hours_of([one]))
    assert f"layer_height = {LAYER}" in SETTINGS.read_text(encoding="utf-8").splitlines()


def test_the_skin_of_a_part_is_all_of_its_surface() -> None:
    """A tube of 40 mm outside, 36 mm inside, 50 mm long: π·(40 + 36)·50 round it and in it, π·(20² − 18²) at each
    end."""
    tube = Manifold.cylinder(50.0, 20.0, 20.0, 720) - Manifold.cylinder(50.0, 18.0, 18.0, 720)
    part = MockPart("P1-1", (), (), mesh_of(tube), WORLD, 0.0)
    assert part.skin == pytest.approx(math.pi * (76.0 * 50.0 + 2 * (400.0 - 324.0)), rel=1e-4)


def test_hours_are_shared_out_by_what_is_printed() -> None:
    """All of them, in proportion; a kind of which nothing is printed has none."""
    one, double = Printed(10_000.0, 9_000.0), Printed(20_000.0, 18_000.0)
    shares = dict(shared_out(12.0, {"tubes": [one], "plates": [double], "saddles": []}))
    assert shares == {"tubes": pytest.approx(4.0), "plates": pytest.approx(8.0)}


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.skipif(SLICER is None, reason="prusa-slicer is not installed")
@pytest.mark.parametrize("number", range(1, PLATES + 1))
def test_every_plate_is_sliced_as_it_stands(number: int, demo: Demo, tmp_path: Path) -> None:
    """Nothing is arranged anew, nothing complained of, and the hours are those of the rule."""
    _, mock = demo("glasswort_left")
    assert write_plates(tmp_path, "Glasswort", "plate", (mock.printed, mock.placed)) == len(mock.hours) == PLATES
    sliced = sliced_hours(tmp_path / f"plate_{number}.3mf")
    assert mock.hours[number - 1] == pytest.approx(sliced, rel=WITHIN)


@pytest.mark.slow
@pytest.mark.skipif(SLICER is None, reason="prusa-slicer is not installed")
def test_saddles_are_sliced_as_they_stand(tmp_path: Path) -> None:
    """Those of one primary that the rule was not fitted to, on their plates."""
    header = settle(ROOT / "specs" / "bogbean.yaml").with_runs({"primary 2"})
    mock = make_mock(header, MockSettings(flange=False, plates=False, straights="steel", saddles=True))
    placed = pack([(part.name, part.mesh) for part in mock.saddles], MockSettings().bed)
    count = write_plates(tmp_path, "Bogbean", "plate", (mock.saddles, placed))
    for number in range(1, count + 1):
        on_it = [part for part, place in zip(mock.saddles, placed, strict=True) if place.plate == number]
        sliced = sliced_hours(tmp_path / f"plate_{number}.3mf")
        assert hours_of(map(printed, on_it)) == pytest.approx(sliced, rel=WITHIN), number


def sliced_hours(plate: Path) -> float:
    """The hours that the slicer says; it takes the plate as it stands and complains of nothing."""
    code = plate.with_suffix(".gcode")
    command = [str(SLICER), "--export-gcode", "--dont-arrange", "--load", str(SETTINGS), "-o", str(code), str(plate)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    said = done.stdout + done.stderr
    assert done.returncode == 0 and not COMPLAINTS.search(said.replace(str(plate.parent), "")), said
    found = TIME.search(code.read_text(encoding="utf-8", errors="replace"))
    assert found is not None
    days, hour, minute, second = (int(each or 0) for each in found.groups())
    return 24 * days + hour + minute / 60 + second / 3600
