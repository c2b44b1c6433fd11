"""What stands round a header: the items of a chassis, each a mesh or a simple shape, with its clearance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from headergen.model.path import Centreline, Frame, Plane, Vec, Vec2

MeshUnits = Literal["mm", "cm", "m", "in", "ft"]


@dataclass(frozen=True)
class PointPair:
    """A point known both in a mesh file, in the file's own numbers, and on the engine."""

    name: str
    scan: Vec
    engine: Vec


@dataclass(frozen=True)
class MeshRef:
    """A mesh by name and content, without its arrays. `placement` is the frame of its own axes in engine axes.

    Without `units` they are found when the mesh is read. `pairs`, if given, place it instead; each may be off by
    `within`.
    """

    path: str
    sha256: str
    units: MeshUnits | None
    placement: Frame
    extent: float | None = None  # its largest dimension, as the user knows it, in millimetres
    pairs: tuple[PointPair, ...] = ()
    within: float = 0.0


@dataclass(frozen=True)
class Box:
    frame: Frame  # origin at the centre
    size: Vec


@dataclass(frozen=True)
class Cylinder:
    """A solid cylinder with flat ends."""

    start: Vec
    end: Vec
    diameter: float


@dataclass(frozen=True)
class TubeRun:
    """A round tube or cable through points, with round ends and corners."""

    points: tuple[Vec, ...]
    diameter: float


RoundTube = tuple[Centreline, float]  # with its outside diameter


@dataclass(frozen=True)
class HeaderRef:
    """Another header, by its spec: its tubes and collectors must not be touched.

    `tubes` are the round tubes it is measured as; they are set once its spec has been read.
    """

    path: str
    sha256: str
    tubes: tuple[RoundTube, ...] = ()


@dataclass(frozen=True)
class OtherPlate:
    """A plate, tab, bracket or transition of another header, which no spec has as an item of its own.

    Its convex outline, counter-clockwise `corners` in the frame's x and y, is extruded along z. `on_head`: it is a
    flange or stands on one, beside which a flange of this header may stand edge to edge. A transition goes on from
    there over the length `taper`, ruled to the corners of `onto`, as many as it has itself.
    """

    frame: Frame
    corners: tuple[Vec2, ...]
    thickness: float
    on_head: bool = False
    taper: float = 0.0
    onto: tuple[Vec2, ...] = ()


Shape = MeshRef | Box | Cylinder | Plane | TubeRun | HeaderRef | OtherPlate


@dataclass(frozen=True)
class ChassisItem:
    name: str
    shape: Shape
    clearance: float
    role: Literal["obstacle", "enclosure", "surface"] = "obstacle"
    free_from_flange: float = 0.0
    flanges: tuple[str, ...] = ()  # names of the flanges seated on it, if not all are

    def free_for(self, flange: str) -> float:
        """The length over which tubes from the flange with this name may be near it."""
        return self.free_from_flange if not self.flanges or flange in self.flanges else 0.0
