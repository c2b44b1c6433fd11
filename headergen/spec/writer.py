"""A header written out in full as a spec: every value settled, nothing mirrored, nothing left to fit.

Lengths are in millimetres to 1e-6 and angles in degrees to 1e-9, so that reading it back gives the same header. Files
are named as the spec names them, so it belongs beside the spec it came from.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping

from headergen.geometry.frames import axes_matrix, subtract
from headergen.model import (
    Bend,
    Boss,
    Box,
    ChassisItem,
    Collector,
    Cylinder,
    Draft,
    Flange,
    Frame,
    Header,
    HeaderRef,
    MeshRef,
    OutletBell,
    OutletRing,
    Plane,
    Port,
    Run,
    Step,
    Straight,
    Vec,
)

FULL = 12  # digits of a direction


def spec_text(header: Header) -> str:
    """The spec of a header as YAML."""
    draft = header.draft
    stock = draft.stock.file if draft.stock is not None else ""
    arriving = {run.name: str(run.number) if run.is_primary else _t(run.source) for run in header.runs}
    return "\n".join(
        [
            "# yaml-language-server: $schema=headergen.schema.json",
            "format: 1",
            f"job: {_job(draft)}",
            "units: mm",
            f"tube: {{outside_diameter: {_n(draft.tube.outside_diameter)}, wall: {_n(draft.tube.wall)}, "
            f"material: {_t(draft.tube.material)}}}",
            *([f"stock: {_t(stock)}"] if stock else []),
            *_flange(draft.flange),
            "collectors:",
            *(line for collector in draft.collectors for line in _collector(collector, arriving)),
            *_secondaries(header),
            *_length_and_limits(draft),
            *_mock(header),
            "primaries:",
            *(line for primary in header.primaries for line in _primary(primary)),
            *(["bosses:"] if draft.bosses else []),
            *(f"  - {_boss(header, boss)}" for boss in draft.bosses),
            *(["plugs:"] if draft.plugs else []),
            *(
                f"  - {{name: {_t(p.name)}, at: {_v(p.seat)}, axis: {_d(p.axis)}, diameter: {_n(p.diameter)}, "
                f"length: {_n(p.length)}}}"
                for p in draft.plugs
            ),
            f"up: {_d(draft.up)}",
            *([f"letter: {draft.letter}"] if draft.letter else []),
            *(["lines:"] if draft.lines else []),
            *(
                f"  {_t(each.name)}: {{from: {_v(each.start)}, to: {_v(each.end)}, diameter: {_n(each.diameter)}}}"
                for each in draft.lines
            ),
            "chassis:" if draft.chassis else "chassis: []",
            *(f"  - {_item(item)}" for item in draft.chassis),
            "",
        ]
    )


def _job(draft: Draft) -> str:
    job = draft.job
    more = {"customer": job.customer, "notes": job.notes}
    said = "".join(f", {key}: {_t(value)}" for key, value in more.items() if value)
    return f"{{title: {_t(job.title)}, revision: {_t(job.revision)}, date: {job.date}{said}}}"


def _flange(flange: Flange) -> Iterator[str]:
    yield "flange:"
    yield f"  plane: {_plane(flange.frame)}"
    yield f"  thickness: {_n(flange.thickness)}"
    if flange.bolts:
        yield "  bolts:"
        yield from (f"    - {{at: {_v(bolt.at)}, hole: {_n(bolt.hole)}}}" for bolt in flange.bolts)
    yield "  ports:"
    yield from (f"    {port.number}: {_port(flange.frame, port)}" for port in flange.ports)
    yield f"  seat: {flange.seat}"
    if flange.tool is not None:
        yield f"  tool: {{diameter: {_n(flange.tool[0])}, length: {_n(flange.tool[1])}}}"
    yield from (f"  {name}: {_n(getattr(flange, name))}" for name in ("margin", "setback", "facing", "relief"))


def _port(face: Frame, port: Port) -> str:
    x, y, _ = axes_matrix(face) @ subtract(port.frame.origin, face.origin)
    shape, sizes = port.shape, port.shape.size
    size = _n(sizes[0]) if len(sizes) == 1 else _v(sizes)
    if shape.kind == "free":
        size = f"[{', '.join(_v(corner) for corner in shape.points)}]"
    lean = axes_matrix(face) @ port.frame.z
    angle = math.degrees(math.atan2(math.hypot(lean[0], lean[1]), lean[2]))
    toward = math.degrees(math.atan2(lean[1], lean[0]))
    tilt = f", tilt: {{angle: {_a(angle)}, toward: {_a(toward)}}}" if angle > 1e-9 else ""
    turn = f", turn: {_a(math.degrees(shape.turn))}" if shape.turn else ""
    piece = f", transition: {_n(port.transition)}" if port.transition else ""
    return f"{{at: {_v((x, y))}, shape: {{{shape.kind}: {size}}}{turn}{tilt}{piece}}}"


def _collector(collector: Collector, arriving: Mapping[str, str]) -> Iterator[str]:
    """`arriving`: what each run is called under `bores`."""
    axes = axes_matrix(collector.frame)
    places = [axes @ subtract(bore.frame.origin, collector.frame.origin) for bore in collector.bores]
    yield f"  {_t(collector.name)}:"
    yield f"    plane: {_plane(collector.frame)}"
    yield f"    join: {collector.join}"
    if collector.join == "slip":
        yield f"    slip: {_n(collector.slip)}"
    yield f"    pattern: [{', '.join(_v((x, y)) for x, y, _ in places)}]"
    arrivals = (arriving[bore.run] for bore in collector.bores)
    yield f"    bores: [{', '.join(arrivals)}]"
    if collector.half_angle is not None:
        yield f"    half_angle: {_a(math.degrees(collector.half_angle))}"
    if collector.outlet is not None:
        yield f"    outlet: {_n(collector.outlet)}"
    if collector.outlet_length:
        yield f"    outlet_length: {_n(collector.outlet_length)}"
    if collector.spike:
        yield "    spike: true"
    if collector.wall is not None:
        yield f"    wall: {_n(collector.wall)}"
    if collector.join == "slip":
        yield f"    gap: {_n(collector.gap)}"
    if collector.end is not None:
        yield f"    end: {_end(collector.end)}"
    if collector.tabs is not None:
        sizes = ("apart", "length", "height", "thickness", "hole")
        said = [f"{name}: {_n(getattr(collector.tabs, name))}" for name in sizes]
        yield f"    tabs: {{{', '.join(said)}, turn: {_a(math.degrees(collector.tabs.turn))}}}"


def _end(end: OutletRing | OutletBell) -> str:
    if isinstance(end, OutletBell):
        return f"{{bell: {{inside_diameter: {_n(end.inside_diameter)}, length: {_n(end.length)}}}}}"
    bolts = f", bolts: {end.bolts}, bolt_circle: {_n(end.bolt_circle)}, hole: {_n(end.hole)}" if end.bolts else ""
    angles = f"taper: {_a(math.degrees(end.taper))}, turn: {_a(math.degrees(end.turn))}"
    size = f"outside_diameter: {_n(end.outside_diameter)}, thickness: {_n(end.thickness)}"
    return f"{{ring: {{{size}, {angles}{bolts}}}}}"


def _boss(header: Header, boss: Boss) -> str:
    host = f"collector: {_t(boss.host)}"
    if not boss.on_outlet:
        run = header.run(boss.host)
        host = f"primary: {run.number}" if run.is_primary else f"secondary: {_t(run.source)}"
    thread = f", thread: {_t(boss.thread)}" if boss.thread else ""
    size = f"outside_diameter: {_n(boss.outside_diameter)}, height: {_n(boss.height)}, hole: {_n(boss.hole)}"
    place = f"at: {_n(boss.at)}, clock: {_a(math.degrees(boss.clock))}"
    return f"{{name: {_t(boss.name)}, {host}, {place}, kind: {'sensor' if boss.sensor else 'plain'}, {size}{thread}}}"


def _length_and_limits(draft: Draft) -> Iterator[str]:
    target = "" if draft.length.target is None else f"target: {_n(draft.length.target)}, "
    yield f"length: {{{target}tolerance: {_n(draft.length.tolerance)}}}"
    limits = draft.limits
    yield "limits:"
    for name in (
        "min_straight",
        "between_tubes",
        "together",
        "end_position",
        "chord_error",
        "port_straight",
        "collector_straight",
    ):
        yield f"  {name}: {_n(getattr(limits, name))}"
    yield f"  forming: {_n(100 * limits.forming)}"
    yield f"  end_angle: {_a(math.degrees(limits.end_angle))}"
    yield f"  bend_may_meet_bend: {str(limits.bend_may_meet_bend).lower()}"


def _mock(header: Header) -> Iterator[str]:
    mock = header.draft.mock
    if mock is None:
        return
    yield "mock:"
    yield f"  bed: {_v(mock.bed)}"
    for name in ("gap", "wall", "spigot", "density", "weight"):
        yield f"  {name}: {_n(getattr(mock, name))}"
    yield f"  lean: {_a(math.degrees(mock.lean))}"
    for name in ("flange", "plates", "collector", "cut_guides"):
        yield f"  {name}: {str(getattr(mock, name)).lower()}"
    if mock.table is not None:
        yield f"  table: {{origin: {_v(mock.table.origin)}, normal: {_d(mock.table.normal)}}}"
    if mock.datums:
        datums = (f"{{name: {_t(each.name)}, at: {_v(each.at)}, hole: {_n(each.hole)}}}" for each in mock.datums)
        yield f"  datums: [{', '.join(datums)}]"
    for name in ("without_key", "steel_after"):
        if getattr(mock, name):
            joints = (f"{{primary: {header.run(run).number}, joint: {joint}}}" for run, joint in getattr(mock, name))
            yield f"  {name}: [{', '.join(joints)}]"


def _primary(primary: Run) -> Iterator[str]:
    yield f"  {primary.number}:"
    if primary.target is not None:
        yield f"    target: {_n(primary.target)}"
    if primary.locked:
        yield "    locked: true"
    if primary.parallels:
        runs = (
            f"{{step: {run.step}, line: {_t(run.line)}, angle: {_a(math.degrees(run.angle))}}}"
            for run in primary.parallels
        )
        yield f"    parallel_to: [{', '.join(runs)}]"
    yield "    path:"
    yield from (f"      - {_step(step, number in primary.joined)}" for number, step in enumerate(primary.steps, 1))


def _secondaries(header: Header) -> Iterator[str]:
    secondaries = [run for run in header.runs if not run.is_primary]
    if secondaries:
        yield "secondaries:"
    for each in secondaries:
        yield f"  {_t(each.source)}:"
        yield from (f"    - {_step(step, False)}" for step in each.steps)


def _step(step: Step, joined: bool) -> str:
    more = ", joined: true" if joined else ""
    if isinstance(step, Straight):
        return f"{{straight: {_n(step.length)}{more}}}"
    assert isinstance(step, Bend)
    turn = math.remainder(step.rotation, 2 * math.pi)
    angle, rotation = _a(math.degrees(step.angle)), _a(math.degrees(turn))
    return f"{{bend: {angle}, radius: {_n(step.radius)}, rotation: {rotation}{more}}}"


def _item(item: ChassisItem) -> str:
    role = "" if item.role == "obstacle" else f", role: {item.role}"
    free = f", free_from_flange: {_n(item.free_from_flange)}" if item.free_from_flange else ""
    return f"{{name: {_t(item.name)}, {_shape(item)}, clearance: {_n(item.clearance)}{role}{free}}}"


def _shape(item: ChassisItem) -> str:
    shape = item.shape
    if isinstance(shape, MeshRef):
        extent = "" if shape.extent is None else f", extent: {_n(shape.extent)}"
        units = "" if shape.units is None else f", units: {shape.units}"
        return f"mesh: {_t(shape.path)}{units}, placement: {_placement(shape)}{extent}"
    if isinstance(shape, HeaderRef):
        return f"header: {_t(shape.path)}"
    if isinstance(shape, Box):
        axes = f"normal: {_d(shape.frame.z)}, x: {_d(shape.frame.x)}"
        return f"box: {{center: {_v(shape.frame.origin)}, size: {_v(shape.size)}, {axes}}}"
    if isinstance(shape, Cylinder):
        return f"cylinder: {{from: {_v(shape.start)}, to: {_v(shape.end)}, diameter: {_n(shape.diameter)}}}"
    if isinstance(shape, Plane):
        return f"plane: {{origin: {_v(shape.origin)}, normal: {_d(shape.normal)}}}"
    points = ", ".join(_v(point) for point in shape.points)
    return f"tube: {{points: [{points}], diameter: {_n(shape.diameter)}}}"


def _placement(shape: MeshRef) -> str:
    if shape.pairs:
        pairs = (f"{{name: {_t(p.name)}, scan: {_d(p.scan)}, engine: {_v(p.engine)}}}" for p in shape.pairs)
        return f"{{points: [{', '.join(pairs)}], within: {_n(shape.within)}}}"
    at = shape.placement
    return f"{{origin: {_v(at.origin)}, x: {_d(at.x)}, z: {_d(at.z)}}}"


def _plane(frame: Frame) -> str:
    return f"{{origin: {_v(frame.origin)}, normal: {_d(frame.z)}, x: {_d(frame.x)}}}"


def _n(value: float) -> str:
    """A length: millimetres to 1e-6, without an exponent or a sign before zero."""
    return f"{round(float(value), 6) + 0.0:.6f}".rstrip("0").rstrip(".")


def _a(degrees: float) -> str:
    return f"{round(float(degrees), 9) + 0.0:.9f}".rstrip("0").rstrip(".")


def _v(values: tuple[float, ...]) -> str:
    return f"[{', '.join(_n(value) for value in values)}]"


def _d(direction: Vec) -> str:
    return f"[{', '.join(f'{round(value, FULL) + 0.0:.{FULL}f}'.rstrip('0').rstrip('.') for value in direction)}]"


def _t(text: str) -> str:
    """Text in quotes: what JSON escapes, YAML does too."""
    return json.dumps(text, ensure_ascii=False)
