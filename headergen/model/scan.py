"""The facts of a chassis mesh besides its triangles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from headergen.model.chassis import MeshUnits
from headergen.model.path import Vec

SMALLEST_MESH, LARGEST_MESH = 100.0, 15_000.0  # mm; limits of the largest dimension of a vehicle part's model
BESIDE = 1_000.0  # mm from the header; if units are unclear, a chassis mesh is assumed to be nearer


@dataclass(frozen=True)
class FileFacts:
    """What was found in reading a mesh file. `left_out`: triangles with a corner that is not a number.

    `no_area`: triangles collapsed to a line or a point. `spacing`: for points without triangles, the distance within
    which nine in ten have a neighbour, in the file's numbers. `assumed`: assumptions made in reading it, in words;
    `doubts`: what may be missing from it. `y_up`: its format is y up, and it was turned z up.
    """

    triangles: int
    left_out: int = 0
    no_area: int = 0
    points_only: bool = False
    spacing: float = 0.0
    units: MeshUnits | None = None  # if the format defines it
    assumed: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    y_up: bool = False


@dataclass(frozen=True)
class PairResidual:
    """The distance left between the two points of a pair once the mesh is placed."""

    name: str
    distance: float


@dataclass(frozen=True)
class OtherUnit:
    """Another unit that a mesh may be in: its largest dimension and its distance from the header in that unit."""

    units: MeshUnits
    size: float
    away: float


@dataclass(frozen=True)
class FitSpread:
    """The statistics for the error of a mesh placed by points.

    `centre`: of the points, in mm; `moments`: sums of squares and products about it, mm², row by row; `variance`: of
    each coordinate of a point, in mm², estimated from the residuals with `freedom` degrees of freedom. `assumed`: the
    accuracy of each point, in 95 of 100 cases, that is assumed if there are too few residuals for an estimate; else 0.
    """

    centre: Vec
    moments: tuple[Vec, Vec, Vec]
    count: int
    variance: float
    freedom: int
    assumed: float = 0.0


@dataclass(frozen=True)
class MeshFacts:
    """A chassis mesh as used: its units and their source, its size, its place, and the quality of its placement.

    `away`: from the nearest port or bore to the nearest triangle. `tells_mirror`: the point pairs would reveal a
    mirrored mesh. `error`: its error at the header in 95 of 100 cases. `closed`: its triangles separate one inside from
    the outside. `others`: other units it may be in; none if `measured`: its largest dimension is known from outside.
    `placed`: as its file has it, where the spec says, or by points.
    """

    item: str
    file: str
    content: FileFacts
    units: MeshUnits
    units_from: Literal["spec", "format", "points", "size", "extent"]
    size: Vec
    away: float
    spacing: float = 0.0  # as of FileFacts, in millimetres
    residuals: tuple[PairResidual, ...] = ()
    spread: FitSpread | None = None
    error: float = 0.0
    within: float = 0.0
    tells_mirror: bool = True
    closed: bool = False
    others: tuple[OtherUnit, ...] = ()
    measured: bool = False
    placed: Literal["file", "spec", "points"] = "file"
