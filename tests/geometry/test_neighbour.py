"""Another header as round tubes: primaries, secondaries and collectors, none of them left out or made wider."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from headergen.geometry.curves.body import distance_to_body, tube_body
from headergen.geometry.merge.design import merge_of
from headergen.model import OutletBall, OutletBell, OutletRing
from headergen.parts.neighbour import round_tubes
from headergen.pipeline import check, settle
from headergen.solids.collector import merge_solid
from headergen.solids.mesh import solid_mesh
from headergen.solve.closing import close
from tests.checks.small_header import draft
from tests.random_parts import TUBE, collector, random_collector

TWO_STEPS = Path(__file__).parents[1] / "two_steps" / "bogbean_four_two_one.yaml"


def test_a_header_of_two_steps_brings_all_its_tubes() -> None:
    """Four primaries of 42.4, two secondaries of 50.8, of three collectors two bores each (sleeves, leaning tubes and
    one outlet), and the bosses."""
    header = settle(TWO_STEPS)
    widths = [width for _, width in round_tubes(header)]
    assert widths[:6] == [42.4] * 4 + [50.8] * 2
    assert len(widths) == 6 + 3 * (2 * 2 + 1) + len(header.draft.bosses) and header.draft.bosses
    lengths = [line.length for line, _ in round_tubes(header)]
    assert lengths[:6] == pytest.approx([line.length for line in header.centrelines])


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", [0, 3, 5, 8])
def test_the_tubes_of_a_collector_stand_in_for_its_skin(seed: int) -> None:
    """Places all over the made collector: none is more than 2.5 mm outside of all tubes, most are in one."""
    tube, made = random_collector(seed)
    header = close(replace(draft(), tube=tube, collectors=(made,)))
    merge = merge_of(tube, made)
    mesh = solid_mesh(merge_solid(merge, "collector"), 0.05, "collector")
    places, _ = trimesh.sample.sample_surface(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False), 3000, seed=1)
    c, s = math.cos(merge.turn), math.sin(merge.turn)
    turned = places @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    frame = made.frame
    world = turned @ np.array([frame.x, frame.y, frame.z]) + np.array(frame.origin)
    bodies = [tube_body(line, width / 2) for line, width in round_tubes(header)][1:]  # but for the primary
    off = np.min([distance_to_body(body, world)[0] - body.radius for body in bodies], axis=0)
    assert off.max() < 2.5
    assert np.mean(off < 0.1) > 0.9


def test_a_tube_through_a_neighbours_secondary_is_told(tmp_path: Path) -> None:
    """A straight tube square through the middle of a secondary, far from every primary of that header."""
    other = settle(TWO_STEPS)
    path = tmp_path / "job.yaml"
    (line, width) = list(round_tubes(other))[4]
    x, y, z = line.segments[0].start
    path.write_text(
        "format: 1\njob: {title: Test, revision: A, date: 2026-03-14}\nunits: mm\n"
        f"tube: {{outside_diameter: {TUBE.outside_diameter}, wall: 1.5, material: 304L}}\n"
        f"flange:\n  plane: {{origin: [{x}, {y}, {z + 200}], normal: [0, 0, -1], x: [1, 0, 0]}}\n  thickness: 10\n"
        "  ports:\n    1: {at: [0, 0], shape: {round: 38}}\n"
        f"collectors:\n  main:\n    plane: {{origin: [{x}, {y}, {z - 200}], normal: [0, 0, -1], x: [1, 0, 0]}}\n"
        "    join: weld\n    pattern: line\n    bores: [1]\nprimaries:\n  1: [{straight: 400}]\n"
        f"chassis:\n  - {{name: other bank, header: {TWO_STEPS}, clearance: 15}}\n",
        encoding="utf-8",
    )
    (gap,) = [gap for gap in check(path).result.survey.gaps if gap.b == "other bank"]
    assert gap.value < -10.0 and width == 50.8


def test_an_outlet_plate_of_another_header_is_the_cylinder_round_it() -> None:
    """The Sedge with a turbine: bolts at (36, 28) with 4.5 + 9 mm of metal round their middles, 11.7 mm thick."""
    header = settle(Path(__file__).parents[2] / "specs" / "sedge_turbine.yaml")
    (line, width), (lead, _) = list(round_tubes(header))[-2:]
    assert width == pytest.approx(2 * (math.hypot(36, 28) + 13.5), abs=0.05)
    assert line.length == pytest.approx(11.7) and lead.length == pytest.approx(50.0)


@pytest.mark.parametrize(
    ("end", "low", "high", "width"),
    [
        (OutletRing(110.0, 9.0), -9.0, 0.0, 110.0),
        (OutletBall(90.0, 12.0), -12.0, 0.0, 90.0),
        # 30° to the axis from the outlet's bore to the bell's, then its length; the wall of 1.5 mm is round it
        (OutletBell(70.0, 30.0), 0.0, 30.0 + (35.0 - 30.25) / math.tan(math.radians(30.0)), 73.0),
    ],
)
def test_what_ends_an_outlet_of_another_header_is_the_cylinder_round_it(
    end: OutletRing | OutletBall | OutletBell, low: float, high: float, width: float
) -> None:
    asked = replace(collector(TUBE, 4, 10.0, 63.5), end=end)
    header = close(draft(tube=TUBE, collectors=(asked,)))
    last = merge_of(TUBE, asked).end
    line, wide = list(round_tubes(header))[-1]
    assert wide == pytest.approx(width)
    assert line.segments[0].start[2] == pytest.approx(last + low)
    assert line.length == pytest.approx(high - low)
