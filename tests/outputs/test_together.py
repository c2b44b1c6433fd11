"""The picture of all parts of a mock: where they stand, what is pointed at, and that no name stands on another."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest
import sample_result as sample

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Header, MockKind
from headergen.outputs.picture.shown import ShownPart
from headergen.outputs.picture.together import HIDDEN, SIZE, apart, pointed
from headergen.outputs.picture.view import View

CUBE = np.array([[x, y, z] for x in (-20.0, 20.0) for y in (-20.0, 20.0) for z in (-20.0, 20.0)])
NO_FACES = np.zeros((0, 3), np.int64)


@pytest.fixture(scope="module")
def strips() -> Any:
    pytest.importorskip("vtkmodules", reason="the picture's strips import the renderer")
    from headergen.outputs.picture import strips

    return strips


KINDS: dict[str, MockKind] = {
    "F": "flange plate",
    "P": "tube",
    "L": "locating plate",
    "C": "collector",
    "G": "cut guide",
}


def on_axis(header: Header, along: float) -> TriangleMesh:
    """A cube about a place of the first collector's axis, `along` mm past its plane."""
    frame = header.draft.collectors[0].frame
    return TriangleMesh(CUBE + np.array(frame.origin) + along * np.array(frame.z), NO_FACES, True)


def shown_on_axis(header: Header, name: str, along: float) -> ShownPart:
    kind = KINDS[name[0]]
    collector = header.draft.collectors[0].name if kind in ("locating plate", "collector", "cut guide") else ""
    return ShownPart(on_axis(header, along), kind, (), collector)


def extent(mesh: TriangleMesh, header: Header) -> tuple[float, float]:
    frame = header.draft.collectors[0].frame
    along = (mesh.vertices - np.array(frame.origin)) @ np.array(frame.z)
    return float(along.min()), float(along.max())


def test_collector_and_guides_stand_clear_of_the_plates_and_of_each_other() -> None:
    header = sample.header()
    places = {
        "F1": -400.0,
        "P1-1": -20.0,
        "L1": 20.0,
        "L2": 60.0,
        "C1.1": 10.0,
        "C1.2": 55.0,
        "G1-1": 15.0,
        "G1-2": 15.0,
    }
    parts = {name: shown_on_axis(header, name, at) for name, at in places.items()}
    shown = apart(parts, header)
    assert list(shown) == list(parts)
    assert all(shown[name] is parts[name].mesh for name in ("F1", "P1-1", "L1", "L2"))
    collector = [extent(shown[name], header) for name in ("C1.1", "C1.2")]
    assert collector[1][0] - collector[0][0] == pytest.approx(45.0)  # moved as one
    rows = [extent(shown["L2"], header), (collector[0][0], collector[1][1])]
    rows += [extent(shown[name], header) for name in ("G1-1", "G1-2")]
    for (_, ends), (begins, _) in pairwise(rows):
        assert begins - ends >= 20.0


def test_without_plates_the_collector_is_where_it_belongs() -> None:
    header = sample.header()
    parts = {name: shown_on_axis(header, name, at) for name, at in {"P1-1": -20.0, "C1": 10.0}.items()}
    assert apart(parts, header)["C1"] is parts["C1"].mesh


def test_each_name_points_at_its_own_part() -> None:
    """The middle of a ring is not on it; what nothing is seen of says so."""
    rows, columns = np.mgrid[0:60, 0:80]
    away = np.hypot(rows - 30, columns - 40)
    owners = np.where((away > 15) & (away < 20), 1, 0)
    owners[5:9, 60:70] = 2
    part = TriangleMesh(CUBE, NO_FACES, True)
    view = View((0.0, -500.0, 0.0), (0.0, 0.0, 0.0))
    found = dict(pointed(owners, {"P1-1": part, "L1": part, "C1": part}, view))
    assert owners[int(found["P1-1"][1]), int(found["P1-1"][0])] == 1
    assert owners[int(found["L1"][1]), int(found["L1"][0])] == 2
    assert found["C1" + HIDDEN] == pytest.approx((40.0, 30.0), abs=1.0)


@pytest.mark.parametrize("count", [5, 40, 80])
@pytest.mark.parametrize("banner", [False, True])
def test_names_stand_in_the_strips_and_never_on_each_other(strips: Any, count: int, banner: bool) -> None:
    """What is drawn beside the photograph, name by name: between two rows of letters there is paper."""
    rng = np.random.default_rng(count)
    sheet = strips.names_sheet(SIZE, banner=banner)
    width, height = sheet.photograph
    places = rng.uniform((0, 0), (width, height), (count, 2)).tolist()
    names = [strips.Pointer(f"P{k}-1", (x, y)) for k, (x, y) in enumerate(places)]
    image = strips.laid_out(np.ones((height, width, 3)), sheet)
    strips.draw_names(image, sheet, names)
    dark = image.mean(axis=2) < 0.8
    assert not dark[: sheet.top - 8].any() and not dark[SIZE[1] - sheet.foot + 8 :].any()
    found = 0
    left, right = dark[:, : sheet.side - 12], dark[:, sheet.side + width + 12 :]
    assert not left[:, 0].any() and not right[:, -1].any()
    for strip in (left, right):
        inked = np.flatnonzero(np.diff(np.r_[0, strip.any(axis=1).astype(int), 0]))
        starts, ends = inked[::2], inked[1::2]
        found += len(starts)
        assert (ends - starts).max() < 30
    assert found == count


def test_a_place_is_found_for_many_names(strips: Any) -> None:
    sheet = strips.names_sheet(SIZE, banner=True)
    sizes = [strips.name_size(sheet, count) for count in (10, 30, 60)]
    assert sizes[0] >= sizes[1] >= sizes[2] >= 8
    for size, count in zip(sizes, (10, 30, 60), strict=True):
        rows = strips.spread([500.0] * count, 2.1 * size, (sheet.top + size, SIZE[1] - sheet.foot - size))
        assert all(b - a > 1.3 * size for a, b in combinations(rows, 2))
