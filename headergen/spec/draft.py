"""Makes a Draft of a spec: millimetres, radians, right-handed frames in engine axes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import TypeVar

from headergen.geometry.curves.centreline import steps_from_points
from headergen.geometry.curves.stepped import growths_of
from headergen.geometry.frames import WORLD, determinant, frame_from_normal, point_in, tilted, unit
from headergen.model import (
    Bend,
    Bolt,
    Bore,
    Box,
    ChassisItem,
    Collector,
    Cylinder,
    Datum,
    Draft,
    Fit,
    Flange,
    Frame,
    Growth,
    HandSettings,
    HeaderRef,
    Job,
    LengthTarget,
    Limits,
    MeshRef,
    MockSettings,
    NamedLine,
    Parallel,
    Plane,
    PointPair,
    Port,
    Run,
    RunEnd,
    Shape,
    Step,
    Stock,
    Straight,
    Tabs,
    Tube,
    TubeRun,
    primary_name,
    secondary_name,
)
from headergen.spec.alike import noun_of
from headergen.spec.as_built import as_built_of
from headergen.spec.bores import bore_places, sliding_gap
from headergen.spec.chassis import BoxEntry, ChassisEntry, PlacementEntry
from headergen.spec.ends import FlangeEntry, PortEntry
from headergen.spec.entry import Entry, PlaneEntry
from headergen.spec.fitted import fitted_nouns
from headergen.spec.growth import GrowthEntry, without_idle_growths
from headergen.spec.hand import HandFile, hand_of
from headergen.spec.mirror_file import MirrorFile
from headergen.spec.mock import MockEntry
from headergen.spec.models import FITTED, JobEntry, LimitsEntry, LineEntry, PrimaryEntry, SecondaryEntry, SpecFile
from headergen.spec.openings import shape_of
from headergen.spec.outlet_end import end_of
from headergen.spec.routing import routing_of
from headergen.spec.run_tubes import own_tubes, tubes_in, ways_of, widest
from headergen.spec.shop import bender_of, settings_of
from headergen.spec.sides import side_of
from headergen.spec.steps import StepEntry, is_free

T = TypeVar("T")
E = TypeVar("E", bound=Entry)
SHORTEST = 1.0  # mm, the least length of a straight to fit, if the spec sets none
NO_LIMIT = 1e6  # mm
WITHIN = 2.0  # mm; the accuracy of a point picked in a scan and found again on the engine


def draft_from(spec: SpecFile, stock: Stock | None, hashes: Mapping[str, str], hand: HandFile | None = None) -> Draft:
    """The draft of a spec without inconsistencies.

    `hashes` by the path of a mesh or spec as written, `hand` from the file that the spec names.
    """
    own = own_tubes(ways_of(spec))
    flanges = tuple(with_tubes(flange_of(name, entry), own) for name, entry in spec.flanges_by_name.items())
    collectors = tuple(_collector(spec, name) for name in spec.collectors)
    ports = {port.number: port for flange in flanges for port in flange.ports}
    bores = {bore.run: bore for collector in collectors for bore in collector.bores}
    tube = noun_of(Tube, spec.tube)
    plane = spec.between_banks
    return Draft(
        job=_job(spec.job),
        tube=tube,
        stock=stock,
        flanges=flanges,
        collectors=collectors,
        length=noun_of(LengthTarget, spec.length),
        runs=tuple(
            _primary(tube, (ports[number], bores[primary_name(number)]), entry, spec.limits)
            for number, entry in sorted(spec.primaries.items())
        ),
        chassis=items_of(spec.chassis, hashes),
        limits=_limits(spec.limits),
        lines=_lines(spec.lines),
        up=unit(spec.up),
        routing=routing_of(spec.route),
        units=spec.units,
        letter=spec.letter or "",
        between_banks=None if plane is None else Plane(plane.origin, unit(plane.normal)),
        mock=_mock(spec.mock),
        shop=settings_of(spec.shop),
        hand=hand_of(spec.hand, hand, HandSettings()),
        bender=bender_of(spec.bender),
        as_built=as_built_of(spec.as_built, starts_of(spec)),
        **fitted_nouns(spec, FITTED),
    )


def _job(entry: JobEntry) -> Job:
    return noun_of(Job, entry, finish=entry.finish or "", signed=entry.signed or "")


def changed_draft(draft: Draft, changes: MirrorFile, stock: Stock | None) -> Draft:
    """A draft changed as the spec of another bank says; its chassis and named lines are its own.

    Of limits, length and mock, only the given values change: the other requirements of the first bank remain. Raises
    PointsError if no tube can follow the points of a primary.
    """
    limits = _with_given(draft.limits, changes.limits, _limits)
    if changes.limits is not None and "min_straight" in changes.limits.model_fields_set:
        limits = replace(limits, min_straight_given=True)
    job, length = changes.job, changes.length
    tube = draft.tube if changes.tube is None else noun_of(Tube, changes.tube)
    primaries = tuple(_own_primaries(draft, changes, tube, limits))
    own = {run.number: run.tube for run in primaries if run.tube != tube}
    routing = draft.routing if changes.route is None else routing_of(changes.route)
    if changes.route is None and length is not None and length.target is not None:
        routing = replace(routing, length=None, shortest=False)  # a target excludes a range
    return replace(
        draft.with_primaries(primaries),
        flanges=tuple(with_tubes(flange, own) for flange in draft.flanges),
        job=_job(job),
        tube=tube,
        stock=draft.stock if changes.stock is None else stock,
        length=_with_given(draft.length, length, lambda entry: noun_of(LengthTarget, entry)),
        limits=limits,
        lines=_lines(changes.lines),
        units=changes.units,
        mock=_mock(changes.mock) if draft.mock is None else _with_given(draft.mock, changes.mock, _mock),
        shop=_with_given(draft.shop, changes.shop, settings_of),
        bender=draft.bender if changes.bender is None else bender_of(changes.bender),
        as_built=as_built_of(changes.as_built, run_starts(draft)),
        routing=replace(routing, bores="given", moves=()),  # the collectors are the first bank's
    )


def _own_primaries(draft: Draft, changes: MirrorFile, tube: Tube, limits: Limits) -> Iterator[Run]:
    """The primaries of a draft with the changes; `tube`: that of the header, now."""
    for run in draft.primaries:
        run = replace(run, tube=tube if run.tube == draft.tube else replace(run.tube, material=tube.material))
        if run.number in changes.primaries:
            run = _changed(run, changes.primaries[run.number], limits)
        yield replace(run, start=replace(run.port, tube=None if run.tube == tube else run.tube))


def _with_given(first: T, entry: E | None, made: Callable[[E], T | None]) -> T:
    """The first bank's value, with each field replaced that the entry gives."""
    if entry is None:
        return first
    own = made(entry)
    return replace(first, **{name: getattr(own, name) for name in entry.model_fields_set})  # type: ignore[type-var]


def _changed(mirrored: Run, entry: PrimaryEntry, limits: Limits) -> Run:
    """A primary changed as this bank's spec says; one to find starts from the mirrored path and should be like it."""
    own = _primary(mirrored.tube, (mirrored.port, mirrored.end), entry, limits)
    if not own.to_find:
        return own
    own = replace(own, target=mirrored.target if own.target is None else own.target)
    grows = own.grows or growths_of(mirrored)
    if own.steps:
        return replace(own, grows=grows)
    return replace(own, steps=mirrored.steps, fits=mirrored.fits, grows=grows, like=mirrored.steps)


def port_frame(flange: FlangeEntry, port: PortEntry) -> Frame:
    """Origin at the port's centre on the flange face, z out of the head along the port, x that of the flange."""
    face = _plane_frame(flange.plane)
    frame = Frame(point_in(face, (*port.at, 0.0)), face.x, face.y, face.z)
    if port.tilt is None:
        return frame
    return _right_handed(tilted(frame, math.radians(port.tilt.angle), math.radians(port.tilt.toward)))


def steps_of(entry: PrimaryEntry, start: Frame, tube: Tube | None = None) -> tuple[Step, ...]:
    """The steps of a path; points become steps from the port's frame. Raises PointsError if no tube can follow them.

    A step from `tube` to the same size is a plain straight.
    """
    if entry.points is not None:
        return steps_from_points(entry.points, entry.corner_radii, start.x)
    steps = plain_steps(entry.path or ())
    return steps if tube is None else without_idle_growths(steps, tube)


def plain_steps(entries: Iterable[StepEntry]) -> tuple[Step, ...]:
    """The steps of a path, with guesses for the values marked fit."""
    return tuple(_step(step) for step in entries)


def joined_steps(path: Iterable[StepEntry]) -> tuple[int, ...]:
    """The steps in one piece with the step before them, counted from 1."""
    return tuple(number for number, step in enumerate(path, 1) if step.joined)


def _step(entry: StepEntry) -> Step:
    if entry.straight is not None:
        return Straight(entry.straight.fit)
    if entry.step is not None:
        return _grown(entry.step)
    assert entry.bend is not None
    rotation = entry.rotation.fit if entry.rotation is not None else 0.0
    return Bend(math.radians(entry.bend.fit), entry.radius or 0.0, math.radians(rotation))


def _grown(entry: GrowthEntry) -> Straight:
    at = entry.at
    return Straight(entry.along, noun_of(Growth, entry, at=None if at is None else (at.min, at.max)))


def fits_of(path: Iterable[StepEntry], limits: LimitsEntry | Limits) -> Iterator[Fit]:
    """The values of a path that may change, with their limits."""
    for number, step in enumerate(path, 1):
        if (value := step.straight) is not None and is_free(value):
            low = value.min if value.min is not None else min(max(limits.min_straight, SHORTEST), value.fit)
            yield Fit(number, "length", low, value.max if value.max is not None else NO_LIMIT)
        if (angle := step.bend) is not None and is_free(angle):
            low, high = angle.min or min(1.0, angle.fit), angle.max or 180.0
            yield Fit(number, "angle", math.radians(low), math.radians(high))
        if (turn := step.rotation) is not None and is_free(turn):
            low = turn.min if turn.min is not None else turn.fit - 180.0
            high = turn.max if turn.max is not None else turn.fit + 180.0
            yield Fit(number, "rotation", math.radians(low), math.radians(high))


def _right_handed(frame: Frame) -> Frame:
    assert abs(determinant(frame) - 1) < 1e-9, "a mirrored frame"
    return frame


def _plane_frame(entry: PlaneEntry) -> Frame:
    return _right_handed(frame_from_normal(entry.origin, entry.normal, entry.x))


def flange_of(name: str, entry: FlangeEntry) -> Flange:
    ports = tuple(
        Port(number, port_frame(entry, port), shape_of(port.shape, port.turn), port.transition, name)
        for number, port in sorted(entry.ports.items())
    )
    return noun_of(
        Flange,
        entry,
        frame=_plane_frame(entry.plane),
        bolts=tuple(noun_of(Bolt, bolt) for bolt in entry.bolts),
        ports=ports,
        name=name,
        tool=None if entry.tool is None else (entry.tool.diameter, entry.tool.length),
    )


def with_tubes(flange: Flange, own: Mapping[int, Tube]) -> Flange:
    """The flange with the tubes that stand on its ports and are not that of the header, by the number of the port."""
    return replace(flange, ports=tuple(replace(port, tube=own.get(port.number)) for port in flange.ports))


def _collector(spec: SpecFile, name: str) -> Collector:
    entry, mouth, first = spec.collectors[name], mouth_of(spec, name), noun_of(Tube, spec.tube)
    tubes = tubes_in(ways_of(spec), name)
    frame, lean = _plane_frame(entry.plane), math.radians(entry.lean or 0.0)
    frames = [_bore_frame(frame, place, lean) for place in bore_places(entry, widest(tubes))]
    one_size, has_first = len(set(tubes)) == 1, all(isinstance(source, int) for source in entry.bores)
    joins = spec.runs[name].joins if mouth == "side" else None
    side = None if joins is None else side_of(joins, starts_of(spec))
    bores = tuple(
        Bore(
            name,
            number,
            secondary_name(source) if isinstance(source, str) else primary_name(source),
            frame,
            bool(mouth),
            None if one_size else tube,
            side,
        )
        for number, (source, frame, tube) in enumerate(zip(entry.bores, frames, tubes, strict=True), 1)
    )
    return noun_of(
        Collector,
        entry,
        name=name,
        frame=frame,
        slip=entry.slip or 0.0,
        bores=bores,
        gap=sliding_gap(entry),
        outlet=None if mouth else entry.outlet,  # of the place of a run it only says the run's own tube
        wall=None if mouth else entry.wall,
        end=end_of(entry.end),
        arriving=None if has_first and widest(tubes) == first else widest(tubes),
        mouth=mouth,
        half_angle=lean or (None if entry.half_angle is None else math.radians(entry.half_angle)),
        lean=lean,
        tabs=entry.tabs and noun_of(Tabs, entry.tabs),
    )


def starts_of(spec: SpecFile) -> dict[str, int | str]:
    """What each run of a spec comes from, by its name: a port, an outlet, or the run itself on another one's side."""
    return {name: name if run.start is None else run.start for name, run in spec.runs.items()}


def run_starts(draft: Draft) -> dict[str, int | str]:
    """The same of a draft, where a run ends in a place of its own."""
    runs = {run.name: run for run in draft.runs}
    return {each.name: runs[each.bores[0].run].key for each in draft.collectors if each.mouth}


def mouth_of(spec: SpecFile, name: str) -> RunEnd:
    """In what a run ends, if the collector with this name is the place of one."""
    run = spec.runs.get(name)
    if run is None:
        return ""
    if run.to is None:
        return "side"
    found: tuple[RunEnd, ...] = ("into", "over", "plate")
    return next((each for each in found if getattr(run.to, each) is not None), "plain")


def _bore_frame(frame: Frame, place: tuple[float, float], lean: float) -> Frame:
    """A bore in the collector plane, square to it or leaning to the collector's axis."""
    frame = Frame(point_in(frame, (*place, 0.0)), frame.x, frame.y, frame.z)
    return tilted(frame, lean, math.atan2(-place[1], -place[0])) if lean else frame


def growths_in(entry: PrimaryEntry | SecondaryEntry) -> tuple[Straight, ...]:
    """The steps to larger tubes that a path to be found must have: by themselves, or those of its first guess."""
    if not entry.find:
        return ()
    steps = [_grown(each) for each in entry.steps or ()] or plain_steps(entry.path or ())
    return tuple(step for step in steps if isinstance(step, Straight) and step.growth is not None)


def _primary(tube: Tube, ends: tuple[Port, Bore], entry: PrimaryEntry, limits: LimitsEntry | Limits) -> Run:
    """`tube`: that of a primary which has none of its own."""
    tube = tube if entry.tube is None else noun_of(Tube, entry.tube, material=tube.material)
    return Run(
        primary_name(ends[0].number),
        tube,
        *ends,
        steps=steps_of(entry, ends[0].frame, tube),
        target=entry.target,
        locked=entry.locked,
        fits=tuple(fits_of(entry.path or (), limits)),
        parallels=tuple(noun_of(Parallel, each) for each in entry.parallel_to),
        joined=joined_steps(entry.path or ()),
        to_find=bool(entry.find),
        grows=growths_in(entry),
        written="path" if entry.points is None else "points",
    )


def _mock(entry: MockEntry | None) -> MockSettings | None:
    if entry is None:
        return None
    return noun_of(
        MockSettings,
        entry,
        table=None if entry.table is None else Plane(entry.table.origin, unit(entry.table.normal)),
        datums=tuple(noun_of(Datum, each) for each in entry.datums),
        without_key=tuple((each.tube, each.joint) for each in entry.without_key),
        steel_after=tuple((each.tube, each.joint) for each in entry.steel_after),
    )


def _lines(entries: Mapping[str, LineEntry]) -> tuple[NamedLine, ...]:
    return tuple(noun_of(NamedLine, line, name=name) for name, line in entries.items())


def _limits(entry: LimitsEntry) -> Limits:
    return noun_of(Limits, entry, min_straight_given="min_straight" in entry.model_fields_set)


def items_of(entries: Iterable[ChassisEntry], hashes: Mapping[str, str]) -> tuple[ChassisItem, ...]:
    """Chassis items; `hashes` as for draft_from."""
    return tuple(_item(entry, hashes) for entry in entries)


def _item(entry: ChassisEntry, hashes: Mapping[str, str]) -> ChassisItem:
    return noun_of(ChassisItem, entry, shape=_item_shape(entry, hashes))


def _item_shape(entry: ChassisEntry, hashes: Mapping[str, str]) -> Shape:
    if entry.box is not None:
        return Box(_box_frame(entry.box), entry.box.size)
    if entry.cylinder is not None:
        return noun_of(Cylinder, entry.cylinder)
    if entry.plane is not None:
        return Plane(entry.plane.origin, frame_from_normal(entry.plane.origin, entry.plane.normal).z)
    if entry.tube is not None:
        return noun_of(TubeRun, entry.tube)
    if entry.header is not None:
        return HeaderRef(entry.header, hashes[entry.header])
    assert entry.mesh is not None
    placed = entry.placement
    pairs = tuple(noun_of(PointPair, pair) for pair in (placed.points if placed else None) or ())
    within = placed.within if placed and placed.within is not None else WITHIN
    return MeshRef(
        entry.mesh, hashes[entry.mesh], entry.units, _placement(placed), entry.extent, pairs, within if pairs else 0.0
    )


def _box_frame(entry: BoxEntry) -> Frame:
    standing = entry.x is None and entry.normal == (0.0, 0.0, 1.0)
    x = WORLD.x if standing else entry.x
    return _right_handed(frame_from_normal(entry.center, entry.normal, x))


def _placement(entry: PlacementEntry | None) -> Frame:
    if entry is None or entry.origin is None:
        return WORLD
    return _right_handed(frame_from_normal(entry.origin, entry.z, entry.x))
