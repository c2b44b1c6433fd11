"""Every part of a header as a checked solid in its own STEP file, and all of them together in one.

Parts that are equal are made once and set up where they belong: a merge of the same measures, a transition of the same
port, bosses of one size on tubes of one width.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
from OCP.Standard import Standard_Failure

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.frames import WORLD, axes_matrix, cross, point_in
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.merge.measures import Merge, has_spike_room
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.plate.flange import holes_are_apart, plate_of, seated_from, transition_lead, tube_from
from headergen.model import (
    Boss,
    Centreline,
    Collector,
    Frame,
    Header,
    OutletBell,
    OutletRing,
    Overlap,
    Port,
    Run,
    Tube,
    Vec,
)
from headergen.parts.fittings import Seat, boss_seat
from headergen.parts.outlet_end import end_frame
from headergen.parts.tabs import TabSeat, tab_seats
from headergen.solids.boss import boss_hole, boss_solid
from headergen.solids.collector import merge_solid, spike_solid
from headergen.solids.flange import flange_solid
from headergen.solids.inspect import SolidError, measure, refuse_broken, refuse_unsound, tube_volume
from headergen.solids.mesh import solid_mesh
from headergen.solids.outlet_end import end_solid
from headergen.solids.shapes import bounding_box, common, cut, only_solid, placed
from headergen.solids.step import BARE, MACHINED, Colour, Named, write_assembly, write_part
from headergen.solids.tab import tab_solid
from headergen.solids.transition import transition_solid
from headergen.solids.tube import tube_solid

HEADER_FILE = "header.step"
SHARED = 1.0  # mm³ of common metal that is none: parts that are welded touch, and curves are fitted where skins meet
TUBES = {"primary", "secondary"}  # roles: how runs stand to each other is measured without the kernel
Report = Callable[[str, int, int, str], None]  # stage, done, total, the part that comes next
OnFailure = Callable[[str, Exception], None]  # of a part, by name


@dataclass(frozen=True)
class MadeSolid:
    """A solid that passed its checks: what it is called, the kernel's facts of it, and the files it stands in.

    `mesh` is None for tubes, whose meshes need no kernel; `line` and `tube` are theirs alone: the centreline of
    the tube as it is cut.
    """

    name: str
    role: str
    volume: float
    closed: bool
    centre: Vec
    files: tuple[str, ...]
    mesh: TriangleMesh | None = None
    line: Centreline | None = None
    tube: Tube | None = None


@dataclass(frozen=True, eq=False)
class _Body:
    """A solid before it is written."""

    name: str
    role: str
    solid: Any
    colour: Colour
    mesh: TriangleMesh | None = None
    line: Centreline | None = None
    tube: Tube | None = None  # what is bent along the line


@dataclass(frozen=True, eq=False)
class _MadeOnce:
    """What has been made already, by what it is made from, each about its own origin."""

    chord_error: float
    made: dict[Any, tuple[Any, TriangleMesh]] = field(default_factory=dict)

    def take(self, key: Any, make: Callable[[], Any], name: str) -> tuple[Any, TriangleMesh]:
        if key not in self.made:
            solid = _tried(make, name)
            self.made[key] = (solid, solid_mesh(solid, self.chord_error, name))
        return self.made[key]


def _give_up(_: str, error: Exception) -> None:
    raise error


def make_parts(
    header: Header,
    folder: Path,
    report: Report,
    on_failure: OnFailure = _give_up,
    without: Collection[str] = (),
) -> tuple[tuple[MadeSolid, ...], tuple[Overlap, ...]]:
    """Makes, checks and writes every part of `header`; returns them, and where two of them share metal.

    They come in the order flange, transitions, runs, collectors with spikes and ends, bosses,
    tabs.
    `folder` must exist; it gets a STEP file for each and header.step with all of them. What the checks have found
    impossible is left out: a flange whose holes run into each other, collectors without a merge, spikes without room,
    secondaries that cannot be bent; and the parts in `without`, by name.
    `on_failure` is told of a part that does not come, and the others are made; if it is not given, that is raised:
    ValueError for a bend tighter than the tube and SolidError for a part of which no sound solid came, both naming the
    part. Raises OSError when a file cannot be written. A tube that crosses itself is the caller's to refuse.
    """
    draft, plan = header.draft, list(_plan(header, _MadeOnce(header.draft.limits.chord_error)))
    bodies: list[_Body] = []
    made: list[MadeSolid] = []
    for done, (name, make) in enumerate(plan):
        report("solids", done, len(plan), name)
        if name in without:
            continue
        try:
            body = make()
            solid = _checked(body, [each.files[0] for each in made])
            write_part(folder / solid.files[0], (body.name, body.solid, body.colour), draft.job.date)
        except OSError:
            raise
        except Exception as error:
            on_failure(name, error)
            continue
        made.append(solid)
        bodies.append(body)
    report("solids", len(plan), len(plan), "")
    write_assembly(folder / HEADER_FILE, draft.job.title, [(b.name, b.solid, b.colour) for b in bodies], draft.job.date)
    return tuple(made), tuple(_overlaps(bodies, on_failure))


def skins_around(header: Header) -> tuple[TriangleMesh, ...]:
    """The meshes of what stays where it is, however the primaries run: flange, transitions, collectors with what is on
    them. Nothing is checked or written. Raises SolidError for a part of which no solid came."""
    bare = replace(header, draft=replace(header.draft, bosses=()))
    bodies = [make() for _, make in _plan(bare, _MadeOnce(header.draft.limits.chord_error), tubes=False)]
    return tuple(body.mesh for body in bodies if body.mesh is not None)


def sound_solids(header: Header, names: Collection[str] | None = None) -> Iterator[Named]:
    """Each part that can be made, or those of `names`, with its solid and its finish; nothing is written.

    Raises SolidError and ValueError as make_parts does.
    """
    for name, make in _plan(header, _MadeOnce(header.draft.limits.chord_error)):
        if names is None or name in names:
            body = make()
            _checked(body, [])
            yield body.name, body.solid, body.colour


def part_names(header: Header) -> tuple[str, ...]:
    """The names of all parts that can be made, in the order in which they are listed; none is made."""
    return tuple(name for name, _ in _plan(header, _MadeOnce(header.draft.limits.chord_error)))


def _overlaps(bodies: list[_Body], on_failure: OnFailure) -> Iterator[Overlap]:
    """Of every two parts that may reach each other; how tubes stand to each other is measured without the kernel."""
    boxes = [bounding_box(body.solid) for body in bodies]
    for (one, its_box), (other, other_box) in combinations(zip(bodies, boxes, strict=True), 2):
        if its_box.IsOut(other_box) or {one.role, other.role} <= TUBES:
            continue
        name = f"comparison of {one.name} and {other.name}"
        try:
            volume = measure(_tried(partial(common, one.solid, other.solid), name)).volume
        except SolidError as error:
            on_failure(name, error)
            continue
        if volume > SHARED:
            yield Overlap((one.name, other.name), volume)


def file_stem(name: str) -> str:
    """The name of a part as a file may be called: letters, digits, and one underscore for anything else."""
    return re.sub(r"[^0-9A-Za-z-]+", "_", name).strip("_") or "part"


def _plan(header: Header, made_once: _MadeOnce, tubes: bool = True) -> Iterator[tuple[str, Callable[[], _Body]]]:
    """A name and a call for each part that can be made, in the order in which they are made and listed."""
    draft, tube = header.draft, header.draft.tube
    if holes_are_apart(plate_of(draft.flange, tube)):
        yield "flange", partial(_flange_body, header, made_once)
    seats = [(boss, seat) for boss in draft.bosses if (seat := boss_seat(header, boss)) is not None]
    for run in header.primaries:
        if run.port.transition:
            yield f"transition {run.number}", partial(_transition_body, header, made_once, run.port)
    for run, line in header.tubes if tubes else ():
        yield run.name, partial(_run_body, header, run, line, seats)
    for collector in draft.collectors:
        merge = possible_merge(tube, collector)
        if merge is not None:
            yield f"collector {collector.name}", partial(_collector_body, made_once, collector, merge, seats)
            if collector.spike and has_spike_room(merge):
                yield f"spike {collector.name}", partial(_spike_body, made_once, collector, merge)
            if collector.end is not None:
                yield _end_name(collector.name, collector.end), partial(_end_body, made_once, collector, merge)
    for boss, seat in seats:
        yield boss.part, partial(_boss_body, made_once, boss, seat)
    for collector in draft.collectors:
        for tab in tab_seats(header, collector):
            yield tab.name, partial(_tab_body, tab, draft.limits.chord_error)


def _end_name(collector: str, end: OutletRing | OutletBell) -> str:
    return f"outlet {'ring' if isinstance(end, OutletRing) else 'bell'} {collector}"


def _flange_body(header: Header, made_once: _MadeOnce) -> _Body:
    plate = _tried(lambda: flange_solid(header.draft.flange, header.draft.tube, "flange"), "flange")
    return _Body("flange", "flange", plate, MACHINED, solid_mesh(plate, made_once.chord_error, "flange"))


def _drilled(body: _Body, host: str, seats: list[tuple[Boss, Seat]], chord_error: float) -> _Body:
    """With the holes of the bosses that sit on it; a tube's mesh then comes from the kernel as well."""
    on_outlet = body.role == "collector"
    holes = [boss_hole(boss, seat) for boss, seat in seats if (boss.host, boss.on_outlet) == (host, on_outlet)]
    if not holes:
        return body
    solid = _tried(lambda: only_solid(cut(body.solid, *holes), body.name), body.name)
    return replace(body, solid=solid, mesh=solid_mesh(solid, chord_error, body.name), line=None)


def _run_body(header: Header, run: Run, line: Centreline, seats: list[tuple[Boss, Seat]]) -> _Body:
    """The tube from where it is seated, or welded on, to the collector plane."""
    begins = tube_from(header.draft.flange, run.port, run.tube) if run.is_primary else 0.0
    body = _tube_body(run.name, run.role, cut_out(line, begins, line.length), run.tube)
    return _drilled(body, run.name, seats, header.draft.limits.chord_error)


def _tube_body(name: str, role: str, line: Centreline, tube: Tube) -> _Body:
    radii = tube.radius, tube.radius - tube.wall
    return _Body(name, role, _tried(lambda: tube_solid(line, *radii), name), BARE, line=line, tube=tube)


def _transition_body(header: Header, made_once: _MadeOnce, port: Port) -> _Body:
    flange, tube, name = header.draft.flange, header.draft.tube, f"transition {port.number}"
    lead = transition_lead(flange, port)
    key = ("transition", port.shape, lead, port.transition)
    solid, mesh = made_once.take(key, lambda: transition_solid(port.shape, tube, (lead, port.transition), name), name)
    start = seated_from(flange, port, tube)
    frame = replace(port.frame, origin=point_in(port.frame, (0.0, 0.0, start)))
    return _Body(name, "transition", placed(solid, frame), BARE, _mesh_at(mesh, frame, 0.0))


def _collector_body(made_once: _MadeOnce, collector: Collector, merge: Merge, seats: list[tuple[Boss, Seat]]) -> _Body:
    name, local = f"collector {collector.name}", replace(merge, turn=0.0)  # made the same whichever way it is turned
    solid, mesh = made_once.take(("merge", local), lambda: merge_solid(merge, name), name)
    at = (collector.frame, merge.turn)
    body = _Body(name, "collector", placed(solid, *at), BARE, _mesh_at(mesh, *at))
    return _drilled(body, collector.name, seats, made_once.chord_error)


def _spike_body(made_once: _MadeOnce, collector: Collector, merge: Merge) -> _Body:
    name, local = f"spike {collector.name}", replace(merge, turn=0.0)
    solid, mesh = made_once.take(("spike", local), lambda: spike_solid(merge, name), name)
    at = (collector.frame, merge.turn)
    return _Body(name, "spike", placed(solid, *at), BARE, _mesh_at(mesh, *at))


def _end_body(made_once: _MadeOnce, collector: Collector, merge: Merge) -> _Body:
    end = collector.end
    assert end is not None
    name = _end_name(collector.name, end)
    key = ("end", end, merge.outlet_inner, merge.outlet_outer)
    solid, mesh = made_once.take(key, lambda: end_solid(end, merge, name), name)
    frame = end_frame(collector, merge)
    return _Body(name, "outlet end", placed(solid, frame), MACHINED, _mesh_at(mesh, frame, 0.0))


def _boss_body(made_once: _MadeOnce, boss: Boss, seat: Seat) -> _Body:
    """Made on a tube along z, the way out along x, and set up from there."""
    name, here = boss.part, replace(seat, place=WORLD.origin, along=WORLD.z, out=WORLD.x)
    key = ("boss", boss.outside_diameter, boss.height, boss.hole, seat.radius)
    solid, mesh = made_once.take(key, lambda: boss_solid(boss, here, name), name)
    frame = Frame(seat.place, seat.out, cross(seat.along, seat.out), seat.along)
    return _Body(name, "boss", placed(solid, frame), MACHINED, _mesh_at(mesh, frame, 0.0))


def _tab_body(seat: TabSeat, chord_error: float) -> _Body:
    solid = _tried(lambda: tab_solid(seat, seat.name), seat.name)
    return _Body(seat.name, "tab", solid, BARE, solid_mesh(solid, chord_error, seat.name))


def _tried(make: Callable[[], Any], name: str) -> Any:
    try:
        return make()
    except Standard_Failure as error:
        raise SolidError(f"{name}: the CAD kernel gave up on this part ({error})") from error


def _mesh_at(mesh: TriangleMesh, frame: Frame, turn: float) -> TriangleMesh:
    c, s = np.cos(turn), np.sin(turn)
    about_z = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return TriangleMesh(mesh.vertices @ about_z @ axes_matrix(frame) + np.array(frame.origin), mesh.faces, mesh.closed)


def _checked(body: _Body, taken: list[str]) -> MadeSolid:
    facts = measure(body.solid)
    if body.line is not None and body.tube is not None:
        tube = body.tube
        refuse_unsound(facts, body.name, tube_volume(body.line, tube.radius, tube.radius - tube.wall))
    else:
        refuse_broken(facts, body.name)
    stem = file_stem(body.name)
    names = (f"{stem}.step", *(f"{stem}_{k}.step" for k in range(2, len(taken) + 3)))  # two names may share a stem
    files = (next(name for name in names if name.lower() not in {each.lower() for each in taken}), HEADER_FILE)
    return MadeSolid(
        body.name, body.role, facts.volume, facts.closed, facts.centre, files, body.mesh, body.line, body.tube
    )
