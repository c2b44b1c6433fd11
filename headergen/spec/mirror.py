"""The other bank: a header mirrored, moved along the crank, and right-handed again.

A reflected frame is left-handed. With z and x reflected and y = z × x it is right-handed again, and a point at (u, v)
is then at (u, −v). So rotations and tilts change sign, and nothing else in a path changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from headergen.geometry.frames import add, cross, determinant, dot, scaled, subtract
from headergen.model import (
    Bend,
    Bolt,
    Bore,
    Box,
    ChassisItem,
    Collector,
    Cylinder,
    Draft,
    Fit,
    Flange,
    Frame,
    MockSettings,
    Outlet,
    OutletPlate,
    OutletRing,
    Plane,
    Port,
    PortShape,
    Run,
    Shape,
    Side,
    Step,
    Straight,
    TubeRun,
    Vec,
)
from headergen.spec.fitted import Mirrored, changed_nouns
from headergen.spec.models import FITTED
from headergen.words.numbers import with_unit

SQUARE = 1e-6  # cosine between a collector's axis and the crank below which it cannot be brought abreast


class BankError(ValueError):
    """A bank that cannot be made in the given way; the message names the primary or collector, and why.

    `item` is the name of the chassis item at fault, if there is one.
    """

    def __init__(self, message: str, item: str = "") -> None:
        super().__init__(message)
        self.item = item


@dataclass(frozen=True)
class Bank:
    """How one bank follows from the other: `crank` and `normal` are unit directions, the crank in the mirror plane."""

    offset: float
    way: Literal["staggered", "longer", "abreast"]
    crank: Vec
    origin: Vec
    normal: Vec


def mirrored_draft(draft: Draft, bank: Bank) -> Draft:
    """The draft of the other bank, without chassis. Raises BankError if it cannot be made in the given way.

    staggered: all of it moved by the offset. longer: collectors abreast of the first bank's; the primaries of each are
    stretched along its axis. abreast: collectors exactly mirrored; values marked fit are found again.
    """
    stretches = {collector.name: _stretch(collector, bank) for collector in draft.collectors}
    moves = {name: _collector_move(name, bank, draft, stretch) for name, stretch in stretches.items()}
    along = scaled(bank.crank, bank.offset)
    collectors = tuple(_collector(collector, bank, moves[collector.name]) for collector in draft.collectors)
    bores = {bore.run: bore for collector in collectors for bore in collector.bores}
    ports = {port.number: port for port in (_port(port, bank, along) for port in draft.ports)}
    runs = [_run(run, (_start(run, ports, bank, moves), bores[run.name]), bank) for run in draft.runs]
    primaries = [
        _stretched(r, stretches[r.end.collector], draft.length.target, draft.units) for r in runs if r.is_primary
    ]
    runs = [*primaries, *(run for run in runs if not run.is_primary)]
    mirrored = replace(
        draft,
        flanges=tuple(_flange(flange, ports, bank, along) for flange in draft.flanges),
        collectors=collectors,
        runs=tuple(runs),
        chassis=(),
        as_built=(),  # measured on the tubes of the first bank
        between_banks=Plane(bank.origin, bank.normal),
        mock=None if draft.mock is None else _mock(draft.mock, bank, along),
    )
    ways = Mirrored(lambda place: _point(place, bank, along), lambda way: _direction(way, bank))
    return changed_nouns(mirrored, FITTED, lambda listed, noun: listed.mirrored(noun, ways))


def _stretch(collector: Collector, bank: Bank) -> float:
    """How much the primaries of a collector must grow along its axis to bring it abreast again: −o/cos β."""
    if bank.way != "longer":
        return 0.0
    axis = _direction(collector.frame.z, bank)
    cosine = dot(axis, bank.crank)
    if abs(cosine) < SQUARE:
        raise BankError(f"collector {collector.name} runs square to the crank: no length brings it abreast")
    return -bank.offset / cosine


def _collector_move(name: str, bank: Bank, draft: Draft, stretch: float) -> Vec:
    if bank.way == "abreast":
        return (0.0, 0.0, 0.0)
    collector = next(each for each in draft.collectors if each.name == name)
    return add(scaled(bank.crank, bank.offset), _direction(collector.frame.z, bank), stretch)


def _start(run: Run, ports: Mapping[int, Port], bank: Bank, moves: Mapping[str, Vec]) -> Port | Outlet:
    """The start of the mirrored run; an outlet moves with its collector."""
    if isinstance(run.start, Outlet):
        frame = _frame(run.start.frame, bank, moves[run.source])
        return replace(run.start, frame=frame, side=_side(run.start.side, bank))
    return ports[run.number]


def _side(side: Side | None, bank: Bank) -> Side | None:
    """The length along the run that carries it stays."""
    return None if side is None else replace(side, along=_direction(side.along, bank))


def _run(run: Run, ends: tuple[Port | Outlet, Bore], bank: Bank) -> Run:
    """If the ends of a run between collectors move apart, only values marked fit can close it again."""
    if bank.way == "abreast" and run.is_primary and not run.fits:
        raise BankError(f"{run.name} has no value marked to fit, so it cannot be found again")
    steps, fits = tuple(_step(step) for step in run.steps), tuple(_fit(fit) for fit in run.fits)
    return replace(run, start=ends[0], end=ends[1], steps=steps, fits=fits, written="mirrored")


def _step(step: Step) -> Step:
    return replace(step, rotation=-step.rotation) if isinstance(step, Bend) else step


def _fit(fit: Fit) -> Fit:
    return replace(fit, low=-fit.high, high=-fit.low) if fit.what == "rotation" else fit


def _stretched(primary: Run, stretch: float, target: float | None, units: str) -> Run:
    """The primary with its last straight and its target length longer by `stretch`."""
    if stretch == 0.0 or primary.end.side is not None:
        return primary
    last = primary.steps[-1]
    if not isinstance(last, Straight) or last.length + stretch <= 0:
        raise BankError(f"{primary.name} has no last straight that can become {with_unit(-stretch, units)} shorter")
    before = primary.target if primary.target is not None else target
    return replace(
        primary,
        steps=(*primary.steps[:-1], Straight(last.length + stretch)),
        target=None if before is None else before + stretch,
    )


def _flange(flange: Flange, ports: Mapping[int, Port], bank: Bank, move: Vec) -> Flange:
    return replace(
        flange,
        frame=_frame(flange.frame, bank, move),
        bolts=_bolts(flange.bolts),
        ports=tuple(ports[port.number] for port in flange.ports),
    )


def _plate(plate: OutletPlate) -> OutletPlate:
    """The plate with y reversed; one with a D is turned round as a whole, so that its flat stays below."""
    if plate.shape.kind == "d":
        bolts = tuple(replace(bolt, at=(-bolt.at[0], bolt.at[1])) for bolt in plate.bolts)
        return replace(plate, turn=math.remainder(math.pi - plate.turn, 2 * math.pi), bolts=bolts)
    return replace(plate, turn=-plate.turn, bolts=_bolts(plate.bolts), shape=_port_shape(plate.shape))


def _bolts(bolts: tuple[Bolt, ...]) -> tuple[Bolt, ...]:
    return tuple(replace(bolt, at=(bolt.at[0], -bolt.at[1])) for bolt in bolts)


def _port(port: Port, bank: Bank, move: Vec) -> Port:
    return replace(port, frame=_frame(port.frame, bank, move), shape=_port_shape(port.shape))


def _port_shape(shape: PortShape) -> PortShape:
    """The opening with y reversed: a D then has its flat on top, so it is turned round."""
    turn = -shape.turn + (math.pi if shape.kind == "d" else 0.0)
    points = tuple((x, -y) for x, y in shape.points)
    return replace(shape, points=points, turn=math.remainder(turn, 2 * math.pi))


def _collector(collector: Collector, bank: Bank, move: Vec) -> Collector:
    bores = tuple(
        replace(bore, frame=_frame(bore.frame, bank, move), side=_side(bore.side, bank)) for bore in collector.bores
    )
    end = collector.end
    if isinstance(end, OutletRing):
        end = replace(end, turn=-end.turn)
    if isinstance(end, OutletPlate):
        end = _plate(end)
    tabs = None if collector.tabs is None else replace(collector.tabs, turn=-collector.tabs.turn)
    return replace(collector, frame=_frame(collector.frame, bank, move), bores=bores, end=end, tabs=tabs)


def _frame(frame: Frame, bank: Bank, move: Vec) -> Frame:
    x, z = _direction(frame.x, bank), _direction(frame.z, bank)
    made = Frame(_point(frame.origin, bank, move), x, cross(z, x), z)
    assert abs(determinant(made) - 1) < 1e-9, "a mirrored frame"
    return made


def _mock(mock: MockSettings, bank: Bank, along: Vec) -> MockSettings:
    """The table stays below its header; reference points belong to the chassis, and move with it."""
    table = mock.table
    if table is not None:
        table = Plane(_point(table.origin, bank, along), _direction(table.normal, bank))
    return replace(mock, table=table, datums=())


def _direction(v: Vec, bank: Bank) -> Vec:
    return add(v, bank.normal, -2 * dot(v, bank.normal))


def _point(point: Vec, bank: Bank, move: Vec) -> Vec:
    return add(add(bank.origin, _direction(subtract(point, bank.origin), bank)), move)


def borrowed_items(items: Iterable[ChassisItem], bank: Bank, keep: Mapping[str, bool]) -> tuple[ChassisItem, ...]:
    """Chassis items of the first bank for the other one: kept in place (True), or mirrored and moved with it (False).

    Raises BankError for a mesh or another header, which cannot be mirrored here.
    """
    by_name = {item.name: item for item in items}
    return tuple(
        by_name[name] if in_place else replace(by_name[name], shape=_shape(by_name[name], bank))
        for name, in_place in keep.items()
    )


def _shape(item: ChassisItem, bank: Bank) -> Shape:
    shape, move = item.shape, scaled(bank.crank, bank.offset)
    if isinstance(shape, Box):
        return Box(_frame(shape.frame, bank, move), shape.size)
    if isinstance(shape, Cylinder):
        return Cylinder(_point(shape.start, bank, move), _point(shape.end, bank, move), shape.diameter)
    if isinstance(shape, Plane):
        return Plane(_point(shape.origin, bank, move), _direction(shape.normal, bank))
    if isinstance(shape, TubeRun):
        return TubeRun(tuple(_point(point, bank, move) for point in shape.points), shape.diameter)
    raise BankError(f"{item.name} is a mesh or another header, and those are not mirrored here", item.name)
