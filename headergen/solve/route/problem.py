"""A draft with paths to be found, as arrays for the search, and the bounds that need no search."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations, product

import numpy as np
from numpy.typing import NDArray

from headergen.checks.measure import Meshes
from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import trace
from headergen.geometry.curves.stepped import widest_radius
from headergen.geometry.frames import add, axes_matrix, norm, subtract
from headergen.geometry.plate.flange import tube_from
from headergen.model import Bore, Collector, Draft, Run, primary_name
from headergen.model.finding import Finding
from headergen.solve.route.cost import CostTerm
from headergen.solve.route.families import Family, families_of
from headergen.solve.route.kernels.shape import MOST_BENDS, Demands, Space
from headergen.solve.route.obstacles import grids_of, points_on_line, solid_rows

LITTLE_MORE = math.radians(0.06)  # added to the flattest bend, since a descent ends a little short of it
MARGIN = 0.8  # mm added to each requirement, for what is between samples
AROUND = 260.0  # mm round ports and bores within which paths are searched
FIXED_STEP = 12.0  # mm between samples of tubes that stay
WITHIN = 0.9  # of the length tolerance that the search may use
DEFAULT_BEND = 1.5  # radius in tube diameters if neither spec nor stock gives one
LONGER = 1.6  # of the straight-line bound: the range in which the shortest equal length is searched

SHORT_OF = 6.0  # mm before the end of the length over which tubes may converge, where the full gap is required
RAMP = 0.9  # of that length: where the required gap starts to grow; a steep ramp leaves last straights long

Numbers = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class RouteProblem:
    """K primaries to be found, and B bores for them.

    `ports` (K, 6) and `bores` (B, 6): place and direction. `assignments` (A, K): possible bores, row by row. `extra`
    (K,): length beyond the common one; `least_ends` (K, 2): least first and last straight. `radii` and `sharpest` (m,):
    bends that may be used. `known`: errors of the parts that stay, which an answer need not fix. `moved`: the cost of
    collectors that were set elsewhere.
    """

    draft: Draft
    meshes: Meshes
    wanted: tuple[Run, ...]
    bore_of: tuple[Bore, ...]
    ports: Array
    bores: Array
    assignments: Numbers
    group: Numbers
    extra: Array
    least_ends: Array
    radii: Array
    sharpest: Array
    space: Space
    want: Demands
    box: Array
    known: tuple[Finding, ...] = ()
    families: tuple[Family, ...] = ()
    moved: tuple[CostTerm, ...] = ()

    @property
    def count(self) -> int:
        return len(self.wanted)

    def ends(self, tube: int, bore: int) -> Array:
        """(12,) where a tube starts and where it ends, as the kernels need it."""
        return np.concatenate([self.ports[tube], self.bores[bore]])


def problem_of(draft: Draft, meshes: Meshes, known: tuple[Finding, ...] = ()) -> RouteProblem:
    """The arrays of a draft in which some primaries are to be found; `meshes` as for the survey."""
    wanted = tuple(primary for primary in draft.primaries if primary.to_find)
    bores = tuple(primary.end for primary in wanted)
    groups = {collector.name: number for number, collector in enumerate(draft.collectors)}
    ports = np.array([[*p.port.frame.origin, *p.port.frame.z] for p in wanted])
    ends = np.array([[*b.frame.origin, *b.frame.z] for b in bores])
    both = np.concatenate([ports[:, :3], ends[:, :3]])
    box = np.array([both.min(axis=0) - AROUND, both.max(axis=0) + AROUND])
    fixed = [primary for primary in draft.primaries if not primary.to_find]
    grids, step, free = grids_of(draft, meshes, *box)
    samples, lengths = _fixed_tubes(fixed)
    radii, sharpest = bends_to_use(draft)
    return RouteProblem(
        draft=draft,
        meshes=meshes,
        wanted=wanted,
        bore_of=bores,
        ports=ports,
        bores=ends,
        assignments=np.array(list(assignments_of(draft, wanted)), dtype=np.int64).reshape(-1, len(wanted)),
        group=np.array([groups[p.end.collector] for p in (*wanted, *fixed)], dtype=np.int64),
        extra=extras(draft, wanted),
        least_ends=np.array([[least_first(draft, p), least_last(draft, p.end)] for p in wanted]),
        radii=radii,
        sharpest=sharpest,
        space=Space(solid_rows(draft, groups), grids, box[0].copy(), step, free, samples, lengths),
        want=_demands(draft, wanted),
        box=box,
        known=known,
        families=families_of(draft, wanted),
    )


def _fixed_tubes(fixed: list[Run]) -> tuple[Array, Array]:
    lines = [trace(primary.port.frame, primary.steps, primary.name) for primary in fixed]
    count = max((math.ceil(line.length / FIXED_STEP) for line in lines), default=1)
    samples = [points_on_line(line, line.length / (2 * count))[1::2] for line in lines]
    return np.array(samples).reshape(len(lines), -1 if lines else 1, 3), np.array([line.length for line in lines])


def bends_to_use(draft: Draft) -> tuple[Array, Array]:
    """Radii (m,) and the largest angle (m,) of each: from the spec, else from the shelf, else one of 1.5 diameters."""
    routing, shelf = draft.routing, draft.stock.bends if draft.stock is not None else ()
    radii = routing.radii or tuple(sorted({bend.radius for bend in shelf}))
    radii = radii or (DEFAULT_BEND * draft.tube.outside_diameter,)
    largest = [max((b.angle for b in shelf if abs(b.radius - radius) < 0.05), default=math.pi) for radius in radii]
    return np.array(radii), np.minimum(largest, routing.sharpest)


def extras(draft: Draft, wanted: tuple[Run, ...]) -> Array:
    """The required difference of each primary from the common length."""
    common = draft.length.target
    given = [0.0 if p.target is None or common is None else p.target - common for p in wanted]
    return np.array(given)


def _demands(draft: Draft, wanted: tuple[Run, ...]) -> Demands:
    limits, radius = draft.limits, draft.tube.radius
    fixed = [run for run in draft.primaries if not run.to_find]
    more = max([widest_radius(run) - radius for run in fixed], default=0.0)  # of tubes that grow, which stay
    between = [
        norm(subtract(a.frame.origin, b.frame.origin)) - 2 * radius
        for collector in draft.collectors
        for i, a in enumerate(collector.bores)
        for b in collector.bores[:i]
    ]
    at_bores = min([*between, limits.between_tubes]) if limits.together > 0 else limits.between_tubes
    together = max(limits.together - SHORT_OF, 1.0)
    low, high = length_range(draft)
    return Demands(
        radius=radius,
        least=limits.min_straight,
        gap=limits.between_tubes + max(more, 0.0),
        gap_at_bores=at_bores,
        ramp_start=RAMP * together,
        ramp_end=together,
        margin=MARGIN,
        flattest=draft.routing.flattest + LITTLE_MORE,
        shortest=low,
        longest=high,
        weight=0.0,
    )


def least_first(draft: Draft, primary: Run) -> float:
    """Least straight at the flange: a bend cannot begin inside the plate or in a transition."""
    flange = draft.flange_of(primary.port)
    begins = tube_from(flange, primary.port, draft.tube) if primary.port.transition else flange.thickness
    return max(draft.limits.port_straight, draft.limits.min_straight, begins)


def least_last(draft: Draft, bore: Bore) -> float:
    """Least straight before the collector plane; the part that slides into the collector is straight."""
    slip = next(collector.slip for collector in draft.collectors if collector.name == bore.collector)
    return max(draft.limits.collector_straight, draft.limits.min_straight, slip)


def length_range(draft: Draft) -> tuple[float, float]:
    """The limits of the common length."""
    spare = WITHIN * draft.length.tolerance
    wanted = [p for p in draft.primaries if p.to_find]
    if draft.routing.length is not None:
        return draft.routing.length
    targets = [p.target for p in wanted if p.target is not None]
    common = draft.length.target if draft.length.target is not None else (targets[0] if targets else None)
    if common is not None and not draft.routing.shortest:
        return common - spare, common + spare
    lengths = [trace(p.port.frame, p.steps).length for p in draft.primaries if not p.to_find]
    if lengths:  # as long as the tubes that stay
        return max(lengths) - spare, min(lengths) + spare
    bound = least_length(draft)
    return bound, LONGER * bound + 120.0


def assignments_of(draft: Draft, wanted: tuple[Run, ...]) -> Iterator[tuple[int, ...]]:
    """Each way to assign the wanted primaries to the bores they vacate, as indices in `wanted`.

    A primary stays with its collector. In firing order, the pulses go round the collector in one direction or the
    other.
    """
    if draft.routing.bores == "given":
        yield tuple(range(len(wanted)))
        return
    members = [[k for k, p in enumerate(wanted) if p.end.collector == collector.name] for collector in draft.collectors]
    ways = [
        [dict(zip(tubes, order, strict=True)) for order in permutations(tubes) if _is_allowed(draft, c, wanted, order)]
        for c, tubes in zip(draft.collectors, members, strict=True)
    ]
    for chosen in product(*ways):
        joined = {tube: bore for way in chosen for tube, bore in way.items()}
        yield tuple(joined[k] for k in range(len(wanted)))


def _is_allowed(draft: Draft, collector: Collector, wanted: tuple[Run, ...], order: tuple[int, ...]) -> bool:
    tubes = [k for k, p in enumerate(wanted) if p.end.collector == collector.name]
    if draft.routing.bores == "free" or not tubes:
        return True
    taken = {bore.number: bore.run for bore in collector.bores}
    taken |= {wanted[bore].end.number: wanted[tube].name for tube, bore in zip(tubes, order, strict=True)}
    round_it = [taken[bore.number] for bore in bores_round(collector)]
    fired = [name for name in map(primary_name, draft.routing.firing_order) if name in round_it]
    turns = [fired[i:] + fired[:i] for i in range(len(fired))]
    return round_it in turns or round_it[::-1] in turns


def bores_round(collector: Collector) -> list[Bore]:
    """The bores of a collector in their order round its axis."""
    axes = axes_matrix(collector.frame)

    def angle(bore: Bore) -> float:
        x, y, _ = axes @ subtract(bore.frame.origin, collector.frame.origin)
        return math.atan2(y, x)

    return sorted(collector.bores, key=angle)


def least_length(draft: Draft) -> float:
    """A lower bound of every equal length: the longest straight-line bound in the best assignment.

    A tube leaves along its port and arrives along its bore, each for its least straight; between those, no tube is
    shorter than a straight line. That is proof, whatever is in the way.
    """
    wanted = tuple(p for p in draft.primaries if p.to_find)
    bounds = np.array([[line_bound(draft, p, q.end) for q in wanted] for p in wanted])
    over = bounds - extras(draft, wanted)[:, None]
    rows = np.arange(len(wanted))
    return float(min(over[rows, list(way)].max() for way in assignments_of(draft, wanted)))


def line_bound(draft: Draft, primary: Run, bore: Bore) -> float:
    """The lower bound of a primary's length into a bore."""
    first, last = least_first(draft, primary), least_last(draft, bore)
    start = add(primary.port.frame.origin, primary.port.frame.z, first)
    end = add(bore.frame.origin, bore.frame.z, -last)
    return first + norm(subtract(end, start)) + last


def padded(values: Array) -> Array:
    """(MOST_BENDS,) with zeros after the values."""
    out = np.zeros(MOST_BENDS)
    out[: len(values)] = values
    return out
