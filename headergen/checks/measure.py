"""Makes the Survey: every gap, end, length and own crossing of a header, measured once and exactly."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from headergen.checks.envelopes import part_gaps
from headergen.checks.placing import with_doubt, with_error
from headergen.checks.reach import reach_gaps
from headergen.checks.second_opinion import ask_second_opinion
from headergen.checks.tube_gaps import BOUNDARY, TOUCHING, tube_gaps
from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import Body, cylinder_body, points_along, run_body, tube_body
from headergen.geometry.curves.centreline import cut_out, frame_at, place_at
from headergen.geometry.curves.own_crossing import is_far_from_itself, nearest_own_places
from headergen.geometry.curves.run import free_length, run_bodies
from headergen.geometry.curves.stepped import is_stepped, tube_at, widest_radius
from headergen.geometry.distance.cones import exact_groups, parts_to_index, parts_to_plane
from headergen.geometry.distance.distance_bodies import bodies_to_bodies, body_to_plane
from headergen.geometry.distance.distance_triangles import Nearest
from headergen.geometry.distance.profile import (
    FIRST_CELL,
    Profile,
    held_to,
    joined,
    least_of,
    profile_to_body,
    profiled,
    stretches_held,
    where_it_is,
    with_flat_ends,
)
from headergen.geometry.distance.swallowed import beyond, deepest, depths
from headergen.geometry.frames import add, angle_between, dot, norm, subtract, vec
from headergen.geometry.mesh.boxes import box_mesh, plate_mesh
from headergen.geometry.mesh.index import TriangleIndex, body_to_index, index_of, profile_to_index
from headergen.geometry.mesh.tube import SHORTEST
from headergen.geometry.mesh.winding import INSIDE, OUTSIDE, is_wrong_side, winding_numbers
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
    OtherPlate,
    OwnCrossing,
    Plane,
    Run,
    Stretch,
    Survey,
    TubeRun,
)

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
    tubes = tuple(tube_gaps(header))
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
    return (*_chassis_gaps(header, surfaces, name), *tube_gaps(header, name))


def surfaces_of(header: Header, meshes: Meshes) -> Meshes:
    """Every item that is measured as triangles: meshes, boxes, and plates of other headers."""
    found = dict(meshes)
    for item in header.draft.chassis:
        if isinstance(item.shape, Box):
            found[item.name] = index_of(box_mesh(item.shape))
        elif isinstance(item.shape, OtherPlate):
            found[item.name] = index_of(plate_mesh(item.shape))
    return found


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
        body = tube_body(centreline, widest_radius(run))
        if is_far_from_itself(body, 2 * body.radius):
            continue
        found = nearest_own_places(body, radii_along(run) if is_stepped(run) else None)
        if found is not None and found[0] < sum(tube_at(run, at).radius for at in found[1:]) - TOUCHING:
            distance, first, second = found
            places = (place_at(centreline, first), place_at(centreline, second))
            point = points_along(body, np.array([first, second])).mean(axis=0)
            yield OwnCrossing(centreline.run, places, distance, vec(point))


def radii_along(run: Run) -> Callable[[Array], Array]:
    """The outside radius at lengths (n,) along a run; within a cone, that of its larger end."""
    return lambda at: np.array([tube_at(run, float(each)).radius for each in at])


@dataclass(frozen=True, eq=False)
class Pair:
    """One body of a run and a chassis item, which is a surface, a plane, or a set of round bodies.

    `whole`: what is measured of the run, as one body along its centreline; a stepped run has several pairs with it.
    """

    centreline: Centreline
    body: Body
    whole: Body
    item: ChassisItem
    surface: TriangleIndex | None
    rounds: tuple[Body, ...]


def chassis_pairs(header: Header, surfaces: Meshes, only: str | None = None) -> Iterator[Pair]:
    """Each run, or only the run `only`, with each item of the chassis against which some of the run is measured."""
    rounds = {name: tuple(bodies) for name, bodies in rounds_of(header, surfaces).items()}
    for run, line in header.tubes:
        for item in header.draft.chassis if only in (None, run.name) else ():
            free = free_length(run, item)
            if line.length - free > SHORTEST:
                bodies = measured_bodies(run, line, item)
                left = cut_out(line, free, line.length)
                whole = bodies[0] if len(bodies) == 1 else tube_body(left, widest_radius(run), free)
                for body in bodies:
                    yield Pair(line, body, whole, item, surfaces.get(item.name), rounds.get(item.name, ()))


def _chassis_gaps(header: Header, surfaces: Meshes, only: str | None = None) -> Iterator[Gap]:
    pairs = chassis_pairs(header, surfaces, only)
    groups = [list(group) for _, group in groupby(pairs, key=lambda pair: (pair.centreline.run, pair.item.name))]
    sides = [[(pair.body, other) for pair in group for other in pair.rounds] for group in groups]
    for group, side, found in zip(groups, sides, exact_groups(sides), strict=True):
        if side:
            least = min(range(len(side)), key=lambda k: found[k][0].value)
            yield _item_gap(group, found[least][0], side[least][0])
        else:
            yield _item_gap(group, *_nearest_of_parts(group))


def _nearest_of_parts(pairs: Sequence[Pair]) -> tuple[Nearest, Body]:
    """The smallest gap of a run to a surface or a plane, and the body of the run that has it."""
    surface, shape, bodies = pairs[0].surface, pairs[0].item.shape, [pair.body for pair in pairs]
    if surface is not None:
        return parts_to_index(bodies, surface)
    assert isinstance(shape, Plane)
    return parts_to_plane(bodies, shape)


def measured_bodies(run: Run, centreline: Centreline, item: ChassisItem) -> tuple[Body, ...]:
    """The bodies of a run that are measured against an item."""
    return run_bodies(run, centreline, free_length(run, item), centreline.length)


def _item_gap(pairs: Sequence[Pair], nearest: Nearest, near: Body) -> Gap:
    """The gap of a run to an item, from its nearest place and the body that has it."""
    pair, body = pairs[0], pairs[0].whole
    item, surface = pair.item, pair.surface
    gap = Gap(
        a=pair.centreline.run,
        b=item.name,
        at=(place_at(pair.centreline, nearest.at), None),
        required=item.clearance,
        value=nearest.value,
        points=(vec(nearest.skin), vec(nearest.point)),
        triangle=nearest.triangle if isinstance(item.shape, MeshRef) else None,
        on_boundary=body.span[0] > 0 and abs(nearest.at - body.span[0]) < BOUNDARY,
        runs_through=nearest.value <= TOUCHING - near.radius,
    )
    if surface is not None and item.role != "surface":
        if nearest.value > 0:
            gap = replace(gap, winding=_winding(surface, body))
            if _is_on_wrong_side(item, surface, gap):
                return _as_deep(pairs, surface, replace(gap, value=-gap.value, runs_through=True))
            gap = replace(gap, side_unknown=_is_side_unknown(item, surface, body, gap))
        elif surface.closed:
            gap = _as_deep(pairs, surface, gap)
    if gap.is_too_small:
        return replace(gap, near=_item_stretches(pairs, gap))
    return gap


def _item_stretches(pairs: Sequence[Pair], gap: Gap) -> tuple[Stretch, ...]:
    """Where a run is too near to an item; along a cone, as the cylinder round it would be."""
    profiles = [_profile(pair, gap) for pair in pairs]
    least = gap.place.at, gap.value
    found = [stretches_held(p, pair.body.span, gap.required, least) for p, pair in zip(profiles, pairs, strict=True)]
    if len(pairs) == 1:
        return tuple(profiled(profiles[0], stretch) for stretch in found[0])
    within = least_of([where_it_is(pair.body, p) for p, pair in zip(profiles, pairs, strict=True)])
    return tuple(profiled(within, stretch) for stretch in joined([each for one in found for each in one]))


def _as_deep(pairs: Sequence[Pair], surface: TriangleIndex, gap: Gap) -> Gap:
    """The gap where the centreline is farthest beyond a surface, if it is anywhere beyond."""
    pair = pairs[0]
    deep = (deepest(each.body, surface, beyond(surface, pair.item.role)) for each in pairs)
    found = min((each for each in deep if each is not None), key=lambda each: each.value, default=None)
    if found is None:
        return gap
    return replace(
        gap,
        at=(place_at(pair.centreline, found.at), None),
        value=found.value,
        points=(vec(found.skin), vec(found.point)),
        triangle=found.triangle if gap.triangle is not None else None,
        on_boundary=pair.whole.span[0] > 0 and abs(found.at - pair.whole.span[0]) < BOUNDARY,
        runs_through=True,
    )


def _profile(pair: Pair, gap: Gap) -> Profile:
    """The gap along a tube; its minimum is the smallest gap."""
    held = with_flat_ends(pair.body, round_ended(pair), lambda part: nearest_of_item(pair, part).value)
    if pair.surface is not None and pair.surface.closed and pair.item.role != "surface":
        held = with_depths(pair, pair.surface, held)
    low, high = pair.body.span
    return held_to(held, gap.place.at, gap.value) if low <= gap.place.at <= high else held


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
        return least_of([profile_to_body(pair.body, other) for other in pair.rounds])
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
    return bool(is_wrong_side(item.role, surface.closed, np.array(gap.winding)).all())


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
