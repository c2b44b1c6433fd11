"""What is known of a chassis mesh beside its triangles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from headergen.model.inputs import MeshUnits
from headergen.model.path import Vec

SMALLEST_MESH, LARGEST_MESH = 100.0, 15_000.0  # mm; largest dimension of what is modelled of a vehicle
BESIDE = 1_000.0  # mm from the header; where units are in doubt, the mesh of a chassis is no farther


@dataclass(frozen=True)
class FileFacts:
    """What reading a mesh file showed. `left_out`: triangles with a corner that is not a number.

    `no_area`: triangles that are squashed to a line or a point. `spacing`: where there are only points, what nine in
    ten have a neighbour within, in the file's numbers. `assumed`: what had to be assumed to read it, in words;
    `doubts`: what may be missing from it. `y_up`: its format is y up, and it was turned z up.
    """

    triangles: int
    left_out: int = 0
    no_area: int = 0
    points_only: bool = False
    spacing: float = 0.0
    units: MeshUnits | None = None  # where the format says it
    assumed: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    y_up: bool = False


@dataclass(frozen=True)
class PairResidual:
    """What is left between the two places of a pair once the mesh is placed."""

    name: str
    distance: float


@dataclass(frozen=True)
class OtherUnit:
    """Another unit that a mesh may be in: the largest dimension it would have, and how far from the header it lay."""

    units: MeshUnits
    size: float
    away: float


@dataclass(frozen=True)
class FitSpread:
    """What says how far off a mesh may be that was placed by points.

    `centre`: their middle in mm; `moments`: sums of squares and products about it, mm², row by row; `variance`: of each
    coordinate of a point, in mm², told from what is left with `freedom` degrees of freedom. `assumed`: within how much
    each point is taken to be, in 95 of 100 cases, where too few are left to tell; else 0.
    """

    centre: Vec
    moments: tuple[Vec, Vec, Vec]
    count: int
    variance: float
    freedom: int
    assumed: float = 0.0


@dataclass(frozen=True)
class MeshFacts:
    """A chassis mesh as it was taken: its units and why, its size, where it lies, how well it is placed.

    `away`: from the nearest port or bore to the nearest triangle. `tells_mirror`: the point pairs would show a mirrored
    mesh. `error`: by how much it is off at the header, or less, in 95 of 100 cases.
    `closed`: its triangles part an inside from an outside, once.
    `others`: what it may be in besides, unless `measured`: its largest dimension is known from outside.
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
