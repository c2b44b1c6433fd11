"""Makes the Survey: every gap, end, length and own crossing of a header, measured once and exactly."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from headergen.checks.envelopes import part_gaps
from headergen.checks.placing import with_doubt, with_error
from headergen.checks.reach import reach_gaps
from headergen.checks.second_opinion import ask_second_opinion
from headergen.geometry.curves.body import Body, cylinder_body, points_along, run_body, tube_body
from headergen.geometry.curves.centreline import cut_out, frame_at, place_at
from headergen.geometry.curves.own_crossing import nearest_own_places
from headergen.geometry.distance.cut_ends import off_cuts
from headergen.geometry.distance.distance_bodies import bodies_to_bodies, body_to_body, body_to_plane
from headergen.geometry.distance.distance_triangles import Nearest
from headergen.geometry.distance.profile import (
    FIRST_CELL,
    LAST_CELL,
    Profile,
    held_to,
    profile_to_body,
    profiled,
    stretches_held,
    with_flat_ends,
)
from headergen.geometry.distance.swallowed import beyond, deepest, depths
from headergen.geometry.frames import add, angle_between, dot, norm, subtract, vec
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import TriangleIndex, body_to_index, index_of, profile_to_index
from headergen.geometry.mesh.tube import SHORTEST
from headergen.geometry.mesh.winding import INSIDE, OUTSIDE, winding_numbers
from headergen.model import (
    Box,
    Centreline,
    ChassisItem,
    Cylinder,
    End,
    Gap,
    Header,
    HeaderRef,
    MeshFacts,
    MeshRef,
    OwnCrossing,
    Plane,
    Run,
    Stretch,
    Survey,
    TubeRun,
)

BOUNDARY = 1e-3  # mm along the tube within which a smallest gap counts as being on a boundary
TIE = 1e-9  # mm; of gaps equal within this the first is reported
TOUCHING = 1e-6  # mm by which rounding may reduce the centreline distance of tubes that just touch

SIDE_STEP = 40.0  # mm along the tube between the places at which its side of an open surface is computed

Meshes = Mapping[str, TriangleIndex]


def survey(header: Header, meshes: Meshes, facts: tuple[MeshFacts, ...] = (), twice: bool = True) -> Survey:
    """Measure a header against its chassis.

    `meshes` holds every chassis item that is a mesh, placed; `facts` holds what else is known of the meshes. `twice`:
    include the second opinions, which judge only whether two methods agree.
    """
    surfaces = surfaces_of(header, meshes)
    known = {each.item: each for each in facts}
    found = _chassis_gaps(header, surfaces)
    chassis = tuple(with_doubt(gap, known[gap.b]) if gap.b in known else gap for gap in found)
    tubes = tuple(_tube_gaps(header))
    return Survey(
        header=header,
        gaps=(*chassis, *tubes),
        second_opinions=tuple(ask_second_opinion(header, surfaces, (*chassis, *tubes))) if twice else (),
        ends=tuple(measure_end(run, line) for run, line in header.tubes),
        crossings=tuple(own_crossings(header.tubes)),
        lengths=tuple(centreline.length for centreline in header.centrelines),
        part_gaps=tuple(part_gaps(header, surfaces, rounds_of(header, surfaces))),
        reaches=tuple(reach_gaps(header, surfaces, rounds_of(header, surfaces))),
        meshes=tuple(with_error(each, chassis, header.draft) for each in facts),
    )


def gaps_of_run(header: Header, meshes: Meshes, name: str) -> tuple[Gap, ...]:
    """The gaps of one run to every chassis item and to every other run, as in the Survey."""
    surfaces = surfaces_of(header, meshes)
    return (*_chassis_gaps(header, surfaces, name), *_tube_gaps(header, name))


def surfaces_of(header: Header, meshes: Meshes) -> Meshes:
    """Every item that is measured as triangles: meshes and boxes."""
    boxes = ((item.name, item.shape) for item in header.draft.chassis)
    return {**meshes, **{name: index_of(box_mesh(shape)) for name, shape in boxes if isinstance(shape, Box)}}


def rounds_of(header: Header, surfaces: Meshes) -> dict[str, list[Body]]:
    """The round bodies, by item name, of every item that is neither triangles nor a plane."""
    others = (item for item in header.draft.chassis if item.name not in surfaces and not isinstance(item.shape, Plane))
    return {item.name: round_bodies(item) for item in others}


def measure_end(run: Run, centreline: Centreline) -> End:
    """The end of a run, measured against its bore."""
    point, tangent, _ = frame_at(centreline, centreline.length)
    bore = run.end.frame
    miss = subtract(point, bore.origin)
    along = dot(miss, bore.z)
    across = norm(add(miss, bore.z, -along))
    return End(run.name, along, across, angle_between(tangent, bore.z), point)


def own_crossings(tubes: Iterable[tuple[Run, Centreline]]) -> Iterator[OwnCrossing]:
    """Where each of these runs crosses itself."""
    for run, centreline in tubes:
        radius = run.tube.radius
        body = tube_body(centreline, radius)
        found = nearest_own_places(body)
        if found is not None and found[0] < 2 * radius - TOUCHING:
            distance, first, second = found
            places = (place_at(centreline, first), place_at(centreline, second))
            point = points_along(body, np.array([first, second])).mean(axis=0)
            yield OwnCrossing(centreline.run, places, distance, vec(point))


@dataclass(frozen=True, eq=False)
class Pair:
    """A run and a chassis item, which is a surface, a plane, or a set of round bodies."""

    centreline: Centreline
    body: Body
    item: ChassisItem
    surface: TriangleIndex | None
    rounds: tuple[Body, ...]


def chassis_pairs(header: Header, surfaces: Meshes, only: str | None = None) -> Iterator[Pair]:
    """Each run, or only the run `only`, with each item of the chassis against which some of the run is measured."""
    rounds = {name: tuple(bodies) for name, bodies in rounds_of(header, surfaces).items()}
    for run, line in header.tubes:
        for item in header.draft.chassis if only in (None, run.name) else ():
            if line.length - free_length(run, item) > SHORTEST:
                body = measured_body(run, line, item)
                yield Pair(line, body, item, surfaces.get(item.name), rounds.get(item.name, ()))


def _chassis_gaps(header: Header, surfaces: Meshes, only: str | None = None) -> Iterator[Gap]:
    pairs = list(chassis_pairs(header, surfaces, only))
    of_rounds = iter(bodies_to_bodies([(pair.body, other) for pair in pairs for other in pair.rounds]))
    for pair in pairs:
        if pair.rounds:
            nearest = min((next(of_rounds)[0] for _ in pair.rounds), key=lambda found: found.value)
        else:
            nearest = nearest_of_item(pair, pair.body)
        yield _item_gap(pair, nearest)


def free_length(run: Run, item: ChassisItem) -> float:
    """The length at the start of a run that is not measured against an item; only runs from the flange have one."""
    return item.free_for(run.port.flange) if run.is_primary else 0.0


def measured_body(run: Run, centreline: Centreline, item: ChassisItem) -> Body:
    """The part of a run that is measured against an item."""
    free = free_length(run, item)
    return tube_body(cut_out(centreline, free, centreline.length), run.tube.radius, free)


def _item_gap(pair: Pair, nearest: Nearest) -> Gap:
    body, item, surface = pair.body, pair.item, pair.surface
    gap = Gap(
        a=pair.centreline.run,
        b=item.name,
        at=(place_at(pair.centreline, nearest.at), None),
        required=item.clearance,
        value=nearest.value,
        points=(vec(nearest.skin), vec(nearest.point)),
        triangle=nearest.triangle if isinstance(item.shape, MeshRef) else None,
        on_boundary=body.span[0] > 0 and abs(nearest.at - body.span[0]) < BOUNDARY,
        runs_through=nearest.value <= TOUCHING - body.radius,
    )
    if surface is not None and item.role != "surface":
        if nearest.value > 0:
            gap = replace(gap, winding=_winding(surface, body))
            if _is_on_wrong_side(item, surface, gap):
                return _as_deep(pair, surface, replace(gap, value=-gap.value, runs_through=True))
            gap = replace(gap, side_unknown=_is_side_unknown(item, surface, body, gap))
        elif surface.closed:
            gap = _as_deep(pair, surface, gap)
    if gap.value < gap.required:
        profile, least = _profile(pair, gap), (gap.place.at, gap.value)
        stretches = stretches_held(profile, body.span, item.clearance, least)
        return replace(gap, near=tuple(profiled(profile, stretch) for stretch in stretches))
    return gap


def _as_deep(pair: Pair, surface: TriangleIndex, gap: Gap) -> Gap:
    """The gap where the centreline is farthest beyond a surface, if it is anywhere beyond."""
    found = deepest(pair.body, surface, beyond(surface, pair.item.role))
    if found is None:
        return gap
    return replace(
        gap,
        at=(place_at(pair.centreline, found.at), None),
        value=found.value,
        points=(vec(found.skin), vec(found.point)),
        triangle=found.triangle if gap.triangle is not None else None,
        on_boundary=pair.body.span[0] > 0 and abs(found.at - pair.body.span[0]) < BOUNDARY,
        runs_through=True,
    )


def _profile(pair: Pair, gap: Gap) -> Profile:
    """The gap along a tube; its minimum is the smallest gap."""
    held = with_flat_ends(pair.body, round_ended(pair), lambda part: nearest_of_item(pair, part).value)
    if pair.surface is not None and pair.surface.closed and pair.item.role != "surface":
        held = with_depths(pair, pair.surface, held)
    return held_to(held, gap.place.at, gap.value)


def nearest_of_item(pair: Pair, body: Body) -> Nearest:
    """The smallest gap of a part of a tube to the item of a pair."""
    if pair.rounds:
        found = (nearest for nearest, _ in bodies_to_bodies([(body, other) for other in pair.rounds]))
        return min(found, key=lambda nearest: nearest.value)
    if pair.surface is not None:
        return body_to_index(body, pair.surface)
    assert isinstance(pair.item.shape, Plane)
    return body_to_plane(body, pair.item.shape)


def round_ended(pair: Pair, reach: float | None = None) -> Profile:
    """The gap along a tube by balls on its centreline; exact below `reach` mm (default: the clearance and a bit)."""
    if pair.rounds:
        return _nearest_of([profile_to_body(pair.body, other) for other in pair.rounds])
    if pair.surface is not None:
        return profile_to_index(pair.body, pair.surface, reach or pair.item.clearance + FIRST_CELL)
    assert isinstance(pair.item.shape, Plane)
    return _heights(pair.body, pair.item.shape)


def round_bodies(item: ChassisItem) -> list[Body]:
    """The round bodies of an item: a cylinder, a line through points, or another header's tubes."""
    if isinstance(item.shape, HeaderRef):
        return [tube_body(line, diameter / 2) for line, diameter in item.shape.tubes]
    assert isinstance(item.shape, Cylinder | TubeRun)
    return [cylinder_body(item.shape) if isinstance(item.shape, Cylinder) else run_body(item.shape)]


def _nearest_of(profiles: list[Profile]) -> Profile:
    return lambda at: np.min([profile(at) for profile in profiles], axis=0)


def _winding(surface: TriangleIndex, body: Body) -> tuple[float, float]:
    """Least and greatest |winding number| of a surface about the centreline of a tube that does not cross the surface.

    For a closed surface it is constant along the tube.
    """
    low, high = body.span
    count = 1 if surface.closed else max(2, int((high - low) / SIDE_STEP) + 1)
    at = np.linspace(low, high, count + 2)[1:-1]
    sizes = np.abs(winding_numbers(surface, points_along(body, at)))
    return float(sizes.min()), float(sizes.max())


def with_depths(pair: Pair, surface: TriangleIndex, gap: Profile) -> Profile:
    """A profile beside a closed surface, made negative by the depth where the centreline is beyond the surface."""
    depth = depths(pair.body, surface, beyond(surface, pair.item.role))
    return lambda at: np.minimum(gap(at), depth(at))


def _is_on_wrong_side(item: ChassisItem, surface: TriangleIndex, gap: Gap) -> bool:
    """A tube that crosses nothing may still be wholly inside what it must avoid, or outside its enclosure."""
    assert gap.winding is not None
    if item.role == "obstacle":
        return gap.winding[0] > INSIDE
    return surface.closed and gap.winding[1] < OUTSIDE


def _is_side_unknown(item: ChassisItem, surface: TriangleIndex, body: Body, gap: Gap) -> bool:
    """Whether a tube that crosses nothing, and is not known to be on the wrong side, may still be there.

    A tube that leaves the box round an obstacle is outside the obstacle all along, unless the mesh has a hole.
    """
    assert gap.winding is not None
    least, most = gap.winding
    if item.role == "enclosure":
        return not INSIDE < least <= most < 1 + OUTSIDE
    if surface.closed and most < OUTSIDE:
        return False
    low, high = body.span
    along = points_along(body, np.linspace(low, high, max(2, int((high - low) / SIDE_STEP) + 1)))
    return bool(surface.boxed(along).all())


def _heights(body: Body, plane: Plane) -> Profile:
    normal, origin = np.array(plane.normal), np.array(plane.origin)
    return lambda at: (points_along(body, at) - origin) @ normal - body.radius


@dataclass(frozen=True, eq=False)
class TubePair:
    """Two runs, and the parts of both that are measured against each other. `split`: where the free parts end."""

    lines: tuple[Centreline, Centreline]
    parts: tuple[tuple[Body, Body], ...]
    split: tuple[float, float] | None = None
    together: bool = False


def _tube_gaps(header: Header, only: str | None = None) -> Iterator[Gap]:
    """For each pair: the smallest gap that counts, then the gap where both converge on a common collector."""
    pairs = [pair for pair in tube_pairs(header) if only is None or only in (line.run for line in pair.lines)]
    nearest = iter(bodies_to_bodies([part for pair in pairs for part in pair.parts]))
    wholes = {run.name: tube_body(line, run.tube.radius) for run, line in header.tubes}
    for pair in pairs:
        both = wholes[pair.lines[0].run], wholes[pair.lines[1].run]
        yield _pair_gap(header, pair, [off_cuts(part, both, next(nearest)) for part in pair.parts])


def tube_pairs(header: Header) -> Iterator[TubePair]:
    together = header.draft.limits.together
    for (run_a, a), (run_b, b) in combinations(header.tubes, 2):
        radii = run_a.tube.radius, run_b.tube.radius
        if run_a.end.collector != run_b.end.collector or together <= 0:
            yield TubePair((a, b), _parts((a, b), radii, [((0.0, a.length), (0.0, b.length))]))
            continue
        split_a, split_b = max(a.length - together, 0.0), max(b.length - together, 0.0)
        free = [((0.0, split_a), (0.0, b.length)), ((split_a, a.length), (0.0, split_b))]
        if max(split_a, split_b) > 0.0:
            yield TubePair((a, b), _parts((a, b), radii, free), (split_a, split_b))
        closing = _parts((a, b), radii, [((split_a, a.length), (split_b, b.length))])
        yield TubePair((a, b), closing, together=True)


Spans = list[tuple[tuple[float, float], tuple[float, float]]]


def _parts(
    lines: tuple[Centreline, Centreline], radii: tuple[float, float], spans: Spans
) -> tuple[tuple[Body, Body], ...]:
    def part(which: int, span: tuple[float, float]) -> Body:
        return tube_body(cut_out(lines[which], *span), radii[which], span[0])

    return tuple(
        (part(0, span_a), part(1, span_b))
        for span_a, span_b in spans
        if span_a[1] - span_a[0] > 0 and span_b[1] - span_b[0] > 0
    )


def _pair_gap(header: Header, pair: TubePair, found: list[tuple[Nearest, float]]) -> Gap:
    """The smallest gap of two tubes over the given parts of both, seen from the first tube."""
    required = 0.0 if pair.together else header.draft.limits.between_tubes
    least = min(each.value for each, _ in found)
    best = next(k for k, (each, _) in enumerate(found) if each.value <= least + TIE)
    nearest, at_b = found[best]
    on_boundary = pair.split is not None and any(
        abs(at - edge) < BOUNDARY for at, edge in zip((nearest.at, at_b), pair.split, strict=True)
    )
    return Gap(
        a=pair.lines[0].run,
        b=pair.lines[1].run,
        at=(place_at(pair.lines[0], nearest.at), place_at(pair.lines[1], at_b)),
        required=required,
        value=nearest.value,
        points=(vec(nearest.skin), vec(nearest.point)),
        near=_near_stretches(pair.parts, found, required) if nearest.value < required and not pair.together else (),
        on_boundary=on_boundary,
        runs_through=nearest.value <= TOUCHING - pair.parts[best][0].radius,
        together=pair.together,
    )


def _near_stretches(
    parts: tuple[tuple[Body, Body], ...], found: list[tuple[Nearest, float]], required: float
) -> tuple[Stretch, ...]:
    """The stretches where two tubes are too near, from parts of both and the smallest gap of each."""
    profiles = [_tube_profile(a, b, nearest) for (a, b), (nearest, _) in zip(parts, found, strict=True)]
    stretches = [
        stretch
        for (a, _), (nearest, _), profile in zip(parts, found, profiles, strict=True)
        for stretch in stretches_held(profile, a.span, required, (nearest.at, nearest.value))
    ]
    joined: list[Stretch] = []
    for stretch in sorted(stretches, key=lambda s: s.start):
        if joined and stretch.start - joined[-1].end <= LAST_CELL:  # one stretch, measured in two parts
            last = joined.pop()
            stretch = Stretch(last.start, max(last.end, stretch.end), min(last.smallest, stretch.smallest))
        joined.append(stretch)
    within = _nearest_of([_where_it_is(a, profile) for (a, _), profile in zip(parts, profiles, strict=True)])
    return tuple(profiled(within, stretch) for stretch in joined)


def _tube_profile(a: Body, b: Body, nearest: Nearest) -> Profile:
    held = with_flat_ends(a, profile_to_body(a, b), lambda part: body_to_body(part, b)[0].value)
    return held_to(held, nearest.at, nearest.value)


def _where_it_is(body: Body, profile: Profile) -> Profile:
    """A profile that is infinite beyond the ends of its body."""
    first, last = body.span
    return lambda at: np.where((at >= first - LAST_CELL) & (at <= last + LAST_CELL), profile(at), np.inf)
