"""From what a spec says to a Draft: millimetres, radians, right-handed frames in engine axes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from headergen.geometry.centreline import steps_from_points
from headergen.geometry.frames import WORLD, determinant, frame_from_normal, point_in, tilted
from headergen.model import (
    Bend,
    Bolt,
    Bore,
    Box,
    ChassisItem,
    Collector,
    Cylinder,
    Draft,
    Flange,
    Frame,
    Job,
    LengthTarget,
    Limits,
    MeshRef,
    Plane,
    Port,
    PortShape,
    Primary,
    Shape,
    Step,
    Stock,
    StockBend,
    StockStraight,
    Straight,
    Tube,
    TubeRun,
)
from headergen.spec.bores import bore_places
from headergen.spec.chassis import BoxEntry, ChassisEntry, PlacementEntry
from headergen.spec.ends import CollectorEntry, FlangeEntry, PortEntry, ShapeEntry
from headergen.spec.entry import PlaneEntry
from headergen.spec.models import LimitsEntry, PrimaryEntry, SpecFile, StepEntry, StockFile, TubeEntry


def draft_from(spec: SpecFile, stock: Stock | None, mesh_hashes: Mapping[str, str]) -> Draft:
    """The draft of a spec in which everything agrees; `mesh_hashes` by mesh path as written in the spec."""
    flange = _flange(spec.flange)
    collectors = tuple(_collector(name, entry, spec.tube) for name, entry in spec.collectors.items())
    ports = {port.number: port for port in flange.ports}
    bores = {bore.primary: bore for collector in collectors for bore in collector.bores}
    return Draft(
        job=Job(spec.job.title, spec.job.revision, spec.job.date, spec.job.customer, spec.job.notes),
        tube=Tube(spec.tube.outside_diameter, spec.tube.wall, spec.tube.material),
        stock=stock,
        flange=flange,
        collectors=collectors,
        length=LengthTarget(spec.length.target, spec.length.tolerance),
        primaries=tuple(
            _primary(number, entry, ports[number], bores[number]) for number, entry in sorted(spec.primaries.items())
        ),
        chassis=tuple(_item(entry, mesh_hashes) for entry in spec.chassis),
        limits=_limits(spec.limits),
        units=spec.units,
    )


def stock_from(entry: StockFile) -> Stock:
    """The shelf as a stock file describes it."""
    bends = (StockBend(bend.radius, math.radians(bend.angle), bend.legs, bend.price) for bend in entry.bends)
    straights = (StockStraight(straight.length, straight.price) for straight in entry.straights)
    return Stock(tuple(bends), tuple(straights), entry.currency)


def port_frame(flange: FlangeEntry, port: PortEntry) -> Frame:
    """Origin at the port's middle on the flange face, z out of the head along the port, x the flange's own."""
    face = _plane_frame(flange.plane)
    frame = Frame(point_in(face, (*port.at, 0.0)), face.x, face.y, face.z)
    if port.tilt is None:
        return frame
    return _right_handed(tilted(frame, math.radians(port.tilt.angle), math.radians(port.tilt.toward)))


def steps_of(entry: PrimaryEntry, start: Frame) -> tuple[Step, ...]:
    """The steps of a path; points become steps from the port's frame. Raises PointsError where no tube can follow."""
    if entry.points is not None:
        return steps_from_points(entry.points, entry.corner_radii, start.x)
    return tuple(_step(step) for step in entry.path or ())


def _step(entry: StepEntry) -> Step:
    if entry.straight is not None:
        return Straight(entry.straight)
    return Bend(math.radians(entry.bend or 0.0), entry.radius or 0.0, math.radians(entry.rotation or 0.0))


def _right_handed(frame: Frame) -> Frame:
    assert abs(determinant(frame) - 1) < 1e-9, "a mirrored frame"
    return frame


def _plane_frame(entry: PlaneEntry) -> Frame:
    return _right_handed(frame_from_normal(entry.origin, entry.normal, entry.x))


def _flange(entry: FlangeEntry) -> Flange:
    ports = tuple(
        Port(number, port_frame(entry, port), _shape(port.shape)) for number, port in sorted(entry.ports.items())
    )
    bolts = tuple(Bolt(bolt.at, bolt.hole) for bolt in entry.bolts)
    return Flange(_plane_frame(entry.plane), entry.thickness, bolts, ports)


def _shape(entry: ShapeEntry) -> PortShape:
    size = (entry.round,) if entry.round is not None else entry.oval or entry.rectangle or entry.d or ()
    return PortShape(entry.kind, size)


def _collector(name: str, entry: CollectorEntry, tube: TubeEntry) -> Collector:
    frame = _plane_frame(entry.plane)
    bores = tuple(
        Bore(name, number, primary, Frame(point_in(frame, (*place, 0.0)), frame.x, frame.y, frame.z))
        for number, (primary, place) in enumerate(zip(entry.bores, bore_places(entry, tube), strict=True), 1)
    )
    slip = entry.slip or 0.0
    return Collector(name, frame, entry.join, slip, bores, _radians(entry.half_angle), entry.outlet, entry.spike)


def _radians(degrees: float | None) -> float | None:
    return None if degrees is None else math.radians(degrees)


def _primary(number: int, entry: PrimaryEntry, port: Port, bore: Bore) -> Primary:
    return Primary(number, port, bore, steps_of(entry, port.frame), entry.target, entry.locked)


def _limits(entry: LimitsEntry) -> Limits:
    return Limits(
        min_straight=entry.min_straight,
        end_position=entry.end_position,
        end_angle=math.radians(entry.end_angle),
        between_tubes=entry.between_tubes,
        together=entry.together,
        chord_error=entry.chord_error,
    )


def _item(entry: ChassisEntry, mesh_hashes: Mapping[str, str]) -> ChassisItem:
    shape = _item_shape(entry, mesh_hashes)
    return ChassisItem(entry.name, shape, entry.clearance, entry.role, entry.free_from_flange)


def _item_shape(entry: ChassisEntry, mesh_hashes: Mapping[str, str]) -> Shape:
    if entry.box is not None:
        return Box(_box_frame(entry.box), entry.box.size)
    if entry.cylinder is not None:
        return Cylinder(entry.cylinder.start, entry.cylinder.end, entry.cylinder.diameter)
    if entry.plane is not None:
        return Plane(entry.plane.origin, frame_from_normal(entry.plane.origin, entry.plane.normal).z)
    if entry.tube is not None:
        return TubeRun(tuple(entry.tube.points), entry.tube.diameter)
    assert entry.mesh is not None and entry.units is not None
    units: Literal["mm", "cm", "m", "in"] = entry.units
    return MeshRef(entry.mesh, mesh_hashes[entry.mesh], units, _placement(entry.placement), entry.extent)


def _box_frame(entry: BoxEntry) -> Frame:
    standing = entry.x is None and entry.normal == (0.0, 0.0, 1.0)
    x = WORLD.x if standing else entry.x
    return _right_handed(frame_from_normal(entry.center, entry.normal, x))


def _placement(entry: PlacementEntry | None) -> Frame:
    if entry is None:
        return WORLD
    return _right_handed(frame_from_normal(entry.origin, entry.z, entry.x))
