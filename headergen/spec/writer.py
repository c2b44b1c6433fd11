"""A header written out in full as a spec: every value settled, nothing mirrored, nothing left to fit.

Lengths are in the unit of the job, to 1e-6 mm or 1e-8 in, and angles in degrees to 1e-9, so that reading it back gives
the same header. Files have their names in the spec, so it belongs beside the original spec. Fields with the same name
in a noun and in its entry are written by that name; only the differences are listed here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from headergen.geometry.frames import add, axes_matrix, subtract
from headergen.model import (
    Bend,
    Box,
    ChassisItem,
    Collector,
    Cylinder,
    Draft,
    Flange,
    Frame,
    Growth,
    HandSettings,
    Header,
    HeaderRef,
    Limits,
    MeshRef,
    MockSettings,
    Move,
    OtherPlate,
    Outlet,
    OutletBall,
    OutletBell,
    OutletEnd,
    OutletPlate,
    Plane,
    Port,
    PortShape,
    Routing,
    Run,
    ShopSettings,
    Side,
    Step,
    Straight,
    Tube,
)
from headergen.parts.outlet_plate import plate_reach
from headergen.spec.alike import Values, values_of
from headergen.spec.as_built import as_built_values
from headergen.spec.chassis import ChassisEntry, CylinderEntry, PointPairEntry, TubeRunEntry
from headergen.spec.ends import CollectorEntry, FlangeEntry
from headergen.spec.fitted import nouns_in, run_values
from headergen.spec.growth import GrowthEntry
from headergen.spec.hand import HandEntry
from headergen.spec.mock import DatumEntry, MockEntry
from headergen.spec.models import (
    FITTED,
    JobEntry,
    LengthEntry,
    LimitsEntry,
    LineEntry,
    ParallelEntry,
    SpecFile,
    TubeEntry,
)
from headergen.spec.openings import BoltEntry
from headergen.spec.outlet_end import BallEntry, BellEntry, PlateEntry, RingEntry
from headergen.spec.printed import lines_of
from headergen.spec.routing import CostWeightsEntry, RouteEntry
from headergen.spec.shop import BenderEntry, ShopEntry
from headergen.spec.sides import OwnTubeEntry, SideEntry
from headergen.spec.tabs import TabsEntry

SQUARE = 1e-9  # degrees of a port's lean that are not written


def spec_text(header: Header) -> str:
    """The spec of a header as YAML."""
    lines = lines_of(_spec(header), SpecFile, header.draft.units)
    return "\n".join(["# yaml-language-server: $schema=headergen.schema.json", *lines, ""])


def _spec(header: Header) -> Values:
    draft = header.draft
    runs = {run.name: run for run in header.runs}
    return {
        "format": 1,
        "job": _given(values_of(draft.job, JobEntry)),
        "units": draft.units,
        "tube": values_of(draft.tube, TubeEntry),
        **_given({"stock": draft.stock and draft.stock.file}),
        **_flanges(draft),
        **_given({"collectors": {each.name: _collector(each, runs) for each in draft.collectors if not each.mouth}}),
        **_given({"secondaries": {run.source: {"path": _path(run)} for run in _between_collectors(header)}}),
        **_given({"runs": {each.name: _run(each, runs, draft.tube) for each in draft.collectors if each.mouth}}),
        "length": values_of(draft.length, LengthEntry),
        "limits": values_of(draft.limits, LimitsEntry, **_min_straight(draft.limits)),
        **_given({"route": {} if draft.routing == Routing() else _route(draft.routing)}),
        **({} if draft.shop == ShopSettings() else {"shop": _shop(draft.shop)}),
        **({} if draft.hand == HandSettings() else {"hand": values_of(draft.hand, HandEntry)}),
        **({} if draft.bender is None else {"bender": _given(values_of(draft.bender, BenderEntry))}),
        **({} if draft.mock is None else {"mock": _mock(draft.mock, runs)}),
        **_given({"as_built": [as_built_values(each, runs) for each in draft.as_built]}),
        **_given(
            {"primaries": {run.number: _primary(run, draft.tube) for run in header.primaries if not run.end.ends_run}}
        ),
        **_given({each.key: [each.values_of(noun, runs) for noun in nouns_in(draft, each)] for each in FITTED}),
        "up": draft.up,
        **_last(draft),
    }


def _between_collectors(header: Header) -> list[Run]:
    return [run for run in header.runs if not (run.is_primary or run.end.ends_run)]


def _last(draft: Draft) -> Values:
    return {
        **_given({"letter": draft.letter}),
        **({} if draft.between_banks is None else {"between_banks": _half_space(draft.between_banks)}),
        **_given({"lines": {each.name: values_of(each, LineEntry) for each in draft.lines}}),
        "chassis": [_item(item) for item in draft.chassis if not isinstance(item.shape, OtherPlate)],
    }


def _given(values: Values) -> Values:
    """The values that matter: no empty text or list, no 0, no false, if the file means the same without it."""
    return {key: value for key, value in values.items() if value}


def _plane(frame: Frame) -> Values:
    return {"origin": frame.origin, "normal": frame.z, "x": frame.x}


def _shop(shop: ShopSettings) -> Values:
    x, y = shop.print_scale
    return values_of(shop, ShopEntry, print_scale={"x": x, "y": y})


def _half_space(plane: Plane) -> Values:
    return {"origin": plane.origin, "normal": plane.normal}


def _flanges(draft: Draft) -> Values:
    if [flange.name for flange in draft.flanges] == [""]:
        return {"flange": _flange(draft.flanges[0])}
    return {"flanges": {flange.name: _flange(flange) for flange in draft.flanges}}


def _flange(flange: Flange) -> Values:
    tool = None if flange.tool is None else {"diameter": flange.tool[0], "length": flange.tool[1]}
    return {
        "plane": _plane(flange.frame),
        "thickness": flange.thickness,
        **_given({"bolts": [values_of(bolt, BoltEntry) for bolt in flange.bolts]}),
        "ports": {port.number: _port(flange.frame, port) for port in flange.ports},
        "seat": flange.seat,
        **_given({"tool": tool}),
        **values_of(flange, FlangeEntry, ports=None, bolts=None, tool=None),
    }


def _port(face: Frame, port: Port) -> Values:
    x, y, _ = (axes_matrix(face) @ subtract(port.frame.origin, face.origin)).tolist()
    lean = (axes_matrix(face) @ port.frame.z).tolist()
    angle, toward = math.atan2(math.hypot(lean[0], lean[1]), lean[2]), math.atan2(lean[1], lean[0])
    tilt = {"angle": angle, "toward": toward} if math.degrees(angle) > SQUARE else {}
    return {
        "at": (x, y),
        "shape": _shape_of(port.shape),
        **_given({"turn": port.shape.turn, "tilt": tilt, "transition": port.transition}),
    }


def _shape_of(shape: PortShape) -> Values:
    size = shape.points if shape.kind == "free" else shape.size[0] if shape.kind == "round" else shape.size
    return {shape.kind: size}


def _collector(collector: Collector, runs: Mapping[str, Run]) -> Values:
    axes = axes_matrix(collector.frame)
    places = [(axes @ subtract(bore.frame.origin, collector.frame.origin)).tolist() for bore in collector.bores]
    arriving = [runs[bore.run] for bore in collector.bores]
    is_slip = collector.join == "slip"
    return values_of(
        collector,
        CollectorEntry,
        plane=_plane(collector.frame),
        slip=collector.slip if is_slip else None,
        pattern=[(x, y) for x, y, _ in places],
        bores=[run.key for run in arriving],
        outlet_length=collector.outlet_length or None,
        half_angle=None if collector.lean else collector.half_angle,
        lean=collector.lean or None,
        spike=collector.spike or None,
        gap=collector.gap if is_slip else None,
        end=collector.end and _end(collector.end),
        tabs=collector.tabs and values_of(collector.tabs, TabsEntry),
    )


def _end(end: OutletEnd) -> Values:
    if isinstance(end, OutletBell):
        return {"bell": values_of(end, BellEntry)}
    if isinstance(end, OutletBall):
        return {"ball": values_of(end, BallEntry)}
    if isinstance(end, OutletPlate):
        bolts = [values_of(bolt, BoltEntry) for bolt in end.bolts] or None
        return {
            "plate": values_of(end, PlateEntry, shape=_shape_of(end.shape), bolts=bolts, divider=end.divider or None)
        }
    unbolted = {} if end.bolts else dict.fromkeys(("bolts", "bolt_circle", "hole"))
    return {"ring": values_of(end, RingEntry, **unbolted)}


def _min_straight(limits: Limits) -> Values:
    """Nothing of a shortest straight that the spec does not give: 0 that is written is meant."""
    return {} if limits.min_straight or limits.min_straight_given else {"min_straight": None}


def _route(routing: Routing) -> Values:
    shortest = {"shortest": True} if routing.shortest else None
    return values_of(
        routing,
        RouteEntry,
        firing_order=routing.firing_order or None,
        radii=routing.radii or None,
        bends=_range((routing.flattest, routing.sharpest)) if routing.bends_given else None,
        length=shortest if routing.length is None else _range(routing.length),
        move={move.collector: _move(move) for move in routing.moves} or None,
        cost_weights=values_of(routing.cost_weights, CostWeightsEntry),
    )


def _move(move: Move) -> Values:
    ways = {axis: _range(span) for axis, span in zip("xyz", zip(move.low, move.high, strict=True), strict=True)}
    ways["turn"] = _range(move.turn)
    moving = {key: span for key, span in ways.items() if span["min"] < span["max"]}
    return moving | _given({"lean": move.lean})


def _range(span: tuple[float, float]) -> Values:
    return {"min": span[0], "max": span[1]}


def _mock(mock: MockSettings, runs: Mapping[str, Run]) -> Values:
    joints = {
        key: [{**run_values(runs[name]), "joint": joint} for name, joint in getattr(mock, key)] or None
        for key in ("without_key", "steel_after")
    }
    datums = [values_of(each, DatumEntry) for each in mock.datums] or None
    return values_of(mock, MockEntry, table=mock.table and _half_space(mock.table), datums=datums, **joints)


def _primary(primary: Run, tube: Tube) -> Values:
    """`tube`: that of the header."""
    return {
        **_own_tube(primary, tube),
        **_given({"target": primary.target, "locked": primary.locked}),
        **_given({"parallel_to": [values_of(each, ParallelEntry) for each in primary.parallels]}),
        "path": _path(primary),
    }


def _run(place: Collector, runs: Mapping[str, Run], tube: Tube) -> Values:
    """A run to a place of its own, or onto another run; `tube`: that of the header."""
    run = runs[place.bores[0].run]
    start, side = run.start, run.end.side
    leaves = start.side if isinstance(start, Outlet) else None
    return {
        **({"from": run.key} if leaves is None else {"leaves": _side(leaves, runs)}),
        **({"to": _place(place, run)} if side is None else {"joins": _side(side, runs)}),
        **(_own_tube(run, tube) if run.is_primary or leaves is not None else {}),
        "path": _path(run),
        **_given({"target": run.target}),
    }


def _own_tube(run: Run, tube: Tube) -> Values:
    return {} if run.tube == tube else {"tube": values_of(run.tube, OwnTubeEntry)}


def _side(side: Side, runs: Mapping[str, Run]) -> Values:
    return values_of(side, SideEntry, run=runs[side.run].key)


def _place(place: Collector, run: Run) -> Values:
    at, to = place.frame.origin, Values()
    if isinstance(place.end, OutletPlate):
        at, to = add(at, place.frame.z, plate_reach(place.end)), _end(place.end)
    if place.mouth in ("into", "over"):
        last = run.tubes[-1]
        wide = last.outside_diameter
        wide = wide + 2 * place.gap if place.mouth == "into" else wide - 2 * (last.wall + place.gap)
        to = {place.mouth: {"diameter": wide, "depth": place.slip}}
    return {"at": at, "along": place.frame.z, "x": place.frame.x, **to}


def _path(run: Run) -> list[Values]:
    return [
        _step(step) | ({"joined": True} if number in run.joined else {}) for number, step in enumerate(run.steps, 1)
    ]


def _step(step: Step) -> Values:
    if isinstance(step, Straight):
        return {"straight": step.length} if step.growth is None else {"step": _growth(step, step.growth)}
    assert isinstance(step, Bend)
    return {"bend": step.angle, "radius": step.radius, "rotation": math.remainder(step.rotation, 2 * math.pi)}


def _growth(step: Straight, growth: Growth) -> Values:
    along = {"overlap": step.length} if growth.by == "slip" else {"length": step.length}
    return values_of(growth, GrowthEntry, **along, at=growth.at and _range(growth.at))


def _item(item: ChassisItem) -> Values:
    role = None if item.role == "obstacle" else item.role
    free = {"free_from_flange": item.free_from_flange or None, "flanges": item.flanges or None}
    return values_of(item, ChassisEntry, **_shape(item), role=role, **free)


def _shape(item: ChassisItem) -> Values:
    shape = item.shape
    if isinstance(shape, MeshRef):
        return {"mesh": shape.path, "units": shape.units, "placement": _placement(shape), "extent": shape.extent}
    if isinstance(shape, HeaderRef):
        return {"header": shape.path}
    if isinstance(shape, Box):
        axes = {"normal": shape.frame.z, "x": shape.frame.x}
        return {"box": {"center": shape.frame.origin, "size": shape.size, **axes}}
    if isinstance(shape, Cylinder):
        return {"cylinder": values_of(shape, CylinderEntry)}
    if isinstance(shape, Plane):
        return {"plane": _half_space(shape)}
    return {"tube": values_of(shape, TubeRunEntry)}


def _placement(shape: MeshRef) -> Values:
    if shape.pairs:
        return {"points": [values_of(pair, PointPairEntry) for pair in shape.pairs], "within": shape.within}
    at = shape.placement
    return {"origin": at.origin, "x": at.x, "z": at.z}
