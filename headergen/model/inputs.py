"""The inputs: the nouns of a spec as read, every value in millimetres, radians and engine axes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Literal

from headergen.model.built import RunAsBuilt
from headergen.model.chassis import ChassisItem
from headergen.model.fitted import Boss, Fitted, OutletBall, OutletBell, OutletRing, Plug, Tabs
from headergen.model.hand import HandSettings
from headergen.model.mock import MockSettings
from headergen.model.opening import Bolt, OutletPlate, PortShape
from headergen.model.path import Frame, Plane, Step, Straight, Vec
from headergen.model.shop import Bender, ShopSettings
from headergen.model.side import Side
from headergen.model.stock import Stock
from headergen.model.tube import Tube

AGAINST_EACH_OTHER = 0.1  # length of the mean of flange normals below which it has no meaning
OutletEnd = OutletRing | OutletBell | OutletBall | OutletPlate
RunEnd = Literal["", "plain", "into", "over", "plate", "side"]
Mark = tuple[int, int]  # line, column; both counted from 1
SpecPath = tuple[str | int, ...]  # ("primaries", "2", 3, "bend"): keys and list positions down to a value


@dataclass(frozen=True)
class Source:
    """The text a header came from: its file, the hash of its bytes, and the place of each value in it.

    `others` are the files besides meshes that it depends on, each with its hash: those that it names (stock, other
    specs), under these names, and those that they name in turn.
    """

    file: str
    sha256: str
    marks: dict[SpecPath, Mark]
    others: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Job:
    title: str
    revision: str
    date: str  # ISO 8601; the only date that reaches a file
    customer: str = ""
    notes: str = ""
    finish: str = ""  # one of FINISHES; empty if not chosen
    excluded: tuple[str, ...] = ()  # what the job does not include, as the customer is told
    signed: str = ""  # the hash on the sign-off sheet that the customer signed
    workshop: str = ""  # the maker


@dataclass(frozen=True)
class Port:
    number: int
    frame: Frame  # origin on the flange face, z along the port out of the head, x that of the flange
    shape: PortShape
    transition: float = 0.0  # length of the transition from the port's shape to the tube; 0: none
    flange: str = ""  # the name of its flange; empty if the only flange has no name
    tube: Tube | None = None  # the tube that stands on it, if it is not that of the header


@dataclass(frozen=True)
class Flange:
    frame: Frame  # z is the normal out of the head
    thickness: float
    bolts: tuple[Bolt, ...]
    ports: tuple[Port, ...]
    margin: float = 12.0  # of plate around ports and bolt holes
    seat: Literal["socket", "butt"] = "socket"  # tubes stand in the plate, or on it
    setback: float = 2.0  # from the gasket face to the tubes' ends, for the bead inside
    facing: float = 0.3  # of the thickness, removed by facing it flat after welding
    relief: float = 0.0  # width of the slots between neighbouring ports; 0: none
    tool: tuple[float, float] | None = None  # diameter and length of the socket for its bolts; None: by the hole
    name: str = ""  # empty for the only flange of a header, if it has no name

    @property
    def part(self) -> str:
        """Its name in files, findings and parts."""
        return flange_name(self.name)

    @property
    def finished(self) -> float:
        """Thickness after facing."""
        return self.thickness - self.facing

    @property
    def tube_start(self) -> float:
        """Length from the gasket face to the start of what is seated in the plate."""
        return self.setback if self.seat == "socket" else self.finished


@dataclass(frozen=True)
class Bore:
    collector: str
    number: int  # its place in the pattern, counted from 1
    run: str  # the name of the run that goes in
    frame: Frame  # origin on the collector plane, z the direction in which the tube arrives
    ends_run: bool = False  # it is the end of a run in a place of its own
    tube: Tube | None = None  # the tube that goes in, if the bores of its collector are of two sizes
    side: Side | None = None  # its run ends on the side of another, whose axis the frame is on

    @property
    def own(self) -> str:
        """Its name in a sentence about its run."""
        return "its place" if self.ends_run and self.side is None else self.called

    @property
    def called(self) -> str:
        """Its name in sentences."""
        if self.side is not None:
            return f"its joint on {self.side.run}"
        if self.ends_run:
            return f"the end of {self.run}"
        return f"bore {self.number} of collector {self.collector}"


@dataclass(frozen=True)
class Outlet:
    """The place where the gas leaves a collector, or another run by its side.

    In the second case `collector` is the name of the run that begins there, and the frame is on the other run's axis.
    """

    collector: str
    frame: Frame  # at the end of the outlet, z along the gas flow
    side: Side | None = None


@dataclass(frozen=True)
class Collector:
    """Where tubes join; with a `mouth`, the place where one run ends, and in what: it has one bore and no merge."""

    name: str
    frame: Frame  # the collector plane; z points downstream
    join: Literal["slip", "weld"]
    slip: float  # insertion depth: the mouth is this far upstream of the plane; 0 when welded
    bores: tuple[Bore, ...]
    half_angle: float | None = None
    outlet: float | None = None
    outlet_length: float = 0.0  # of the straight tube after the merge
    spike: bool = False
    wall: float | None = None  # of sleeves, merge and outlet; None: that of the primaries
    gap: float = 0.3  # clearance on each side between tube and sleeve
    end: OutletEnd | None = None  # the part on the end of its outlet
    arriving: Tube | None = None  # the tube in its bores, if it is not that of the primaries
    tabs: Tabs | None = None
    mouth: RunEnd = ""  # not empty: the place where a run ends
    lean: float = 0.0  # of two bores toward its axis, where their own axes meet
    outlet_to: float | None = None  # outside diameter at the end of a tapered outlet


@dataclass(frozen=True)
class Fit:
    """A value of a step that headergen may change so that the primary closes; the step itself holds the guess."""

    step: int  # counted from 1
    what: Literal["length", "angle", "rotation"]
    low: float
    high: float


@dataclass(frozen=True)
class NamedLine:
    """A straight line in the chassis that tubes may have to be parallel to: usually the axis of a frame member."""

    name: str
    start: Vec
    end: Vec
    diameter: float = 0.0


@dataclass(frozen=True)
class Parallel:
    """The straight of one step is parallel to a named line, within an angle."""

    step: int  # counted from 1
    line: str
    angle: float


@dataclass(frozen=True)
class Run:
    """A tube from somewhere to somewhere.

    A primary runs from a port to a bore, a secondary from the outlet of one collector to a bore of another. Either end
    of a run may be on the side of another one.
    """

    name: str  # "primary 2", "secondary left": its name in findings, files and parts
    tube: Tube  # at its start
    start: Port | Outlet
    end: Bore
    steps: tuple[Step, ...]
    fits: tuple[Fit, ...] = ()
    target: float | None = None
    locked: bool = False
    parallels: tuple[Parallel, ...] = ()
    joined: tuple[int, ...] = ()  # steps in one piece with the step before them
    to_find: bool = False  # `route` finds its path; its steps, if any, are a first guess
    grows: tuple[Straight, ...] = ()  # what a path to be found must have: straights in which it grows, in their order
    straight_over: tuple[tuple[float, float], ...] = ()  # lengths between which a path to be found is straight
    like: tuple[Step, ...] = ()  # the other bank's path, mirrored, which a path to be found should resemble
    written: Literal["path", "points", "mirrored"] = "path"  # how the spec gives its path

    @property
    def is_primary(self) -> bool:
        return isinstance(self.start, Port)

    @property
    def role(self) -> Literal["primary", "secondary"]:
        return "primary" if self.is_primary else "secondary"

    @property
    def port(self) -> Port:
        """The port where a primary starts. Raises TypeError for a run that starts elsewhere."""
        if not isinstance(self.start, Port):
            raise TypeError(f"{self.name} starts from no port")
        return self.start

    @property
    def number(self) -> int:
        """A primary's number, which is its port's. Raises TypeError as `port` does."""
        return self.port.number

    @property
    def key(self) -> int | str:
        """What the spec calls it: the number of its port, or the collector that it comes from."""
        return self.number if self.is_primary else self.source

    @property
    def tubes(self) -> tuple[Tube, ...]:
        """Its tubes from start to end: one, and one more for each place where it grows."""
        steps = self.grows if self.to_find else self.steps
        grown = (step.growth for step in steps if isinstance(step, Straight) and step.growth is not None)
        return (self.tube, *(Tube(each.outside_diameter, each.wall, self.tube.material) for each in grown))

    @property
    def mark(self) -> str:
        """Its short name: P3, or S and the collector that it comes from."""
        return f"P{self.number}" if self.is_primary else f"S {self.source}"

    @property
    def sides(self) -> tuple[tuple[Side, Frame], ...]:
        """Where its start and its end are on the side of another run, each with the frame there."""
        start = (self.start.side, self.start.frame) if isinstance(self.start, Outlet) else (None, self.start.frame)
        ends = start, (self.end.side, self.end.frame)
        return tuple((side, frame) for side, frame in ends if side is not None)

    @property
    def source(self) -> str:
        """The collector a run comes from; empty for a primary. One that leaves another run's side has its own name."""
        return self.start.collector if isinstance(self.start, Outlet) else ""


def primary_name(number: int) -> str:
    return f"primary {number}"


def secondary_name(collector: str) -> str:
    """The name of the run from a collector's outlet."""
    return f"secondary {collector}"


def flange_name(name: str) -> str:
    """The name, in files, findings and parts, of the flange with this name, which may be empty."""
    return f"flange {name}" if name else "flange"


@dataclass(frozen=True)
class Limits:
    min_straight: float
    end_position: float
    end_angle: float
    between_tubes: float
    together: float  # length before the collector plane over which tubes of one collector may converge
    chord_error: float  # of written meshes
    port_straight: float = 0.0  # least straight at the flange
    collector_straight: float = 0.0  # least straight before the collector plane
    forming: float = 0.10  # share by which a tube may be stretched or shrunk to a port's shape
    bend_may_meet_bend: bool = True  # false if the shop bends its own tube and the die needs a grip
    nine_in_ten: float | None = None  # gap that nine of ten builds must keep; None: not judged
    min_straight_given: bool = False  # 0 is then meant; else found paths keep what joints need


@dataclass(frozen=True)
class LengthTarget:
    target: float | None
    tolerance: float


@dataclass(frozen=True)
class CostWeights:
    """Cost weights of paths to be found: the lowest total wins. A degree of bend costs 1.

    `Routing.tidy` makes those from `crossing` to `family` count more or less.
    """

    bend: float = 36.0  # each bend
    weld: float = 6.0  # each joint between pieces of stock
    cut: float = 6.0  # each bend cut from a larger one, where there is a stock list: as much as a joint
    radius: float = 4.0  # each change of radius within a tube
    close_turn: float = 25.0  # each bend back within one diameter of the bend before
    last_straight: float = 8.0  # a last straight that is one diameter short of two; other lengths in proportion
    side_by_side: float = 10.0  # subtracted for a tube that runs its whole length beside a neighbour
    along_lines: float = 15.0  # subtracted for a tube that runs its whole length along named lines
    other_bank: float = 10.0  # each diameter of a path's mean distance from the other bank's mirrored path
    crossing: float = 45.0  # two tubes that cross in a view along an axis or into the ports
    doubling_back: float = 25.0  # each diameter that a tube runs back toward its port
    parting: float = 1.5  # each degree by which two neighbours run in different directions, on average along them
    sprawl: float = 90.0  # each diameter by which the header is wider than its ports and bores
    arching: float = 60.0  # each diameter by which a tube rises over its ports, on the side away from the bores
    stray: float = 10.0  # each straight parallel neither to one of a neighbour nor to an axis
    family: float = 20.0  # each tube unlike its image, where ports and bores are the same up to a shift or a mirror
    blocked: float = 40.0  # each socket, plug or sensor that has no room
    lacking: float = 300.0  # each bend that cannot be cut from those on hand, where no more are bought
    moved: float = 1.0  # each 10 mm that a collector is moved, and each degree that it is tilted
    shorter: float = 2.0  # each millimetre of common length, where the shortest is wanted


@dataclass(frozen=True)
class Move:
    """How far a collector may be moved from its place.

    Its origin moves along the engine's axes, its normal tilts in any direction, and its plane turns about the normal;
    angles in radians.
    """

    collector: str
    low: Vec
    high: Vec
    lean: float = 0.0
    turn: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Routing:
    """The limits of paths to be found. Without radii, those in stock are used; angles in radians."""

    bores: Literal["given", "free", "firing order"] = "given"
    firing_order: tuple[int, ...] = ()
    radii: tuple[float, ...] = ()
    flattest: float = math.radians(10)
    sharpest: float = math.radians(150)
    bends_given: bool = False  # their range is then judged on all paths, not only kept by those that are found
    most_bends: int = 4
    length: tuple[float, float] | None = None
    shortest: bool = False
    shelf: Literal["where it pays", "only"] = "where it pays"  # whole bends of the stock list
    tidy: float = 0.5  # 0 to 1: how much the look of the whole counts beside bends and degrees
    cost_weights: CostWeights = CostWeights()
    moves: tuple[Move, ...] = ()


@dataclass(frozen=True)
class Draft:
    """A spec as read: every value in millimetres, radians and engine axes."""

    job: Job
    tube: Tube
    stock: Stock | None
    flanges: tuple[Flange, ...]
    collectors: tuple[Collector, ...]
    length: LengthTarget
    runs: tuple[Run, ...]  # the primaries in order of their ports, then the runs from collectors
    chassis: tuple[ChassisItem, ...]
    limits: Limits
    lines: tuple[NamedLine, ...] = ()
    bosses: tuple[Boss, ...] = ()
    plugs: tuple[Plug, ...] = ()
    fitted: tuple[Fitted, ...] = ()
    up: Vec = (0.0, 0.0, 1.0)  # as the engine is installed
    mock: MockSettings | None = None  # None if the spec does not ask for a mock
    routing: Routing = Routing()
    shop: ShopSettings = field(default_factory=ShopSettings)
    hand: HandSettings = field(default_factory=HandSettings)
    bender: Bender | None = None  # if the shop bends its own tube
    as_built: tuple[RunAsBuilt, ...] = ()  # runs that are half built
    letter: str = ""  # A or B, its bank if the engine has two
    between_banks: Plane | None = None  # the mirror plane, if it is the other bank of a header
    units: Literal["mm", "in"] = "mm"  # the shop's unit of length; every value here is in millimetres

    @property
    def ports(self) -> tuple[Port, ...]:
        """The ports of all flanges, by their numbers."""
        ports = (port for flange in self.flanges for port in flange.ports)
        return tuple(sorted(ports, key=lambda port: port.number))

    def flange_of(self, port: Port) -> Flange:
        """The flange of a port. Raises StopIteration if the draft has no flange of that name."""
        return next(flange for flange in self.flanges if flange.name == port.flange)

    def tube_at(self, port: Port) -> Tube:
        """The tube that stands on a port: its own, or that of the header."""
        return port.tube or self.tube

    def mock_mark(self, run: Run) -> str:
        """What the names of its parts in the fit mock begin with: P2 of primary 2, R1 of the run from collector 1."""
        if run.is_primary:
            return f"P{run.number}"
        return f"R{1 + [collector.name for collector in self.collectors].index(run.source)}"

    @property
    def outward(self) -> Vec:
        """Out of the heads: the mean of the flanges' normals; if they oppose each other, the first flange's normal."""
        x, y, z = (sum(flange.frame.z[k] for flange in self.flanges) for k in range(3))
        size = math.sqrt(x * x + y * y + z * z)
        if len(self.flanges) == 1 or size < AGAINST_EACH_OTHER * len(self.flanges):
            return self.flanges[0].frame.z
        return (x / size, y / size, z / size)

    @property
    def primaries(self) -> tuple[Run, ...]:
        return tuple(run for run in self.runs if run.is_primary)

    def with_primaries(self, primaries: Iterable[Run]) -> Draft:
        """The same draft with other primaries."""
        return replace(self, runs=(*primaries, *(run for run in self.runs if not run.is_primary)))
