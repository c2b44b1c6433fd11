"""A primary led past what it is too near to: the least change of its path that keeps both its ends and its length."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from headergen.checks.measure import gaps_of_run
from headergen.checks.moves import way_off
from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_on, locate
from headergen.geometry.curves.run import line_of
from headergen.geometry.frames import dot, subtract
from headergen.model import Draft, Fit, Gap, Header, Place, Run, Vec
from headergen.model.lengths import required_length
from headergen.solve.arrival import Chain, chain_of, changed_steps, equations, place_moves, problem_of
from headergen.solve.closing import close
from headergen.solve.freeing import every_value
from headergen.solve.hints.half_spaces import SPARE, HalfSpace
from headergen.solve.hints.trial import Known, may_measure
from headergen.solve.least_change import solve_equations

ROUNDS = 5  # of moving and measuring again
LEAST = 1e-6  # mm by which a gap may fall short of its requirement


@dataclass(frozen=True, eq=False)
class Led:
    """The result of leading a primary aside: the new primary (None if none was found), and all half-spaces used."""

    primary: Run | None
    cuts: tuple[HalfSpace, ...]


def led_aside(known: Known, primary: Run, required: Sequence[Gap]) -> Led:
    """A primary with the gaps `required` large enough, and no other gap newly too small."""
    allowed = _allowed(known, primary.name, required)
    cuts = [cut for gap in required for cut in _cuts(primary, gap, allowed)]
    for gap in _mine(known.survey.gaps, primary.name):
        if gap not in required and gap.is_too_small:
            cuts += _cuts(primary, gap, allowed)
    told = {cut.other for cut in cuts}
    if not all(gap.b in told for gap in required):
        return Led(None, tuple(cuts))
    for _ in range(ROUNDS):
        now = closed_past(known.header.draft, primary, cuts)
        if now is None or not may_measure(known, 1):
            break
        near = gaps_of_run(_with(known.header, now), known.meshes, primary.name)
        short = [gap for gap in _mine(near, primary.name) if _is_short(gap, allowed)]
        if not short:
            return Led(now, tuple(cuts))
        cuts += [cut for gap in short for cut in _cuts(now, gap, allowed)]
    return Led(None, tuple(cuts))


def freed_of(known: Known) -> dict[str, tuple[Fit, ...]]:
    """For each primary that misses its bore and could be closed: the values that would close it if they were free."""
    return {miss.run: miss.would_help for miss in known.header.misses if miss.would_help}


def all_closed(known: Known) -> Header | None:
    """The header with everything free that would close its primaries; None if nothing would."""
    freed, draft = freed_of(known), known.header.draft
    if not freed:
        return None
    settled = {each.name: each.steps for each in known.header.primaries}
    primaries = tuple(
        replace(each, steps=settled[each.name], fits=(*each.fits, *freed[each.name])) if each.name in freed else each
        for each in draft.primaries
    )
    return close(draft.with_primaries(primaries))


def newly_short(known: Known, closed: Header, name: str) -> list[Gap]:
    """Gaps of a primary that are too small in the closed header and were not before; the worst first."""
    if not may_measure(known, 1):
        return []
    allowed = _allowed(known, name, [])
    near = gaps_of_run(closed, known.meshes, name)
    short = [gap for gap in _mine(near, name) if _is_short(gap, allowed)]
    return sorted(short, key=lambda gap: gap.value - gap.required)


def shift_at(before: Run, after: Run, place: Place) -> Vec:
    """The movement of a place of the tube, on the same step at the same share."""
    at = share_at(before, place)
    return subtract(_place(after, at), _place(before, at))


def with_primary(draft: Draft, primary: Run) -> Draft:
    """The draft with one primary replaced, by its number."""
    return replace(draft, runs=tuple(primary if run.name == primary.name else run for run in draft.runs))


def closed_past(draft: Draft, primary: Run, cuts: Sequence[HalfSpace]) -> Run | None:
    """The primary closed on its bore at its length, with the least change of its values that keeps the cuts.

    None if no such path was found.
    """
    from scipy.optimize import minimize  # slow to import, and most headers need no hint

    target = required_length(primary, draft) or line_of(primary).length
    chain = chain_of(primary, every_value(primary, draft), target)
    problem, start = problem_of(chain), np.zeros(len(chain.values))
    constraints = [
        {"type": "eq", "fun": lambda x: equations(chain, x)[0], "jac": lambda x: equations(chain, x)[1]},
        {"type": "ineq", "fun": lambda x: _spare(chain, primary, cuts, x), "jac": _slopes(chain, primary, cuts)},
    ]
    bounds = list(zip(problem.low.tolist(), problem.high.tolist(), strict=True))
    result = minimize(
        lambda x: 0.5 * float(x @ x), start, jac=lambda x: x, method="SLSQP", bounds=bounds,
        constraints=constraints if cuts else constraints[:1], options={"maxiter": 60},
    )  # fmt: skip
    if not np.isfinite(result.x).all():
        return None
    point = solve_equations(problem, result.x)
    if not point.is_solution or (cuts and float(_spare(chain, primary, cuts, point.x).min()) < -SPARE):
        return None
    return replace(primary, steps=changed_steps(chain, point.x), fits=())


def _spare(chain: Chain, primary: Run, cuts: Sequence[HalfSpace], x: Array) -> Array:
    """(k,) the margin of each cut, in mm."""
    now = replace(primary, steps=changed_steps(chain, x))
    line = line_of(now)
    found = []
    for cut in cuts:
        segment = line.segments[cut.at[0] - 1]
        found.append(dot(frame_on(segment, cut.at[1] * segment.length)[0], cut.way) - cut.least)
    return np.array(found)


def _slopes(chain: Chain, primary: Run, cuts: Sequence[HalfSpace]) -> Callable[[Array], Array]:
    """x ↦ (k, n) derivatives of the margins of the cuts by each value."""

    def slopes(x: Array) -> Array:
        line = line_of(replace(primary, steps=changed_steps(chain, x)))
        return np.array([place_moves(line, chain.values, cut.at) @ np.array(cut.way) for cut in cuts])

    return slopes


def _with(header: Header, primary: Run) -> Header:
    runs = tuple(primary if run.name == primary.name else run for run in header.runs)
    return replace(header, runs=runs, centrelines=tuple(line_of(run) for run in runs))


def _mine(gaps: Sequence[Gap], name: str) -> Iterator[Gap]:
    """The gaps of one primary, each seen from it."""
    for gap in gaps:
        if gap.a == name:
            yield gap
        elif gap.b == name:
            yield replace(gap, a=gap.b, b=gap.a, at=gap.at[::-1], points=gap.points[::-1])


def seen_from(gap: Gap, name: str) -> Gap:
    """The gap with the named run first."""
    return next(_mine([gap], name))


AllowedGaps = dict[tuple[str, bool], float]


def _allowed(known: Known, name: str, required: Sequence[Gap]) -> AllowedGaps:
    """A gap that is too small already, and not among the required ones, may stay as it is."""
    return {
        (gap.b, gap.together): gap.value
        for gap in _mine(known.survey.gaps, name)
        if gap.is_too_small and gap not in required
    }


def _is_short(gap: Gap, allowed: AllowedGaps) -> bool:
    key = gap.b, gap.together
    if key in allowed:
        return gap.value < allowed[key] - LEAST
    return gap.is_too_small and gap.value < gap.required - LEAST


def _cuts(primary: Run, gap: Gap, allowed: AllowedGaps) -> Iterator[HalfSpace]:
    way = None if gap.runs_through else way_off(gap.points, gap.value)
    if way is not None:
        at = share_at(primary, gap.place)
        kept = (gap.b, gap.together) in allowed
        more = 0.0 if kept else gap.required - gap.value + SPARE
        yield HalfSpace(gap.b, way, dot(_place(primary, at), way) + more, at)


def share_at(primary: Run, place: Place) -> tuple[int, float]:
    """The step at a place, and the share of it before the place."""
    line = line_of(primary)
    index, into = locate(line, place.at)
    return line.segments[index].step, into / max(line.segments[index].length, 1e-9)


def _place(primary: Run, at: tuple[int, float]) -> Vec:
    segment = line_of(primary).segments[at[0] - 1]
    return frame_on(segment, at[1] * segment.length)[0]
