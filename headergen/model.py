"""The nouns of a header, as frozen dataclasses of plain floats and tuples.

Millimetres and radians throughout. Nothing in here computes more than a plain property; geometry/ works on these.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

Vec = tuple[float, float, float]
Mark = tuple[int, int]  # line, column; both counted from 1
SpecPath = tuple[str | int, ...]  # ("primaries", "2", 3, "bend"): keys and list positions down to a value


@dataclass(frozen=True)
class Source:
    """The text a header came from: its file, the hash of its bytes, and where each value stands in it."""

    file: str
    sha256: str
    marks: dict[SpecPath, Mark]


@dataclass(frozen=True)
class Frame:
    """A right-handed set of unit axes at a point. For ports and bores z is the direction of travel."""

    origin: Vec
    x: Vec
    y: Vec
    z: Vec


@dataclass(frozen=True)
class Job:
    title: str
    revision: str
    date: str  # ISO 8601; the only date that reaches a file
    customer: str = ""
    notes: str = ""


@dataclass(frozen=True)
class Tube:
    outside_diameter: float
    wall: float
    material: str

    @property
    def radius(self) -> float:
        return self.outside_diameter / 2


@dataclass(frozen=True)
class StockBend:
    """A bend on the shelf: `angle` is the largest angle that can be cut from it, `legs` the straights it carries."""

    radius: float
    angle: float
    legs: tuple[float, float]
    price: float | None = None


@dataclass(frozen=True)
class StockStraight:
    length: float
    price: float | None = None


@dataclass(frozen=True)
class Stock:
    bends: tuple[StockBend, ...]
    straights: tuple[StockStraight, ...]
    currency: str = ""


@dataclass(frozen=True)
class PortShape:
    """The opening in the head: `size` holds what the kind needs, in millimetres (round: the diameter)."""

    kind: Literal["round", "oval", "rectangle", "d"]
    size: tuple[float, ...]


@dataclass(frozen=True)
class Port:
    number: int
    frame: Frame  # origin on the flange face, z along the port out of the head, x the flange's own
    shape: PortShape


@dataclass(frozen=True)
class Bolt:
    at: tuple[float, float]
    hole: float


@dataclass(frozen=True)
class Flange:
    frame: Frame  # z is the normal out of the head
    thickness: float
    bolts: tuple[Bolt, ...]
    ports: tuple[Port, ...]


@dataclass(frozen=True)
class Bore:
    collector: str
    number: int  # its place in the pattern, counted from 1
    primary: int
    frame: Frame  # origin on the collector plane, z the direction in which the tube arrives


@dataclass(frozen=True)
class Collector:
    name: str
    frame: Frame  # the collector plane; z points downstream
    join: Literal["slip", "weld"]
    slip: float  # insertion depth: the mouth lies this far upstream of the plane; 0 when welded
    bores: tuple[Bore, ...]
    half_angle: float | None = None
    outlet: float | None = None
    spike: bool = False


@dataclass(frozen=True)
class Straight:
    length: float


@dataclass(frozen=True)
class Bend:
    """An arc. `rotation` turns the bend plane about the incoming travel direction, right-hand positive."""

    angle: float
    radius: float
    rotation: float


Step = Straight | Bend


@dataclass(frozen=True)
class Primary:
    number: int
    port: Port
    bore: Bore
    steps: tuple[Step, ...]
    target: float | None = None
    locked: bool = False


@dataclass(frozen=True)
class MeshRef:
    """A mesh by name and content, never its arrays. `placement` is the frame of its own axes in the engine's."""

    path: str
    sha256: str
    units: Literal["mm", "cm", "m", "in"]
    placement: Frame
    extent: float | None = None  # its largest dimension as the user knows it, in millimetres


@dataclass(frozen=True)
class Box:
    frame: Frame  # origin at the middle
    size: Vec


@dataclass(frozen=True)
class Cylinder:
    """A solid cylinder with flat ends."""

    start: Vec
    end: Vec
    diameter: float


@dataclass(frozen=True)
class Plane:
    """A half space: everything behind the plane (against its normal) must not be touched."""

    origin: Vec
    normal: Vec


@dataclass(frozen=True)
class TubeRun:
    """A round tube or cable along points, with round ends and corners."""

    points: tuple[Vec, ...]
    diameter: float


Shape = MeshRef | Box | Cylinder | Plane | TubeRun


@dataclass(frozen=True)
class ChassisItem:
    name: str
    shape: Shape
    clearance: float
    role: Literal["obstacle", "enclosure", "surface"] = "obstacle"
    free_from_flange: float = 0.0


@dataclass(frozen=True)
class Limits:
    min_straight: float
    end_position: float
    end_angle: float
    between_tubes: float
    together: float  # length before the collector plane over which tubes of one collector may close up
    chord_error: float  # of the meshes that are written


@dataclass(frozen=True)
class LengthTarget:
    target: float | None
    tolerance: float


@dataclass(frozen=True)
class Draft:
    """A spec as read: every value in millimetres, radians and engine axes."""

    job: Job
    tube: Tube
    stock: Stock | None
    flange: Flange
    collectors: tuple[Collector, ...]
    length: LengthTarget
    primaries: tuple[Primary, ...]
    chassis: tuple[ChassisItem, ...]
    limits: Limits
    units: Literal["mm", "in"] = "mm"  # in which the shop reads lengths; every value here is in millimetres


@dataclass(frozen=True)
class Line:
    """A straight stretch of a centreline; `toward` is carried along so that the next bend knows its zero."""

    step: int
    start: Vec
    tangent: Vec
    toward: Vec
    length: float


@dataclass(frozen=True)
class Arc:
    """A bent stretch: from `start` along `tangent`, turning toward its centre at `start + radius * toward`."""

    step: int
    start: Vec
    tangent: Vec
    toward: Vec
    radius: float
    angle: float

    @property
    def length(self) -> float:
        return self.radius * self.angle


Segment = Line | Arc


@dataclass(frozen=True)
class Centreline:
    """The exact centreline of one tube: segments in travel order, each starting where the last one ends."""

    primary: int
    segments: tuple[Segment, ...]

    @property
    def length(self) -> float:
        return sum(segment.length for segment in self.segments)


@dataclass(frozen=True)
class Header:
    draft: Draft
    primaries: tuple[Primary, ...]
    centrelines: tuple[Centreline, ...]


@dataclass(frozen=True)
class Place:
    """A place along a primary: length from the flange face, and the step it falls in, counted from 1."""

    primary: int
    at: float
    step: int


@dataclass(frozen=True)
class Stretch:
    """Part of a tube, from and to a length from the flange, that is nearer than required."""

    start: float
    end: float
    smallest: float


@dataclass(frozen=True)
class Gap:
    """The smallest distance between a primary and an item or another primary; negative is a depth.

    `together`: between tubes, within the length where those of one collector close up; only crossing counts there.
    `on_boundary`: the smallest gap sits where a left-out stretch begins, so it may be smaller just beyond.
    `runs_through`: the centreline itself is inside the other body, or meets it.
    """

    place: Place
    other: Place | str
    required: float
    value: float
    points: tuple[Vec, Vec]
    near: tuple[Stretch, ...] = ()
    triangle: int | None = None
    together: bool = False
    on_boundary: bool = False
    runs_through: bool = False


@dataclass(frozen=True)
class SecondOpinion:
    """The same gap by another method, and how far apart chord errors let the two be."""

    primary: int
    other: int | str
    exact: float
    other_method: float
    allowed: float

    @property
    def agrees(self) -> bool:
        return abs(self.exact - self.other_method) <= self.allowed


@dataclass(frozen=True)
class End:
    """How a primary arrives: miss of its end from the bore, along and across the bore's axis, and its angle."""

    primary: int
    along: float  # positive: past the collector plane
    across: float
    angle: float
    point: Vec


@dataclass(frozen=True)
class OwnCrossing:
    """Two places of one tube, far apart along it, whose centreline is nearer than the tube is wide."""

    primary: int
    places: tuple[Place, Place]
    distance: float
    point: Vec


@dataclass(frozen=True)
class Survey:
    """Everything measured of a header, once; the rules only read it."""

    header: Header
    gaps: tuple[Gap, ...]
    second_opinions: tuple[SecondOpinion, ...]
    ends: tuple[End, ...]
    crossings: tuple[OwnCrossing, ...]
    lengths: tuple[float, ...]


@dataclass(frozen=True)
class Part:
    """A made solid: `volume` as the kernel measures it, `mesh_volume` as its written mesh encloses."""

    name: str
    role: str
    files: tuple[str, ...]
    volume: float
    mesh_volume: float
    closed: bool


@dataclass(frozen=True)
class Result:
    source: Source
    header: Header
    survey: Survey
    parts: tuple[Part, ...]
    findings: tuple[Any, ...]  # of Finding, which the nouns do not import
