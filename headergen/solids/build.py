"""Every part of a header as a checked solid in its own STEP file, and all of them together in one file.

Equal parts are made once and placed several times: merges of the same dimensions, transitions of the same port, bosses
of one size on tubes of one width.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import combinations
from pathlib import Path

from headergen.geometry.curves.stepped import WallSpan
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Centreline, Header, Overlap, Tube, Vec
from headergen.parts.kind import Finish, Seated, file_stem
from headergen.parts.table import parts_to_make
from headergen.solids.inspect import SolidError, measure, refuse_broken, refuse_unsound, tube_volume
from headergen.solids.kept import KeptSolids, key_of, key_of_pair, read_solid, written_solid
from headergen.solids.making import Making, Shaped, tried
from headergen.solids.shapes import bounding_box, cut, only_solid, shared
from headergen.solids.step import BARE, MACHINED, Colour, Named, write_assembly, write_part
from headergen.solids.table import HOLES, SOLIDS

HEADER_FILE = "header.step"
SHARED = 1.0  # mm³ that count as none: welded parts touch, and curves are fitted where skins meet
COLOURS: dict[Finish, Colour] = {"bare": BARE, "machined": MACHINED}
Report = Callable[[str, int, int, str], None]  # stage, done, total, the next part
OnFailure = Callable[[str, Exception], None]  # of a part, by name
OnBodies = Callable[[tuple["MadeSolid", ...], tuple[Overlap, ...] | None], None]  # None: not yet known


@dataclass(frozen=True)
class MadeSolid:
    """A solid that passed its checks: its part, the kernel's facts about it, and its files.

    `mesh` is None for tubes, whose meshes need no kernel; `line` and `tube` are set only for them: the centreline of
    the tube as cut; `walls` for stepped ones.
    """

    part: Seated
    volume: float
    closed: bool
    centre: Vec
    files: tuple[str, ...]
    mesh: TriangleMesh | None = None
    line: Centreline | None = None
    tube: Tube | None = None
    walls: tuple[WallSpan, ...] = ()

    @property
    def name(self) -> str:
        return self.part.name

    @property
    def role(self) -> str:
        return self.part.kind.role


@dataclass(frozen=True, eq=False)
class _Body:
    """A solid before it is written."""

    part: Seated
    shaped: Shaped
    mesh: TriangleMesh | None
    key: str | None  # hash of what it is made from

    @property
    def named(self) -> Named:
        return self.part.name, self.shaped.solid, COLOURS[self.part.kind.finish]


def _give_up(_: str, error: Exception) -> None:
    raise error


def make_parts(
    header: Header,
    folder: Path,
    report: Report,
    on_failure: OnFailure = _give_up,
    without: Collection[str] = (),
    on_bodies: OnBodies = lambda *_: None,
    store: KeptSolids | None = None,
) -> tuple[tuple[MadeSolid, ...], tuple[Overlap, ...]]:
    """Makes, checks and writes every part of `header`; returns them, and the places where two of them overlap.

    Parts are in the order of parts/table.py. `folder` must exist; it gets a STEP file for each part and header.step
    with all of them. Left out are parts that the checks have found impossible (a flange whose holes overlap, collectors
    without a merge, spikes without room, secondaries that cannot be bent) and the parts named in `without`.
    `on_failure` is called with a part that fails, and the others are still made; without it the failure is raised:
    ValueError for a bend tighter than the tube, SolidError if the kernel makes no sound solid, both naming the part.
    Parts are read from `store` if they are kept there, else made and stored there. `on_bodies` is called with
    all bodies before they are compared, and with the returned values as soon as they are known, before header.step is
    written. Raises OSError when a file cannot be
    written. The caller must refuse a tube that crosses itself.
    """
    draft, plan = header.draft, list(_plan(header, store=store))
    bodies: list[_Body] = []
    made: list[MadeSolid] = []
    for done, (name, make) in enumerate(plan):
        report("solids", done, len(plan), name)
        if name in without:
            continue
        try:
            body = make()
            solid = _checked(body, [each.files[0] for each in made])
            write_part(folder / solid.files[0], body.named, draft.job.date)
        except OSError:
            raise
        except Exception as error:
            on_failure(name, error)
            continue
        made.append(solid)
        bodies.append(body)
    report("solids", len(plan), len(plan), "")
    on_bodies(tuple(made), None)
    found = tuple(made), tuple(_overlaps(bodies, on_failure, store))
    on_bodies(*found)
    write_assembly(folder / HEADER_FILE, draft.job.title, [body.named for body in bodies], draft.job.date)
    return found


def skins_around(header: Header) -> tuple[TriangleMesh, ...]:
    """The meshes of what does not move with the primaries: flange, transitions, collectors and the parts on them.

    Nothing is checked or written. Raises SolidError if a part has no solid.
    """
    bodies = [make() for _, make in _plan(header, without=lambda part: part.kind.follows_runs)]
    return tuple(body.mesh for body in bodies if body.mesh is not None)


def sound_solids(header: Header, names: Collection[str] | None = None) -> Iterator[Named]:
    """Each part that can be made (or those in `names`) with its solid and finish; nothing is written.

    Raises SolidError and ValueError as make_parts does.
    """
    for name, make in _plan(header):
        if names is None or name in names:
            body = make()
            _checked(body, [])
            yield body.named


def _overlaps(bodies: list[_Body], on_failure: OnFailure, store: KeptSolids | None) -> Iterator[Overlap]:
    """The overlaps of every two parts that may reach each other; gaps between runs are measured without the kernel."""
    boxes = [bounding_box(body.shaped.solid) for body in bodies]
    for (one, its_box), (other, other_box) in combinations(zip(bodies, boxes, strict=True), 2):
        if its_box.IsOut(other_box) or (one.part.kind.is_run and other.part.kind.is_run):
            continue
        name = f"comparison of {one.part.name} and {other.part.name}"
        try:
            volume = _in_common(one, other, name, store)
        except SolidError as error:
            on_failure(name, error)
            continue
        if volume > SHARED:
            yield Overlap((one.part.name, other.part.name), volume)


def _in_common(one: _Body, other: _Body, name: str, store: KeptSolids | None) -> float:
    """The common volume in mm³. Raises SolidError if the kernel cannot compute it."""
    key = key_of_pair(one.key, other.key) if store is not None and one.key and other.key else None
    volume = store.volume(key) if store is not None and key else None
    if volume is None:
        volume = measure(tried(partial(shared, one.shaped.solid, other.shaped.solid), name)).volume
        if store is not None and key:
            store.keep_volume(key, volume)
    return volume


def _plan(
    header: Header, without: Callable[[Seated], bool] = lambda _: False, store: KeptSolids | None = None
) -> Iterator[tuple[str, Callable[[], _Body]]]:
    """A name and a function for each part that can be made, in the order in which they are made and listed."""
    parts = [part for part in parts_to_make(header) if not without(part)]
    making, holes = Making(header.draft), _holes(parts)
    for part in parts:
        yield part.name, partial(_body, part, making, holes.get(part.name, ()), store)


def _holes(parts: Collection[Seated]) -> Mapping[str, list[Seated]]:
    """For each part (by name) that others go through, the parts that cut something out of it."""
    found: dict[str, list[Seated]] = {}
    for part in parts:
        if part.kind.shape in HOLES:
            found.setdefault(part.seat.host, []).append(part)
    return found


def _body(part: Seated, making: Making, holes: Collection[Seated], store: KeptSolids | None) -> _Body:
    """A part with the holes of what is on it; a tube with holes gets its mesh from the kernel.

    A part meshed by the kernel is kept in the store. It is always used as it reads back from there: reading normalises
    directions, so a part is the same to the last bit whether it was kept or newly made.
    """
    key = key_of(part, holes, making.draft) if store is not None else None
    kept = store.part(key) if store is not None and key and (holes or not part.kind.is_run) else None
    if kept is not None:
        return _Body(part, Shaped(kept[0]), kept[1], key)
    shaped, name = SOLIDS[part.kind.shape](part, making), part.name
    if holes:
        solid, tools = shaped.solid, [HOLES[hole.kind.shape](hole.seat) for hole in holes]
        shaped = making.whole(lambda: only_solid(cut(solid, *tools), name), name)
    mesh = None if shaped.skin is None else shaped.skin()
    if store is not None and key and mesh is not None:
        content = written_solid(shaped.solid)
        store.keep_part(key, content, mesh)
        shaped = Shaped(read_solid(content))
    return _Body(part, shaped, mesh, key)


def _checked(body: _Body, taken: list[str]) -> MadeSolid:
    part, shaped = body.part, body.shaped
    facts = measure(shaped.solid)
    if shaped.line is not None and shaped.tube is not None:
        tube = shaped.tube
        plain = tube_volume(shaped.line, tube.radius, tube.radius - tube.wall)
        refuse_unsound(facts, part.name, sum(wall.volume for wall in shaped.walls) if shaped.walls else plain)
    else:
        refuse_broken(facts, part.name)
    stem = file_stem(part.name)
    names = (f"{stem}.step", *(f"{stem}_{k}.step" for k in range(2, len(taken) + 3)))  # two names may share a stem
    files = (next(name for name in names if name.lower() not in {each.lower() for each in taken}), HEADER_FILE)
    return MadeSolid(
        part, facts.volume, facts.closed, facts.centre, files, body.mesh, shaped.line, shaped.tube, shaped.walls
    )
