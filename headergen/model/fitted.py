"""Parts fitted to tubes and collectors (outlet ends, tabs, bosses, brackets), and plugs that a tool must reach."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.path import Vec


@dataclass(frozen=True)
class OutletRing:
    """A ring round the end of an outlet; `taper` is the slope of its back for a clamp; `bolts` is 0 without bolts."""

    outside_diameter: float
    thickness: float
    taper: float = 0.0
    bolts: int = 0
    bolt_circle: float = 0.0
    hole: float = 0.0
    turn: float = 0.0  # of the first bolt, from x of the collector plane toward y


@dataclass(frozen=True)
class OutletBell:
    """The end of an outlet, widened to slide over the next tube."""

    inside_diameter: float
    length: float


@dataclass(frozen=True)
class OutletBall:
    """A ball flange: a ring round the end of an outlet whose outside is a zone of a ball, for a loose flange to hold.

    The centre of the ball is on the outlet's axis, `length` before its end, where the ring is widest and ends.
    """

    diameter: float
    length: float


@dataclass(frozen=True)
class Tabs:
    """A pair of tabs on each slip joint, for the spring that holds it: one on the sleeve, one on the tube in it.

    Each is on edge along its tube, on the side away from the collector's axis, turned from there by `turn` about the
    gas flow. `apart`: from hole to hole; `length`: of the foot; `height`: of the holes' centres above the sleeve's
    skin.
    """

    apart: float
    length: float = 14.0
    height: float = 8.0
    thickness: float = 3.0
    hole: float = 5.0
    turn: float = 0.0


@dataclass(frozen=True)
class Boss:
    """A round boss on a tube, square to it, with a hole through the wall: for a sensor or anything else.

    `at` counts from the flange face along a primary, from the start of a collector's outlet tube, or from the start of
    a secondary. `clock` is its angle from up (from forward, if the tube itself is vertical), right-handed about the gas
    flow.
    """

    name: str
    host: str  # the run's name or, `on_outlet`, the collector's
    at: float
    clock: float
    outside_diameter: float
    height: float  # above the tube's skin
    hole: float
    sensor: bool
    thread: str = ""  # that is tapped into its hole
    on_outlet: bool = False

    @property
    def part(self) -> str:
        """Its name among the parts, with its thread."""
        return f"boss {self.name} {self.thread}".rstrip()


@dataclass(frozen=True)
class Plug:
    """A spark plug, or anything else a tool must reach: its seat, and the direction in which the tool comes off."""

    name: str
    seat: Vec
    axis: Vec
    diameter: float
    length: float


@dataclass(frozen=True)
class BracketFoot:
    """A place on a run: its length from the start or, if `from_end`, back from the end."""

    run: str
    at: float
    from_end: bool = False


@dataclass(frozen=True)
class Bracket:
    """A gusset plate between two runs, welded to both, in the plane between their centrelines at its feet.

    `length`: along the tubes; `hole`: the diameter of one in its middle, 0 for none.
    """

    name: str
    feet: tuple[BracketFoot, BracketFoot]
    thickness: float
    length: float
    hole: float = 0.0

    @property
    def part(self) -> str:
        """Its name among the parts."""
        return f"bracket {self.name}"

    @property
    def hosts(self) -> tuple[str, ...]:
        """The names of the runs that it is welded to."""
        return tuple(foot.run for foot in self.feet)


Fitted = Bracket  # becomes a union when there is another such part: those on runs, besides bosses
