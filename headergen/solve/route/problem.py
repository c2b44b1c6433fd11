"""A draft with paths to be found, as arrays for the search, and the bounds that need no search."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import permutations, product

import numpy as np
from numpy.typing import NDArray

from headergen.checks.measure import Meshes
from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.run import line_of
from headergen.geometry.curves.sides import SLIGHT, SideJoint, highest, joints_of
from headergen.geometry.curves.stepped import growth_places, widest_radius
from headergen.geometry.distance.ramp import ends_may_miss, ramp_begins
from headergen.geometry.frames import add, axes_matrix, norm, subtract
from headergen.geometry.plate.flange import tube_from
from headergen.model import Bend, Bore, Collector, Draft, Run, Straight, primary_name
from headergen.model.finding import Finding
from headergen.model.lengths import has_common_length
from headergen.model.stock import SAME_RADIUS
from headergen.solve.route.cost import CostTerm, bends_in_stock
from headergen.solve.route.families import Family, families_of
from headergen.solve.route.kernels.shape import MOST_BENDS, Demands, Space
from headergen.solve.route.obstacles import grids_of, solid_rows
from headergen.solve.route.supply import Supply, supply_of, without
from headergen.solve.route.tidiness import OverPorts, neighbours, over_ports, reach_of_ends, views_of

LITTLE_MORE = math.radians(0.06)  # added to the flattest bend, since a descent ends a little short of it
MARGIN = 0.8  # mm added to each requirement, for what is between samples
AROUND = 260.0  # mm round ports and bores within which paths are searched
FIXED_STEP = 12.0  # mm between samples of tubes that stay
WITHIN = 0.9  # of the length tolerance that the search may use
SAME_TUBE = 1e-6  # mm
TIGHTEST = 1.2  # outside diameters: the least of the spec's radii for a tube of another size
DEFAULT_BEND = 1.5  # radius in tube diameters if neither spec nor stock gives one
LONGER = 1.6  # of the straight-line bound: the range in which the shortest equal length is searched

BESIDE_STEP = 10.0  # mm of straight tube at least on both sides of a step to a larger tube
STEP_SPARE = 0.02  # mm within the limits of a step's place
FAR = 1e6  # mm from anything
STEEPEST = 0.9  # of the length over which tubes may converge: where the required gap starts to grow at the latest

Numbers = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class RouteProblem:
    """K runs to be found together, and B bores for them.

    `ports` (K, 6) and `bores` (B, 6): place and direction. `assignments` (A, K): possible bores, row by row. `extra`
    (K,): length beyond the common one; `least_ends` (K, 2): least first and last straight; `source`, `slim` and
    `grows`: as in Tubes. `radii` and `sharpest` (m,): bends that may be used. `known`: errors of the parts that stay,
    which an answer need not fix. `over_ports`: where tubes of the whole header arch over its ports. `moved`: the cost
    of collectors that were set elsewhere.
    """

    draft: Draft
    meshes: Meshes
    runs: tuple[Run, ...]
    bore_of: tuple[Bore, ...]
    ports: Array
    bores: Array
    assignments: Numbers
    group: Numbers
    extra: Array
    least_ends: Array
    source: Numbers
    slim: Array
    grows: Array
    radii: Array
    sharpest: Array
    space: Space
    want: Demands
    box: Array
    over_ports: OverPorts
    supply: Supply | None = None
    known: tuple[Finding, ...] = ()
    families: tuple[Family, ...] = ()
    moved: tuple[CostTerm, ...] = ()

    @property
    def count(self) -> int:
        return len(self.runs)

    @cached_property
    def views(self) -> list[Array]:
        """Pictures (2, 3) in which crossings count."""
        return views_of(self.runs)

    @cached_property
    def reach_of_ends(self) -> Array:
        """(26,) how far ports and bores reach in each direction."""
        return reach_of_ends(self.runs)

    @cached_property
    def neighbours(self) -> tuple[frozenset[int], ...]:
        """For each tube, those beside it."""
        return tuple(frozenset(neighbours(self.runs, tube)) for tube in range(self.count))

    def ends(self, tube: int, bore: int) -> Array:
        """(12,) where a tube starts and where it ends, as the kernels need it."""
        return np.concatenate([self.ports[tube], self.bores[bore]])


def problem_of(draft: Draft, meshes: Meshes, known: tuple[Finding, ...] = ()) -> RouteProblem:
    """The arrays of a draft in which some primaries are to be found; `meshes` as for the survey."""
    runs = runs_to_find(draft)
    bores = tuple(run.end for run in runs)
    groups = {collector.name: number for number, collector in enumerate(draft.collectors)}
    ports = np.array([[*p.start.frame.origin, *p.start.frame.z] for p in runs])
    ends = np.array([[*b.frame.origin, *b.frame.z] for b in bores])
    both = np.concatenate([ports[:, :3], ends[:, :3]])
    box = np.array([both.min(axis=0) - AROUND, both.max(axis=0) + AROUND])
    fixed = [run for run in draft.runs if not run.to_find]
    radius = widest_of(runs)
    around = _measured_from(draft, runs)
    grids, step, free = grids_of(around, meshes, box[0], box[1], radius)
    samples, lengths = _fixed_tubes(draft, runs, fixed)
    radii, sharpest = bends_to_use(draft)
    return RouteProblem(
        draft=draft,
        meshes=meshes,
        runs=runs,
        bore_of=bores,
        ports=ports,
        bores=ends,
        assignments=np.array(list(assignments_of(draft, runs)), dtype=np.int64).reshape(-1, len(runs)),
        group=np.array([groups[p.end.collector] for p in (*runs, *fixed)], dtype=np.int64),
        extra=extras(draft, runs),
        least_ends=np.array([[_found_first(draft, p), _found_last(draft, p)] for p in runs]),
        source=np.array([groups.get(p.source, -1) for p in runs], dtype=np.int64),
        slim=np.array([slim_of(p, radius) for p in (*runs, *fixed)]),
        grows=growths_required(draft, runs),
        radii=radii,
        sharpest=sharpest,
        space=Space(solid_rows(around, groups), grids, box[0].copy(), step, free, samples, lengths),
        want=_demands(draft, runs),
        box=box,
        over_ports=over_ports(runs),
        supply=_supply(draft, runs, fixed),
        known=known,
        families=families_of(draft, runs),
    )


def runs_to_find(draft: Draft) -> tuple[Run, ...]:
    """The runs that are to be found."""
    return tuple(run for run in draft.runs if run.to_find)


def widest_of(runs: Sequence[Run]) -> float:
    """The radius for which paths are searched: that of the widest tube among them."""
    return max(widest_radius(run) for run in runs)


def _measured_from(draft: Draft, runs: Sequence[Run]) -> Draft:
    """The draft whose items leave only tubes from the flange free near it, and no tube from an outlet."""
    if any(run.is_primary for run in runs):
        return draft
    return replace(draft, chassis=tuple(replace(item, free_from_flange=0.0) for item in draft.chassis))


def slim_of(run: Run, radius: float) -> tuple[float, float, float]:
    """How much thinner than `radius` a run is, before and after a length along it; see Tubes.

    A run that is to be found counts as at its widest from where it may first grow, and a run that stays from where it
    first grows.
    """
    first, widest = run.tube.radius, widest_radius(run)
    starts = [growth_start(step)[0] for step in run.grows[:1]] if run.to_find else [p.start for p in growth_places(run)]
    return (min(starts, default=0.0), radius - first, radius - widest)


def growth_start(step: Straight) -> tuple[float, float]:
    """The least and the greatest length at which a straight may begin in which a tube grows, by its `at`."""
    assert step.growth is not None
    low, high = step.growth.at or (0.0, math.inf)
    before = step.length if step.growth.by == "slip" else 0.0  # by slip the bore grows where the overlap ends
    return max(low - before, 0.0), high - before


def growths_required(draft: Draft, runs: Sequence[Run]) -> Array:
    """(K, G, 5) where tubes must grow, or be straight, as the kernels need it; beside a step as long as anywhere."""
    found = np.zeros((len(runs), max(len(run.grows) + len(run.straight_over) for run in runs), 5))
    beside = max(draft.limits.min_straight, BESIDE_STEP)
    for k, run in enumerate(runs):
        for g, step in enumerate(run.grows):
            low, high = growth_start(step)
            found[k, g] = low + STEP_SPARE, max(high, low) - STEP_SPARE, beside, step.length, beside
            if high - low < 2 * STEP_SPARE:
                found[k, g, :2] = (low + high) / 2
        for g, (low, high) in enumerate(run.straight_over, len(run.grows)):
            found[k, g] = low, low, 0.0, high - low, 0.0
    return found


def _fixed_tubes(draft: Draft, runs: Sequence[Run], fixed: Sequence[Run]) -> tuple[Array, Array]:
    """(F, N, 3) places along the tubes that stay, and their lengths (F,).

    A tube that another one stands on is no obstacle near their joint; the places there are put out of the way.
    """
    lines = [line_of(run) for run in fixed]
    count = max((math.ceil(line.length / FIXED_STEP) for line in lines), default=1)
    middles = (np.arange(count) + 0.5) / count
    samples = np.array([[frame_at(line, share * line.length)[0] for share in middles] for line in lines])
    samples, names = samples.reshape(len(lines), -1 if lines else 1, 3), [run.name for run in fixed]
    for joint in (each for run in runs for each in joints_on(draft, run)):
        if joint.host in names and math.sin(joint.angle) > SLIGHT:
            host = names.index(joint.host)
            apart = joint.branch.radius + joint.tube.radius + draft.limits.between_tubes + MARGIN
            away = np.abs(middles * lines[host].length - joint.at)
            samples[host, away < apart / math.sin(joint.angle)] = FAR
    return samples, np.array([line.length for line in lines])


def joints_on(draft: Draft, run: Run) -> tuple[SideJoint, ...]:
    """The ends of a run on the side of others whose paths are there."""
    on = {side.run for side, _ in run.sides}
    return tuple(joints_of(run, {each.name: (each, line_of(each)) for each in draft.runs if each.name in on}))


def _in_fishmouth(draft: Draft, run: Run, at_start: bool) -> float:
    """How much of a tube's end, from the other tube's axis, is within its fishmouth; 0 for an end elsewhere."""
    return max((highest(j) for j in joints_on(draft, run) if j.at_start == at_start and j.is_possible), default=0.0)


def _supply(draft: Draft, runs: tuple[Run, ...], fixed: Sequence[Run]) -> Supply | None:
    """What the tubes that stay leave of the bends on hand."""
    supply = supply_of(draft, runs)
    bends = [step for run in fixed for step in run.steps if isinstance(step, Bend)]
    return supply and without(supply, [bend.angle for bend in bends], [bend.radius for bend in bends])


def bends_to_use(draft: Draft) -> tuple[Array, Array]:
    """Radii (m,) and the largest angle (m,) of each: from the spec, else from the shelf, else one of 1.5 diameters."""
    routing, shelf = draft.routing, bends_in_stock(draft, runs_to_find(draft))
    radii = routing.radii or tuple(sorted({bend.radius for bend in shelf}))
    widest = 2 * widest_of(runs_to_find(draft))
    if all(abs(run.tube.outside_diameter - draft.tube.outside_diameter) > SAME_TUBE for run in runs_to_find(draft)):
        radii = tuple(each for each in radii if each >= TIGHTEST * widest)  # those in the spec may be of the other tube
    radii = radii or (DEFAULT_BEND * widest,)
    largest = [
        max((b.angle for b in shelf if abs(b.radius - radius) < SAME_RADIUS), default=math.pi) for radius in radii
    ]
    return np.array(radii), np.minimum(largest, routing.sharpest)


def extras(draft: Draft, runs: tuple[Run, ...]) -> Array:
    """The required difference of each primary from the common length."""
    common = draft.length.target
    given = [
        p.target - common if p.target is not None and common is not None and has_common_length(p) else 0.0 for p in runs
    ]
    return np.array(given)


def _demands(draft: Draft, runs: tuple[Run, ...]) -> Demands:
    limits, radius = draft.limits, widest_of(runs)
    ends = max(limits.together, 0.0)
    begins = min((ramp_begins(draft, run.end.collector) for run in runs), default=0.0)
    low, high = length_range(draft)
    return Demands(
        radius=radius,
        least=least_between(draft),
        gap=limits.between_tubes,
        may_miss=ends_may_miss(draft),
        ramp_start=min(begins, STEEPEST * ends) if ends > 0 else -1.0,
        ramp_end=ends,
        margin=MARGIN,
        flattest=draft.routing.flattest + LITTLE_MORE,
        shortest=low,
        longest=high,
        weight=0.0,
    )


def least_between(draft: Draft) -> float:
    """Least straight (mm) between two found bends, and after an outlet; where the spec is silent, what joints need.

    A joint stands at either end of such a straight where no stock has legs for it, and a shorter piece cannot be held.
    """
    limits = draft.limits
    return limits.min_straight if limits.min_straight or limits.min_straight_given else draft.shop.apart


def least_first(draft: Draft, primary: Run) -> float:
    """Least straight at the start: at a flange, a bend cannot begin inside the plate or in a transition."""
    if not primary.is_primary:
        return draft.limits.min_straight + _in_fishmouth(draft, primary, at_start=True)
    flange = draft.flange_of(primary.port)
    begins = tube_from(flange, primary.port, draft.tube) if primary.port.transition else flange.thickness
    return max(draft.limits.port_straight, draft.limits.min_straight, begins)


def _found_first(draft: Draft, run: Run) -> float:
    """The least straight at the start of a found path: after an outlet, with a joint at either end, one that holds."""
    return least_first(draft, run) if run.is_primary else least_between(draft) + _in_fishmouth(draft, run, True)


def _found_last(draft: Draft, run: Run) -> float:
    """The least straight at the end of a found path: before a fishmouth, with a joint at either end, one that holds."""
    within = _in_fishmouth(draft, run, at_start=False)
    return least_last(draft, run.end) if within == 0.0 else least_between(draft) + within


def least_last(draft: Draft, bore: Bore) -> float:
    """Least straight before the collector plane; the part that slides into the collector is straight."""
    slip = next(collector.slip for collector in draft.collectors if collector.name == bore.collector)
    at_collector = 0.0 if bore.ends_run else draft.limits.collector_straight
    return max(at_collector, draft.limits.min_straight, slip)


def length_range(draft: Draft) -> tuple[float, float]:
    """The limits of the common length: of primaries, or of secondaries that go into one collector.

    A run to a place of its own has none: only its own target, if it has one.
    """
    spare = WITHIN * draft.length.tolerance
    runs = runs_to_find(draft)
    if not any(has_common_length(run) for run in runs):
        own = [run.target for run in runs if run.target is not None]
        return (own[0] - spare, own[0] + spare) if own else _range_beside(draft, runs, spare)
    if draft.routing.length is not None:
        return draft.routing.length
    targets = [p.target for p in runs if p.target is not None]
    common = draft.length.target if draft.length.target is not None else (targets[0] if targets else None)
    if common is not None and not draft.routing.shortest:
        return common - spare, common + spare
    return _as_long_as([run for run in draft.primaries if not run.to_find and has_common_length(run)], draft, spare)


def target_of(problem: RouteProblem) -> float | None:
    """The common length that is asked for; None where it may be anywhere in a range."""
    shortest, longest = problem.want.shortest, problem.want.longest
    is_range = longest - shortest > 2 * problem.draft.length.tolerance
    return None if is_range else (shortest + longest) / 2


def _range_beside(draft: Draft, runs: Sequence[Run], spare: float) -> tuple[float, float]:
    """The limits of secondaries: as long as those that go into the same collector and stay."""
    ends = {run.end.collector for run in runs}
    stay = [run for run in draft.runs if not (run.to_find or run.is_primary) and run.end.collector in ends]
    return _as_long_as(stay, draft, spare)


def _as_long_as(stay: Sequence[Run], draft: Draft, spare: float) -> tuple[float, float]:
    lengths = [line_of(run).length for run in stay]
    if lengths:
        return max(lengths) - spare, min(lengths) + spare
    bound = least_length(draft)
    return bound, LONGER * bound + 120.0


def assignments_of(draft: Draft, runs: tuple[Run, ...]) -> Iterator[tuple[int, ...]]:
    """Each way to assign the primaries to the bores they vacate, as indices in `runs`.

    A primary stays with its collector. In firing order, the pulses go round the collector in one direction or the
    other.
    """
    if draft.routing.bores == "given" or not all(run.is_primary for run in runs):
        yield tuple(range(len(runs)))
        return
    members = [[k for k, p in enumerate(runs) if p.end.collector == collector.name] for collector in draft.collectors]
    ways = [
        [dict(zip(tubes, order, strict=True)) for order in permutations(tubes) if _is_allowed(draft, c, runs, order)]
        for c, tubes in zip(draft.collectors, members, strict=True)
    ]
    for chosen in product(*ways):
        joined = {tube: bore for way in chosen for tube, bore in way.items()}
        yield tuple(joined[k] for k in range(len(runs)))


def _is_allowed(draft: Draft, collector: Collector, runs: tuple[Run, ...], order: tuple[int, ...]) -> bool:
    tubes = [k for k, p in enumerate(runs) if p.end.collector == collector.name]
    if any(runs[tube].end.tube != runs[bore].end.tube for tube, bore in zip(tubes, order, strict=True)):
        return False  # bores of another size
    if draft.routing.bores == "free" or not tubes:
        return True
    taken = {bore.number: bore.run for bore in collector.bores}
    taken |= {runs[bore].end.number: runs[tube].name for tube, bore in zip(tubes, order, strict=True)}
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
    runs = runs_to_find(draft)
    bounds = np.array([[line_bound(draft, p, q.end) for q in runs] for p in runs])
    over = bounds - extras(draft, runs)[:, None]
    rows = np.arange(len(runs))
    return float(min(over[rows, list(way)].max() for way in assignments_of(draft, runs)))


def line_bound(draft: Draft, primary: Run, bore: Bore) -> float:
    """The lower bound of a primary's length into a bore."""
    first, last = least_first(draft, primary), least_last(draft, bore)
    start = add(primary.start.frame.origin, primary.start.frame.z, first)
    end = add(bore.frame.origin, bore.frame.z, -last)
    return first + norm(subtract(end, start)) + last


def padded(values: Array) -> Array:
    """(MOST_BENDS,) with zeros after the values."""
    out = np.zeros(MOST_BENDS)
    out[: len(values)] = values
    return out
