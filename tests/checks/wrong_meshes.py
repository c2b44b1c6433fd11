"""Meshes of which every rule about meshes has something to say, and what the rules say of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import trimesh

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import TriangleIndex, build_index, index_of
from headergen.model import (
    Box,
    ChassisItem,
    FileFacts,
    FitSpread,
    MeshFacts,
    MeshRef,
    OtherUnit,
    PairResidual,
    Straight,
    Vec,
)
from headergen.model.finding import Finding
from headergen.solve.closing import close
from tests.checks.small_header import LENGTH, draft, moved

BAY = "bay"
SIZE = (400.0, 1200.0, 400.0)
FACTS = MeshFacts(BAY, "scan.stl", FileFacts(12000), "mm", "spec", SIZE, 30.0)


def box(middle: Vec, size: Vec = SIZE) -> TriangleIndex:
    return index_of(box_mesh(Box(moved(WORLD, middle), size)))


def half_of(middle: Vec) -> TriangleIndex:
    """The lower half of a box: open, and it goes half round what is in it."""
    triangles = box(middle).triangles()
    return build_index(triangles[triangles.mean(axis=1)[:, 2] < middle[2] + 1.0])


def sheet(height: float) -> TriangleIndex:
    """So wide that it goes nearly half round whatever is over it."""
    a, b, c, d = ((x, y, height) for x, y in ((-4e3, -4e3), (4e3, -4e3), (4e3, 4e3), (-4e3, 4e3)))
    return build_index(np.array([[a, b, c], [a, c, d]]))


@cache
def holed_ball() -> TriangleIndex:
    """A ball round the tube's end, open where the tube comes in."""
    made = trimesh.creation.icosphere(5, 250.0)
    triangles = np.asarray(made.vertices)[made.faces] + (0.0, LENGTH, 0.0)
    off = np.hypot(triangles[..., 0], triangles[..., 2]).min(axis=1)
    return build_index(triangles[(off > 60.0) | (triangles[..., 1].max(axis=1) > LENGTH)])


@cache
def beside() -> TriangleIndex:
    """17 mm from a tube that keeps 15."""
    return box((0.0, 200.0, -238.2), (400.0, 200.0, 400.0))


def half_box() -> TriangleIndex:
    return half_of((0.0, 200.0, 0.0))


READ = FileFacts(12000, left_out=3, no_area=5, assumed=("the commas in its numbers were read as decimal points",))
OTHERS = (OtherUnit("cm", 12000.0, 300.0), OtherUnit("in", 3300.0, 8.6))
OFF = (PairResidual("left mount", 9.0), PairResidual("right mount", 0.5), PairResidual("sump", 0.75))
FAR = ((1e12, 0.0, 0.0), (0.0, 1e12, 0.0), (0.0, 0.0, 1e12))  # points so far out that the mesh does not turn
SPREAD = FitSpread((0.0, 200.0, -38.2), FAR, 4, 1.5**2, 10**6)
BY_THREE: dict[str, Any] = {"spread": replace(SPREAD, assumed=2.0), "placed": "points", "tells_mirror": False}
CLOSED = replace(FACTS, closed=True)
MESHES: dict[str, tuple[Callable[[], TriangleIndex], MeshFacts, dict[str, Any]]] = {
    "units told by its size": (beside, replace(CLOSED, units="in", units_from="size"), {}),
    "units told by its extent": (beside, replace(CLOSED, units="ft", units_from="extent", measured=True), {}),
    "other units possible": (beside, replace(CLOSED, others=OTHERS), {}),
    "far": (lambda: box((0.0, 200.0, -1900.0)), replace(CLOSED, away=1678.8), {}),
    "small": (lambda: box((0.0, 200.0, -90.0), (60.0, 40.0, 40.0)), replace(CLOSED, size=(60.0, 40.0, 40.0)), {}),
    "odd to read": (beside, replace(CLOSED, content=READ), {}),
    "cut, perhaps": (beside, replace(CLOSED, content=replace(READ, doubts=("5 corners have no face",))), {}),
    "points": (beside, replace(CLOSED, content=FileFacts(9, points_only=True), spacing=2.5), {}),
    "placed": (beside, replace(CLOSED, residuals=OFF[1:], spread=SPREAD, within=2.0, placed="points"), {}),
    "placed badly": (beside, replace(CLOSED, residuals=OFF, spread=SPREAD, within=2.0, placed="points"), {}),
    "placed by three points": (beside, replace(CLOSED, residuals=OFF[1:], within=2.0, **BY_THREE), {}),
    "a hole": (holed_ball, FACTS, {}),
    "all inside": (lambda: box((0.0, 200.0, 0.0)), CLOSED, {}),
    "half a shell": (half_box, FACTS, {}),
    "half an enclosure": (half_box, FACTS, {"role": "enclosure"}),
    "a sheet beneath": (lambda: sheet(-100.0), FACTS, {}),
}
WITH_ERRORS = ("placed badly", "all inside")


def of_mesh(name: str, units: str) -> tuple[Finding, ...]:
    index, facts, more = MESHES[name]
    ref = MeshRef("scan.stl", "0", None, WORLD)
    made = draft([Straight(LENGTH)], chassis=(ChassisItem(BAY, ref, 15.0, **more),), units=units)
    return judge(survey(close(made), {BAY: index()}, (facts,)))
