"""Bores that touch: the plates are one body with one opening, hold the tubes, and everything else is made as well."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from assembly import home, manifold
from shapely import Point, Polygon
from touching import LENGTH, TUBE, bundle, ring, row

from headergen.geometry.mesh.tube import outer_skin
from headergen.geometry.plate.outline import points_on
from headergen.geometry.plate.united import openings_of, tubes_together
from headergen.mock.build import make_mock
from headergen.mock.locating import plate_pairs, plate_part
from headergen.mock.part import sound_mesh
from headergen.model import MockSettings
from headergen.outputs.dxf import write_plate_dxf

NO_FLANGE = MockSettings(flange=False)
PLACES = {
    "two": row(2, TUBE.outside_diameter),
    "row": row(4, TUBE.outside_diameter),
    "three": ring(3, TUBE.outside_diameter),
    "square": ring(4, TUBE.outside_diameter),
    "six": ring(6, TUBE.outside_diameter),
    "nearly": ring(4, TUBE.outside_diameter + 0.9),  # half a millimetre of plate would stand between
}


@pytest.mark.quick(1)
@pytest.mark.parametrize("places", PLACES.values(), ids=PLACES)
def test_the_plate_is_one_body_and_holds_the_tubes(places: list[tuple[float, float]], tmp_path: Path) -> None:
    header = bundle(places)
    [pair] = plate_pairs(header, NO_FLANGE)
    for plate in pair.plates:
        part = plate_part(plate, header.draft.collectors[0])
        solid = manifold(part.mesh, home(part))
        assert len(solid.decompose()) == 1
        assert tubes_together(plate.holes) == [tuple(f"primary {k}" for k in range(1, len(places) + 1))]
        for line in header.centrelines:
            # a tube as long as the plates ask for does not touch; half a millimetre more would, from outside
            point = np.array(line.segments[0].start) * [1, 1, 0] + [0, 0, plate.downstream - plate.thickness - 5]
            assert (solid ^ standing(point, TUBE.radius)).volume() < 1e-6
            assert (solid ^ standing(point, TUBE.radius + 0.5)).volume() > 20


def standing(point: np.ndarray, radius: float) -> object:
    from headergen.model import Centreline, Line

    start = (float(point[0]), float(point[1]), LENGTH + float(point[2]))
    line = Centreline("", (Line(1, start, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), 20.0),))
    return manifold(outer_skin(line, radius, 0.01).mesh)


@pytest.mark.parametrize("places", PLACES.values(), ids=PLACES)
def test_no_line_to_cut_crosses_another(places: list[tuple[float, float]], tmp_path: Path) -> None:
    """The drawing read back: one closed line for all tubes, inside the outline, clear of rods."""
    [pair] = plate_pairs(bundle(places), NO_FLANGE)
    write_plate_dxf(tmp_path / "plate.dxf", pair.plates[0], "Bundle A")
    drawing = ezdxf.readfile(tmp_path / "plate.dxf")
    assert not drawing.audit().errors
    cuts = contours(drawing)
    outline = max(cuts, key=lambda each: each.area)
    holes = [each for each in cuts if each is not outline]
    assert len(holes) == 1 + 2  # the tubes, and two rods
    assert all(outline.contains(hole) for hole in holes)
    assert not any(a.intersects(b) for k, a in enumerate(holes) for b in holes[:k])


def contours(drawing: ezdxf.document.Drawing) -> list[Polygon]:
    from ezdxf.path import make_path

    marks = drawing.modelspace().query("LWPOLYLINE CIRCLE")
    return [Polygon([(p.x, p.y) for p in make_path(mark).flattening(0.005)]) for mark in marks]


@pytest.mark.slow
def test_a_tube_moves_no_farther_than_is_said() -> None:
    """Drawn at random: places that a tube can take while the others stand within their gap lie within the lean."""
    rng, seen = np.random.default_rng(5), 0
    for places in PLACES.values():
        [pair] = plate_pairs(bundle(places), NO_FLANGE)
        plate = pair.plates[0]
        said = math.tan(pair.lean) * pair.apart
        assert said >= 2 * NO_FLANGE.gap
        [opening] = [each for each in openings_of(plate.holes) if len(each.holes) > 1]
        room = Polygon(points_on(opening.outline, 0.05))
        middles = np.array([plate.holes[k].at for k in opening.holes])
        taken = []
        for _ in range(800):
            moved = middles + rng.uniform(-0.35, 0.35, middles.shape)
            apart = np.linalg.norm(moved[1:] - moved[0], axis=1)
            nudged = np.linalg.norm(moved[1:] - middles[1:], axis=1)
            held = room.contains(Point(moved[0]).buffer(TUBE.radius, quad_segs=64))
            if held and (nudged <= NO_FLANGE.gap).all() and (apart >= TUBE.outside_diameter).all():
                taken.append(moved[0])
        seen += len(taken)
        if len(taken) > 1:
            spread = np.array(taken)
            assert np.linalg.norm(spread[:, None] - spread[None], axis=2).max() <= said + 1e-3
    assert seen > 15


@pytest.mark.quick(1)
@pytest.mark.parametrize("shape", ["two", "square"])
def test_the_whole_mock_is_made(shape: str) -> None:
    header = bundle(PLACES[shape], math.radians(10))
    mock = make_mock(header, MockSettings(flange=False, collector=True, cut_guides=True))
    assert {"L1", "L2", "C1"} <= {part.name for part in mock.printed}
    for part in mock.printed:
        sound_mesh(part.name, manifold(part.mesh))


def test_a_tube_of_one_part_without_a_joint_prints() -> None:
    """Neither flange plate nor printed collector: a short primary is one part with neither spigot nor socket."""
    mock = make_mock(bundle(row(2, 60.0)), NO_FLANGE)
    assert [part.name for part in mock.parts] == ["P1-1", "P2-1"]
    assert all(part.spigot is None and not part.sockets for part in mock.parts)
