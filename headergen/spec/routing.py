"""The rules for paths to be found, as given in a spec, and the cost weights."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from headergen.model import CostWeights, Move, Routing, Vec
from headergen.spec.alike import noun_of
from headergen.spec.complaint import Trouble
from headergen.spec.entry import Entry
from headergen.spec.fields import BendAngle, Coordinate, Counted, Lean, Name, Radius, Step, Turn, complain

DEFAULTS = CostWeights()


def _weight(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= 1000:
        raise complain("a number of degrees from 0 to 1000 is required here")
    return float(value)


def _bends(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 2 <= value <= 5:
        raise complain("a whole number of bends from 2 to 5 is required here")
    return value


def _tidy(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= 1:
        raise complain("a number from 0 (fewest bends) to 1 (tidiest) is required here")
    return float(value)


def _length(value: object, info: ValidationInfo) -> object:
    return {"shortest": True} if value == "shortest" else value


Weight = Annotated[float, BeforeValidator(_weight), WithJsonSchema({"type": "number", "minimum": 0, "maximum": 1000})]
Tidy = Annotated[float, BeforeValidator(_tidy), WithJsonSchema({"type": "number", "minimum": 0, "maximum": 1})]
Bends = Annotated[int, BeforeValidator(_bends), WithJsonSchema({"type": "integer", "minimum": 2, "maximum": 5})]


class CostWeightsEntry(Entry):
    """Penalties of a path beside its degrees of bend; the lowest total wins. Each may be left out."""

    bend: Weight = Field(default=DEFAULTS.bend, description="Penalty for each bend, in degrees of bend. Default: 36.")
    weld: Weight = Field(
        default=DEFAULTS.weld, description="Penalty for each joint between pieces of stock. Default: 6."
    )
    radius: Weight = Field(
        default=DEFAULTS.radius, description="Penalty for each change of radius within a tube. Default: 4."
    )
    close_turn: Weight = Field(
        default=DEFAULTS.close_turn,
        description="Penalty for each bend back within a diameter of the one before it. Default: 25.",
    )
    last_straight: Weight = Field(
        default=DEFAULTS.last_straight,
        description="Penalty for each diameter that the last straight is short of two. Default: 8.",
    )
    side_by_side: Weight = Field(
        default=DEFAULTS.side_by_side,
        description="Reward for running beside a neighbour, taken off the total. Default: 10.",
    )
    along_lines: Weight = Field(
        default=DEFAULTS.along_lines,
        description="Reward for running along named lines, taken off the total. Default: 15.",
    )
    other_bank: Weight = Field(
        default=DEFAULTS.other_bank,
        description=("Penalty for each diameter from the mirrored path, where this spec mirrors another. Default: 10."),
    )
    cut: Weight = Field(
        default=DEFAULTS.cut, description="Penalty for each bend cut from a larger one in stock. Default: 6."
    )
    crossing: Weight = Field(
        default=DEFAULTS.crossing,
        description="Penalty for two tubes that cross in a view along an axis or into the ports. Default: 45.",
    )
    doubling_back: Weight = Field(
        default=DEFAULTS.doubling_back,
        description="Penalty for each diameter that a tube runs back toward its port. Default: 25.",
    )
    parting: Weight = Field(
        default=DEFAULTS.parting,
        description="Penalty for each degree by which two neighbours run in different directions. Default: 1.5.",
    )
    sprawl: Weight = Field(
        default=DEFAULTS.sprawl,
        description="Penalty for each diameter by which the header is wider than its ports and bores. Default: 90.",
    )
    arching: Weight = Field(
        default=DEFAULTS.arching,
        description="Penalty for each diameter by which a tube rises over the ports, away from the bores. Default: 60.",
    )
    stray: Weight = Field(
        default=DEFAULTS.stray,
        description="Penalty for each straight parallel neither to a neighbour's nor to an axis. Default: 10.",
    )
    family: Weight = Field(
        default=DEFAULTS.family,
        description=(
            "Penalty for each tube unlike the one that its port and bore are a shift or mirror image of. Default: 20."
        ),
    )
    blocked: Weight = Field(
        default=DEFAULTS.blocked, description="Penalty for each socket, plug or sensor without room. Default: 40."
    )
    lacking: Weight = Field(
        default=DEFAULTS.lacking,
        description=(
            "Penalty for each bend that cannot be cut from those on hand, where no more are bought. Default: 300."
        ),
    )
    moved: Weight = Field(
        default=DEFAULTS.moved,
        description=("Penalty for each 10 mm that a collector is moved, and each degree that it leans. Default: 1."),
    )
    shorter: Weight = Field(
        default=DEFAULTS.shorter,
        description="Penalty for each mm of length, where the shortest is required. Default: 2.",
    )


class BendRangeEntry(Entry):
    """Degrees that a bend may have."""

    min: BendAngle = Field(default=10.0, description="Flattest bend, in degrees. Default: 10.")
    max: BendAngle = Field(
        default=150.0, description="Sharpest bend, in degrees; what is on the shelf limits it too. Default: 150."
    )

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.min >= self.max:
            raise complain("min is not less than max", at=("min",))
        return self


class LengthRangeEntry(Entry):
    """A range for the common length, or shortest."""

    min: Step | None = Field(default=None, description="Least length that all primaries may share.")
    max: Step | None = Field(default=None, description="Greatest length that all primaries may share.")
    shortest: Literal[True] | None = Field(
        default=None, description="Whether the length is to be as short as all primaries can be: write true."
    )

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if self.shortest:
            if self.min is not None or self.max is not None:
                raise complain("shortest has no range", "keep one of them", at=("shortest",))
        elif self.min is None or self.max is None:
            raise complain("a range needs min and max", "or write length: shortest")
        elif self.min > self.max:
            raise complain("min is more than max", at=("min",))
        return self


class ShiftEntry(Entry):
    """From where to where, counted from where the collector stands."""

    min: Coordinate = Field(description="How far back it may move along this axis, mostly negative.")
    max: Coordinate = Field(description="How far on it may move along this axis.")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.min >= self.max:
            raise complain("min is not less than max", at=("min",))
        return self


class TurnRangeEntry(Entry):
    """Degrees from where the pattern of bores stands."""

    min: Turn = Field(description="Farthest turn back, in degrees, mostly negative.")
    max: Turn = Field(description="Farthest turn on, in degrees, from x toward y.")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.min >= self.max:
            raise complain("min is not less than max", at=("min",))
        return self


class MoveEntry(Entry):
    """How far `headergen route` may set a collector from where it stands."""

    x: ShiftEntry | None = Field(
        default=None, description="How far it may move along the engine's x, forward. Default: not at all."
    )
    y: ShiftEntry | None = Field(
        default=None, description="How far it may move along the engine's y, to the left. Default: not at all."
    )
    z: ShiftEntry | None = Field(
        default=None, description="How far it may move along the engine's z, up. Default: not at all."
    )
    lean: Lean = Field(default=0.0, description="Degrees by which its normal may lean, any way. Default: 0.")
    turn: TurnRangeEntry | None = Field(
        default=None, description="Degrees that it may turn about its normal. Default: not at all."
    )

    @model_validator(mode="after")
    def _moves(self) -> Self:
        if not any((self.x, self.y, self.z, self.lean, self.turn)):
            raise complain("nothing may move here", "give it x, y, z, lean or turn, or leave it out")
        return self


RANGE_SCHEMA: dict[str, Any] = {"anyOf": [{"const": "shortest"}, {"type": "object"}]}


class RouteEntry(Entry):
    """What `headergen route` may use for the primaries marked find; each may be left out."""

    bores: Literal["given", "free", "firing order"] = Field(
        default="given",
        description=(
            "Which primary goes into which bore: as the collectors list it, free, or so that the pulses go "
            "round the collector in firing order. Default: given."
        ),
    )
    firing_order: list[Counted] = Field(
        default=[], description="Numbers of the primaries in firing order: [1, 3, 4, 2]."
    )
    radii: list[Radius] = Field(default=[], description="Centre-line radii that may be used. Default: those in stock.")
    bends: BendRangeEntry = Field(
        default=BendRangeEntry(),
        description=(
            "Range of degrees that a bend may have. Default: found paths keep 10 to 150; a range that is given is "
            "judged on all paths."
        ),
    )
    most_bends: Bends = Field(default=4, description="Largest number of bends in a tube, 2 to 5. Default: 4.")
    length: Annotated[LengthRangeEntry | None, BeforeValidator(_length), WithJsonSchema(RANGE_SCHEMA)] = Field(
        default=None,
        description=("The length that all shall have, where length has no target: {min: 650, max: 720}, or shortest."),
    )
    move: dict[Name, MoveEntry] = Field(default={}, description="Collectors that may be set elsewhere, by name.")
    shelf: Literal["where it pays", "only"] = Field(
        default="where it pays",
        description=(
            "Whole bends of the stock list, which need no arc cut: used where that pays, or only those if it can be."
        ),
    )
    tidy: Tidy = Field(
        default=0.5,
        description=(
            "How much the look of the whole counts against fewest bends, 0 to 1: crossings, doubling back, neighbours "
            "that part, sprawl, arching, stray straights, broken families. Default: 0.5."
        ),
    )
    cost_weights: CostWeightsEntry = Field(
        default=CostWeightsEntry(), description="Penalties of paths to be found; the lowest total wins."
    )

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if "radii" in self.model_fields_set and not self.radii:
            raise complain(
                "radii is empty", "write radii: [63.5], or leave it out for the radii in stock", at=("radii",)
            )
        if self.bores == "firing order" and not self.firing_order:
            raise complain("the firing order is missing", "add firing_order: [1, 3, 4, 2]", at=("bores",))
        if len(set(self.firing_order)) != len(self.firing_order):
            raise complain("a primary fires twice in this order", at=("firing_order",))
        return self


def routing_of(entry: RouteEntry) -> Routing:
    """The routing in millimetres and radians."""
    chosen = entry.length
    return noun_of(
        Routing,
        entry,
        radii=tuple(sorted(set(entry.radii))),
        bends_given="bends" in entry.model_fields_set,
        flattest=math.radians(entry.bends.min),
        sharpest=math.radians(entry.bends.max),
        length=(chosen.min, chosen.max) if chosen is not None and chosen.min and chosen.max else None,
        shortest=chosen is not None and bool(chosen.shortest),
        cost_weights=noun_of(CostWeights, entry.cost_weights),
        moves=tuple(_move(name, each) for name, each in entry.move.items()),
    )


def _move(name: str, entry: MoveEntry) -> Move:
    x, y, z = ((0.0, 0.0) if each is None else (each.min, each.max) for each in (entry.x, entry.y, entry.z))
    low, high = (0.0, 0.0) if entry.turn is None else (entry.turn.min, entry.turn.max)
    least: Vec = (x[0], y[0], z[0])
    turn = (math.radians(low), math.radians(high))
    return Move(name, least, (x[1], y[1], z[1]), math.radians(entry.lean), turn)


def move_troubles(data: dict[str, Any]) -> Iterator[Trouble]:
    """A collector that may move must exist, take only primaries to be found, and lead to no other collector."""
    collectors, primaries, route = (data.get(key) for key in ("collectors", "primaries", "route"))
    moves = route.get("move") if isinstance(route, dict) else None
    if not (isinstance(collectors, dict) and isinstance(primaries, dict) and isinstance(moves, dict)):
        return
    known = {str(name).strip(): entry for name, entry in collectors.items() if isinstance(entry, dict)}
    into = {name: entry.get("bores") for name, entry in known.items()}
    staying = [str(number) for number, entry in primaries.items() if not _is_to_find(entry)]
    for key in moves:
        name, path = str(key).strip(), ("route", "move", key)
        bores = into.get(name)
        if name not in known:
            yield Trouble(path, f"no collector is called {key}", f"there is {', '.join(known)}")
        elif any(isinstance(each, list) and name in map(str, each) for each in into.values()):
            yield Trouble(path, f"the outlet of {key} leads to another collector, so it cannot move by itself")
        elif isinstance(bores, list) and len(staying) < len(primaries):  # something is to be found
            held = [str(each) for each in bores if not isinstance(each, int) or str(each) in staying]
            if held:
                message = f"{held[0]} ends in {key} with a path of its own, so {key} cannot move"
                yield Trouble(path, message, "write find in place of that path")


def shelf_troubles(data: dict[str, Any]) -> Iterator[Trouble]:
    """Only what is on the shelf can be used only if there is a stock list."""
    route = data.get("route")
    if isinstance(route, dict) and route.get("shelf") == "only" and not {"stock", "mirror_of"} & data.keys():
        yield Trouble(("route", "shelf"), "there is no stock list", "name its file under stock:, or leave shelf out")


def _is_to_find(entry: object) -> bool:
    return entry == "find" or (isinstance(entry, dict) and entry.get("find") is True)
