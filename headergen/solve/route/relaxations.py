"""Which single change of the requirements lets paths be found, and how little of it is enough: each is searched.

A change is tried at its most first. If paths are found, its size is halved again and again: the last paths are drawn to
the tighter requirements, and where that fails, a short search starts anew. What is printed was found, at that size, by
the exact checks. This proves no more: a change that led to no paths may still help.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from headergen.checks.measure import Meshes
from headergen.geometry.frames import add, dot, scaled
from headergen.model import ChassisItem, Draft, Vec
from headergen.model.finding import Finding
from headergen.model.stock import SAME_RADIUS
from headergen.solve.collector_at import with_collector_at
from headergen.solve.effort import Effort
from headergen.solve.route.answer import Answer, answer_of, with_bores
from headergen.solve.route.brief import Allowed, Watch, first_answer
from headergen.solve.route.cost import bends_in_stock
from headergen.solve.route.infeasibility import what_forbids_it
from headergen.solve.route.kernels.shape import MOST_BENDS
from headergen.solve.route.layout import Layout, polished
from headergen.solve.route.problem import (
    RouteProblem,
    assignments_of,
    bends_to_use,
    least_between,
    least_length,
    length_range,
    line_bound,
    problem_of,
    runs_to_find,
    widest_of,
)
from headergen.words.say import say_length, say_list, say_way, shown_length

MOVE, MOVE_STEPS = 32.0, 16  # mm by which a collector is moved at most, in steps of 2 mm
LENGTHS, LENGTH_STEPS = 0.06, 16  # of the length, longer or shorter
ABOVE_BOUND = 1.06  # of the straight-line bound: a longer length is tried up to here too
TIGHT, RADIUS_STEPS = 1.2, 8  # outside diameters: the least radius that is tried
MOST_STEPS = 32
MOST_ORDERS = 5040  # of bores that are looked through
AT_MOST = 0.6  # of the time, for trying each change at its most
ROUNDS_LESS = 8  # of a search for a smaller size

# what a change costs the shop, as millimetres by which a collector is moved
PER_MM = {"collector": 1.0, "length": 0.5, "clearance": 3.0, "between": 6.0, "radius": 2.0, "straight": 2.0}
SAID = {
    "length": "another length",
    "between": "a smaller gap between tubes",
    "straight": "shorter straights",
    "radius": "a tighter bend",
    "bends": "one more bend",
    "bores": "other bores",
    "collector": "the collector moved",
    "clearance": "less clearance of an item",
    "item": "an item left out",
}
WHOLE = {"bores": 15.0, "bends": 30.0, "item": 100.0}


@dataclass(frozen=True, eq=False)
class Relaxation:
    """One kind of change in equal steps: the draft with so many of them, its size (mm), its words, its cost a step."""

    name: str
    steps: int
    draft: Callable[[int], Draft]
    size: Callable[[int], float]
    words: Callable[[int], str]
    step_cost: float
    of: str = ""  # the item or collector that is changed


def relaxations_of(draft: Draft, items: Sequence[str] = ()) -> Iterator[Relaxation]:
    """Every single change worth trying that the draft does not have already; `items` are chassis items to open.

    Items come first, since they tell most where the time is short.
    """
    for item in draft.chassis:
        if item.name in items:
            yield from _opened(draft, item)
    yield from _lengths(draft)
    yield from _gap_between_tubes(draft)
    yield from _straights(draft)
    yield from _radius(draft)
    yield from _bends_and_bores(draft)
    for name in dict.fromkeys(p.end.collector for p in runs_to_find(draft) if not p.end.ends_run):
        yield from _moved(draft, name)


def _lengths(draft: Draft) -> Iterator[Relaxation]:
    is_free = draft.length.target is None and draft.routing.length is None
    if is_free or any(p.target for p in draft.primaries) or not any(run.is_primary for run in runs_to_find(draft)):
        return
    units, (shortest, longest), bound = draft.units, length_range(draft), least_length(draft)
    free = replace(draft, length=replace(draft.length, target=None))

    def within(low: float, high: float) -> Draft:
        return replace(free, routing=replace(draft.routing, length=(low, high)))

    more = max(LENGTHS * longest, ABOVE_BOUND * bound - longest) / LENGTH_STEPS
    less = min(LENGTHS * shortest, shortest - bound) / LENGTH_STEPS
    yield Relaxation(
        "length",
        LENGTH_STEPS,
        lambda k: within(shortest, longest + k * more),
        lambda k: k * more,
        lambda k: f"with lengths up to {say_length(longest + k * more, units)} allowed",
        PER_MM["length"] * more,
    )
    if less > 0:
        yield Relaxation(
            "length",
            LENGTH_STEPS,
            lambda k: within(shortest - k * less, longest),
            lambda k: k * less,
            lambda k: f"with lengths down to {say_length(shortest - k * less, units)} allowed",
            PER_MM["length"] * less,
        )


def _lessened(
    name: str, required: float, step: float, draft: Callable[[float], Draft], words: Callable[[float], str]
) -> Iterator[Relaxation]:
    """A required size made less, down to nothing, in steps of about `step` mm."""
    steps = min(math.ceil(required / step), MOST_STEPS)
    if steps > 0:
        yield Relaxation(
            name,
            steps,
            lambda k: draft(required * (1 - k / steps)),
            lambda k: required * k / steps,
            lambda k: words(required * (1 - k / steps)),
            PER_MM[name] * required / steps,
        )


def _gap_between_tubes(draft: Draft) -> Iterator[Relaxation]:
    required = draft.limits.between_tubes
    yield from _lessened(
        "between",
        required,
        0.5,
        lambda gap: replace(draft, limits=replace(draft.limits, between_tubes=gap)),
        lambda gap: (
            f"with {say_length(gap, draft.units)} required between tubes, not {say_length(required, draft.units)}"
        ),
    )


def _straights(draft: Draft) -> Iterator[Relaxation]:
    limits, units = draft.limits, draft.units
    places = {"min_straight": "between bends", "port_straight": "at ports", "collector_straight": "at bores"}
    for field, where in places.items():
        required = least_between(draft) if field == "min_straight" else getattr(limits, field)

        def eased(size: float, field: str = field) -> Draft:
            given = limits.min_straight_given or field == "min_straight"
            return replace(draft, limits=replace(limits, **{field: size}, min_straight_given=given))  # type: ignore[arg-type]

        def words(size: float, where: str = where, required: float = required) -> str:
            return f"with straights of {say_length(size, units)} allowed {where}, not {say_length(required, units)}"

        yield from _lessened("straight", required, 1.0, eased, words)


def _radius(draft: Draft) -> Iterator[Relaxation]:
    """A tighter bend than any that may be used by now, be it listed, in stock, or the usual one."""
    radii, least = [float(each) for each in bends_to_use(draft)[0]], TIGHT * 2 * widest_of(runs_to_find(draft))
    if min(radii) <= least:
        return
    shelf = [bend.radius for bend in bends_in_stock(draft, runs_to_find(draft))]
    step = (min(radii) - least) / RADIUS_STEPS

    def radius(k: int) -> float:
        return round(float(min(radii) - k * step), 1)

    def words(k: int) -> str:
        is_bought = not shelf or any(abs(each - radius(k)) < SAME_RADIUS for each in shelf)
        said = f"with bends of radius {say_length(radius(k), draft.units)} too"
        return said if is_bought else f"{said}, which the stock list has not"

    yield Relaxation(
        "radius",
        RADIUS_STEPS,
        lambda k: replace(draft, routing=replace(draft.routing, radii=(radius(k), *radii))),
        lambda k: min(radii) - radius(k),
        words,
        PER_MM["radius"] * step,
    )


def _bends_and_bores(draft: Draft) -> Iterator[Relaxation]:
    routing = draft.routing
    if routing.most_bends < MOST_BENDS:
        more = replace(draft, routing=replace(routing, most_bends=routing.most_bends + 1))
        words = f"with {routing.most_bends + 1} bends allowed in a tube, not {routing.most_bends}"
        yield Relaxation("bends", 1, lambda _: more, lambda _: 1.0, lambda _: words, WHOLE["bends"])
    if routing.bores != "free":
        yield from _other_bores(draft)


def _other_bores(draft: Draft) -> Iterator[Relaxation]:
    """The order of bores in which the straight ways are shortest in all, if it is not the given one."""
    runs = runs_to_find(draft)
    if not all(run.is_primary for run in runs):
        return
    free = replace(draft, routing=replace(draft.routing, bores="free", firing_order=()))
    orders = itertools.islice(assignments_of(free, runs), MOST_ORDERS)

    def ways(order: tuple[int, ...]) -> float:
        return sum(line_bound(draft, p, runs[bore].end) for p, bore in zip(runs, order, strict=True))

    best = min(orders, key=ways)
    if best == tuple(range(len(runs))):
        return
    given = replace(draft, routing=replace(draft.routing, bores="given", firing_order=()))
    moved = with_bores(given, {p.name: runs[bore].end for p, bore in zip(runs, best, strict=True)})
    placed = (f"{runs[bore].end.number} for primary {p.number}" for p, bore in zip(runs, best, strict=True))
    words = f"with the primaries in other bores: {say_list(list(placed))}"
    yield Relaxation("bores", 1, lambda _: moved, lambda _: 1.0, lambda _: words, WHOLE["bores"])


def _moved(draft: Draft, name: str) -> Iterator[Relaxation]:
    """A collector shifted along the axes, beyond where the spec lets it stand already."""
    step = MOVE / MOVE_STEPS
    for axis in range(3):
        for sign in (1.0, -1.0):
            way: Vec = tuple(sign if k == axis else 0.0 for k in range(3))  # type: ignore[assignment]
            let = _range_along(draft, name, way)

            def size(k: int, let: float = let) -> float:
                return let + k * step

            def words(k: int, way: Vec = way, let: float = let) -> str:
                more = say_length(k * step, draft.units)
                beyond = f" from where it now stands, {more} beyond its range" if let > 0 else ""
                return f"with collector {name} {say_length(let + k * step, draft.units)} {say_way(way)}{beyond}"

            def moved(k: int, way: Vec = way, let: float = let) -> Draft:
                return with_collector_moved(draft, name, scaled(way, let + k * step))

            yield Relaxation("collector", MOVE_STEPS, moved, size, words, PER_MM["collector"] * step, name)


def _range_along(draft: Draft, name: str, way: Vec) -> float:
    """How far (mm) the spec lets a collector move from where it stands along an axis."""
    moves = [move for move in draft.routing.moves if move.collector == name]
    return max((dot(way, end) for move in moves for end in (move.low, move.high, (0.0, 0.0, 0.0))), default=0.0)


def _opened(draft: Draft, item: ChassisItem) -> Iterator[Relaxation]:
    """Less clearance of an item; and the item left out, which tells that it is what stands in the way."""

    def with_clearance(size: float) -> Draft:
        chassis = (replace(each, clearance=size) if each.name == item.name else each for each in draft.chassis)
        return replace(draft, chassis=tuple(chassis))

    required = say_length(item.clearance, draft.units)
    for each in _lessened(
        "clearance",
        item.clearance,
        1.0,
        with_clearance,
        lambda size: f"with {say_length(size, draft.units)} of clearance to the {item.name}, not {required}",
    ):
        yield replace(each, of=item.name)
    without = replace(draft, chassis=tuple(each for each in draft.chassis if each.name != item.name))
    words = f"without the {item.name}, which stands in the way"
    yield Relaxation("item", 1, lambda _: without, lambda _: 1.0, lambda _: words, WHOLE["item"], item.name)


def with_collector_moved(draft: Draft, name: str, by: Vec) -> Draft:
    """The draft with one collector and its bores moved (mm, engine axes)."""

    frame = next(c.frame for c in draft.collectors if c.name == name)
    return with_collector_at(draft, name, replace(frame, origin=add(frame.origin, by)))


@dataclass(frozen=True, eq=False)
class Helps:
    """The changes that led to paths, the cheapest for the shop first; those that were tried, and how many there are."""

    helped: tuple[Helped, ...]
    tried: tuple[Relaxation, ...]
    of: int


@dataclass(frozen=True, eq=False)
class Helped:
    """A change that led to paths, at the smallest size so far."""

    relaxation: Relaxation
    step: int
    answer: Answer

    @property
    def cost(self) -> float:
        return self.step * self.relaxation.step_cost

    @property
    def is_length(self) -> bool:
        """Whether nothing but the common length is changed."""
        return self.relaxation.name == "length"


def what_would_help(
    draft: Draft,
    meshes: Meshes,
    effort: Effort,
    watch: Watch,
    near: Sequence[str] = (),
    known: tuple[Finding, ...] = (),
) -> Helps:
    """The relaxations that led to paths, as far as the time of the effort goes.

    With rounds, each change is searched for so many. `near`: the chassis items to open.
    """
    relaxations, tried, helped = list(relaxations_of(draft, near)), list[Relaxation](), list[Helped]()
    for k, each in enumerate(relaxations, 1):
        if effort.is_over(AT_MOST):
            break
        tried.append(each)
        problem = _problem(each.draft(each.steps), meshes, known)
        if problem is not None:
            answer, _ = first_answer(problem, _allowed(effort, AT_MOST * k / len(relaxations)), watch)
            helped += [] if answer is None else [Helped(each, each.steps, answer)]
    cleared = {each.relaxation.of for each in helped if each.relaxation.name == "clearance"}
    helped = [each for each in helped if each.relaxation.name != "item" or each.relaxation.of not in cleared]
    least = []
    for k, best in enumerate(sorted(helped, key=lambda each: each.cost), 1):
        share = AT_MOST + (1 - AT_MOST) * k / len(helped)
        least.append(_at_its_least(best, meshes, known, _allowed(effort, share, ROUNDS_LESS)))
    return Helps(tuple(sorted(least, key=lambda each: each.cost)), tuple(tried), len(relaxations))


def say_help(helps: Helps, units: str, has_own_time: bool) -> Iterator[Finding]:
    """What would help, in words; `has_own_time`: whether the changes had time of their own."""
    yield from (_says(each, units) for each in helps.helped)
    if helps.tried and not helps.helped:
        yield _says_none(helps.tried)
    left = helps.of - len(helps.tried)
    if left > 0:
        message = f"No time was left to try {left} of {helps.of} single changes; {_more_time(has_own_time)}."
        yield Finding("route-relax", "info", "route", float(left), float(helps.of), "changes", message)


def _more_time(has_own_time: bool) -> str:
    return "give it more --seconds" if has_own_time else "--relax gives them as much time again"


def _problem(draft: Draft, meshes: Meshes, known: tuple[Finding, ...]) -> RouteProblem | None:
    """The problem of an eased draft; None if no search could help it."""
    return None if what_forbids_it(draft, meshes, known) else problem_of(draft, meshes, known)


def _allowed(effort: Effort, share: float, rounds: int | None = None) -> Allowed:
    """A search that ends when this share of the seconds is over, or after the rounds of the effort."""
    if effort.rounds is not None:
        return Allowed(min(effort.rounds, rounds or effort.rounds), math.inf, effort.seed, effort.now)
    return Allowed(rounds or math.inf, effort.until(share), effort.seed, effort.now)


def _at_its_least(helped: Helped, meshes: Meshes, known: tuple[Finding, ...], allowed: Allowed) -> Helped:
    """The change at its smallest size that led to paths, by halving, as far as the time goes."""
    too_little = 0
    while helped.step - too_little > 1 and not allowed.is_over:
        step = (too_little + helped.step) // 2
        problem = _problem(helped.relaxation.draft(step), meshes, known)
        answer = None if problem is None else _near(problem, helped.answer, allowed)
        if answer is None:
            too_little = step
        else:
            helped = replace(helped, step=step, answer=answer)
    return helped


def _near(problem: RouteProblem, before: Answer, allowed: Allowed) -> Answer | None:
    """The paths of an eased problem drawn to a tighter one, or those of a short search."""
    drawn = polished(problem, _with_radii_of(problem, before.layout))
    answer = None if drawn is None else answer_of(problem, drawn)
    return first_answer(problem, allowed)[0] if answer is None else answer


def _with_radii_of(problem: RouteProblem, layout: Layout) -> Layout:
    """The layout with each radius replaced by the nearest one that the problem has."""
    for tube, run in enumerate(layout.runs):
        nearest = (float(problem.radii[abs(problem.radii - radius).argmin()]) for radius in run.radii)
        layout = layout.with_run(tube, replace(run, radii=tuple(nearest)))
    return layout


def _says(helped: Helped, units: str) -> Finding:
    each, answer = helped.relaxation, helped.answer
    message = (
        f"Paths were found {each.words(helped.step)}: {answer.bends} bends, {answer.degrees:.0f}° in all; all else "
        f"as it is."
    )
    return Finding(
        "route-relaxation", "info", "route", shown_length(each.size(helped.step), units), None, units, message
    )


def _says_none(relaxations: Sequence[Relaxation]) -> Finding:
    kinds = dict.fromkeys(SAID[each.name] for each in relaxations)
    message = f"No paths were found with any single one of {len(relaxations)} changes: {say_list(list(kinds))}."
    return Finding("route-relaxation", "info", "route", 0.0, None, "changes", message)
