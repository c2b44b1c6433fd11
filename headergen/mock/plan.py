"""Each run before its parts are made: where it is divided, what each part stands for, and its joints.

A run is divided at the joints of the shop's plan, so that a printed part is the twin of one steel piece and has its
number, and within a piece only where the printer asks for it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from headergen.geometry.curves.centreline import backwards, cut_out, lengthened
from headergen.geometry.curves.sides import SideJoint, highest, leaves_side
from headergen.geometry.curves.stepped import is_stepped, widest_radius
from headergen.mock.beginning import Beginning, beginning_of, slimmer
from headergen.mock.collected import CollectorPlan, outlet_fits, slimmer_outlet
from headergen.mock.cuts import SOCKET_BOTTOM, Cut, CutNeeds, Divided, divide, least_length
from headergen.mock.flange import least_stub
from headergen.mock.joint import END_GAP, RIB_LENGTH, JointFit, fit_at, keys_for
from headergen.mock.keys import Turns
from headergen.mock.seated import (
    Branch,
    SeatError,
    branches_of,
    kept_whole,
    middle_cut,
    seats_of,
    turned_round,
)
from headergen.mock.sizes import grows_within, refuse_growth_in_stub, slimmest_tube
from headergen.mock.steel_adapter import adapter_length
from headergen.mock.tubes import Span
from headergen.model import Centreline, CutPiece, Header, Line, MockSettings, Plan, Run, Tube, WeldJoint

BETWEEN = 5.0  # mm of a steel straight left between what stands in its two ends
LEG = 60.0  # mm of a bend's leg from which real tube stands in for it
SAME = 1e-6  # mm

Seats = tuple[SideJoint | None, SideJoint | None]
Fits = dict[tuple[str, float], JointFit]  # by run and length from its start


@dataclass(frozen=True)
class RunPlan:
    """One run before its parts are made; `collected`: its end goes into a printed collector.

    `mark`: what the names of its parts begin with. `line` goes on past the steel, which `ends` on the collector plane,
    as far as locating plates ask for. `port`: the beginning of a primary. `is_held`: its first tube part goes into a
    flange plate, or into the outlet of a printed collector. `seats`: where it begins and ends on the side of others;
    `branches`: what sits on it.
    """

    run: Run
    mark: str
    line: Centreline
    ends: float
    pieces: tuple[CutPiece, ...]
    port: Beginning | None
    begins: Cut
    divided: Divided
    collected: bool
    is_held: bool
    seats: Seats = (None, None)
    branches: tuple[Branch, ...] = ()

    @property
    def ends_on_another(self) -> bool:
        """Whether its end sits on the side of another run; its last part is then printed the other way round."""
        return self.seats[1] is not None

    @property
    def back(self) -> Centreline:
        """The centreline from its end."""
        return backwards(self.line)

    @property
    def stem(self) -> str:
        """Its mark in the names of steel straights and adapters: 2 of P2, R1 of R1."""
        return self.mark.removeprefix("P")

    @property
    def has_end(self) -> bool:
        """Whether what goes through the locating plates is a part of its own, which a printed collector takes off."""
        return self.collected and self.line.length > self.ends

    @property
    def places(self) -> list[float]:
        """Where its tube parts begin and end."""
        ends = [self.ends, self.line.length] if self.has_end else [self.line.length]
        return [self.begins.at, *(cut.at for cut in self.divided.cuts), *ends]


@dataclass(frozen=True)
class Twin:
    """What stands for a piece of steel, wholly or in part: a printed part, or a steel straight.

    `name` is P and the number of the piece along its primary, with .1, .2 … where one piece is printed in several; S
    of a steel straight; P1-L goes through the locating plates. `cut`: where it begins.
    """

    name: str
    start: float
    end: float
    pieces: tuple[int, ...]
    share: tuple[int, int]
    is_steel: bool
    cut: Cut


def planned(
    header: Header, tube: tuple[Run, Centreline, float], plan: Plan, settings: MockSettings, collected: bool
) -> RunPlan:
    """`tube`: a run, the steel's centreline, and what the plates ask for past it.

    Raises SeatError if it ends on another run and is too short, or not of one size.
    """
    run, line, extra = tube
    seats, branches = seats_of(header, run), branches_of(header, run)
    if extra and collected:
        extra = max(extra, least_length(settings, False))
    long = lengthened(line, extra) if extra else line
    pieces, joints = plan.of_run(run.name), plan.joints_of(run.name)
    if seats[1] is not None and is_stepped(run):
        raise SeatError("its tube is stepped, and its last part would be printed the other way round")
    port, begins, is_held = _begun(header, run, line, joints, settings)
    tube_from = 0.0 if port is None else port.tube
    after = max(begins.at, tube_from) if seats[0] is None else highest(seats[0])
    whole = kept_whole(branches, settings, from_both_ends=seats[1] is not None)

    def steel(places: Sequence[float]) -> tuple[Sequence[float], Collection[float]]:
        if settings.straights != "steel" or any(seats) or branches:  # a fishmouth sits on print
            return (), ()
        first = places[0] if is_held else places[1]
        return steel_in((run, line if collected else long), places, (first, pieces), settings)

    able = [joint for joint in joints if joint.at >= tube_from - SAME]  # a transition is printed in one
    printed, past = (line, 0.0) if collected else (long, long.length - line.length)
    if seats[1] is not None:
        printed = cut_out(line, 0.0, line.length - highest(seats[1]))
    needs = CutNeeds(collected or seats[1] is not None, steel, past, whole)
    divided = divide(printed, able, after, settings, widest_radius(run), needs)
    if seats[1] is not None and not divided.cuts:
        divided = replace(divided, cuts=(Cut(middle_cut((after, printed.length), settings), None),))
    within = tuple(joint.number for joint in joints if joint.at < after - SAME)
    divided = replace(divided, left_out=(*within, *divided.left_out))
    mark = header.draft.mock_mark(run)
    return RunPlan(run, mark, long, line.length, pieces, port, begins, divided, collected, is_held, seats, branches)


def _begun(
    header: Header, run: Run, line: Centreline, joints: Sequence[WeldJoint], settings: MockSettings
) -> tuple[Beginning | None, Cut, bool]:
    """How a primary begins, where the first tube part of a run does, and whether that is held by what is before it."""
    if not run.is_primary:
        return None, Cut(0.0, None), not leaves_side(run)  # in the outlet of a printed collector
    flange = header.draft.flange_of(run.port)
    port = beginning_of(flange, run.port, run.tube)
    if not settings.flange:
        return port, Cut(0.0, None), False
    able = [joint for joint in joints if joint.at >= port.tube - SAME]
    least = least_stub(line, flange, settings, run.tube.radius)
    cut = _flange_cut(able, least, port.tube, settings)
    refuse_growth_in_stub(run, cut.at, settings.units)
    return port, cut, True


def _flange_cut(joints: Sequence[WeldJoint], least: float, tube: float, settings: MockSettings) -> Cut:
    """Where a stub ends: at the first joint it reaches, when what lay between would be too short for a part.

    Without such a joint a stub that has a transition reaches so far past it that its socket is in the round.
    """
    least = max(least, tube)
    reached = next((joint for joint in joints if joint.at >= least - SAME), None)
    if tube:
        least = max(least, tube + settings.spigot + END_GAP + SOCKET_BOTTOM)
    if reached is not None and reached.at - least < least_length(settings, True):
        return Cut(reached.at, reached.number)
    return Cut(least, None)


def steel_in(
    tube: tuple[Run, Centreline],
    places: Sequence[float],
    given: tuple[float, Sequence[CutPiece]],
    settings: MockSettings,
) -> tuple[tuple[float, ...], frozenset[float]]:
    """Where bends are cut off their legs, and where steel straights begin, of the stretches between these places.

    `given`: the first place at which there is something before to hold steel, and the pieces of the plan. Of steel are
    straight pieces with room for what goes into their ends, and legs that take longer to print than to hold; none where
    the tube grows, or what goes into an end would be of two sizes.
    """
    (run, line), (first, pieces) = tube, given
    least, bend = adapter_length(settings) + settings.spigot + BETWEEN, least_length(settings, True)
    cuts: list[float] = []
    starts: set[float] = set()
    for start, end in pairwise(places):
        mine = _within(pieces, start, end)
        if len(mine) != 1 or grows_within(run, start - settings.spigot - END_GAP, end + settings.spigot + END_GAP):
            continue
        if not mine[0].is_bend:
            starts |= {start} if start >= first and end - start >= least else set()
            continue
        low, high = _bent(line, start, end)
        low = low if start >= first and low - start >= LEG else start
        high = max(high, low + bend)
        if low > start:
            starts.add(start)
            cuts.append(low)
        if end - high >= LEG and mine[0].end > high + SAME:  # not only what locating plates ask for past the steel
            starts.add(high)
            cuts.append(high)
    return tuple(cuts), frozenset(starts)


def _bent(line: Centreline, start: float, end: float) -> tuple[float, float]:
    """From where to where a stretch bends; nowhere, at its start, if it is straight."""
    begins = line.starts
    bent = [
        (max(begin, start), min(begin + segment.length, end))
        for segment, begin in zip(line.segments, begins, strict=False)
        if not isinstance(segment, Line) and begin < end - SAME and begin + segment.length > start + SAME
    ]
    return (bent[0][0], bent[-1][1]) if bent else (start, start)


def _within(pieces: Sequence[CutPiece], start: float, end: float) -> list[CutPiece]:
    return [piece for piece in pieces if piece.start < end - SAME and piece.end > start + SAME]


def twins_of(plan: RunPlan, settings: MockSettings) -> tuple[Twin, ...]:
    """What is printed of a run, and its steel straights, from its start on; the stub on a flange plate is neither."""
    cuts = {cut.at: cut for cut in (plan.begins, *plan.divided.cuts)}
    groups: list[list[tuple[float, float]]] = []
    for start, end in pairwise(plan.places):
        if groups and start in cuts and cuts[start].joint is None:
            groups[-1].append((start, end))
        else:
            groups.append([(start, end)])
    found: list[Twin] = []
    for group in groups:
        pieces = tuple(piece.number for piece in _within(plan.pieces, group[0][0], group[-1][1]))
        number = str(pieces[0]) if pieces else "L" if group[0][0] == plan.ends else "1"
        for count, (start, end) in enumerate(group, 1):
            mine = tuple(piece.number for piece in _within(plan.pieces, start, end))
            is_steel = start in plan.divided.steel
            name = settings.letter + (f"S{plan.stem}" if is_steel else plan.mark)
            name += f"-{number}" + (f".{count}" if len(group) > 1 else "")
            cut = cuts.get(start, Cut(start, None))
            found.append(Twin(name, start, end, mine, (count, len(group)), is_steel, cut))
    return tuple(found)


def cuts_of(plan: RunPlan) -> tuple[Cut, ...]:
    """Where the spigots of a run begin."""
    last = (Cut(plan.ends, None),) if plan.collected else ()
    return (*((plan.begins,) if plan.is_held else ()), *plan.divided.cuts, *last)


def span_of(plan: RunPlan, twin: Twin, fits: Mapping[tuple[str, float], JointFit]) -> tuple[Centreline, Span]:
    """What is made of a printed part, and the centreline along which its lengths count."""
    name, length = plan.run.name, plan.line.length
    inside = tuple(each for each in plan.branches if twin.start < each.joint.at < twin.end)
    if plan.ends_on_another and twin.end == plan.ends:
        fit = fits[from_its_end(name), twin.start]
        turned = tuple(turned_round(inside, length))
        return plan.back, Span(0.0, length - twin.start, None, fit, seat=plan.seats[1], branches=turned)
    span = Span(
        twin.start,
        twin.end,
        fits.get((name, twin.start)),
        fits.get((name, twin.end)),
        None if twin.start else plan.port,
        plan.ends if twin.start < plan.ends < twin.end else None,
        None if twin.start else plan.seats[0],
        inside,
    )
    return plan.line, span


def from_its_end(run: str) -> str:
    """Where the joints of a run's last part stand that is printed the other way round."""
    return f"{run}, from its end"


def fits_of(
    header: Header, plans: Sequence[RunPlan], collectors: Sequence[CollectorPlan], settings: MockSettings
) -> Fits:
    """The joint at every place where a spigot begins, each with a key of its own unless the spec leaves it free.

    Those of a collector's outlet stand under the name of its print.
    """
    cuts = [(plan, cut) for plan in plans for cut in cuts_of(plan)]
    keyed = [(plan.run.name, cut.at) for plan, cut in cuts if (plan.run.name, cut.joint) not in settings.without_key]
    keyed += [(plan.name, at) for plan in collectors for at in plan.begins]
    turned = [(plan, plan.divided.cuts[-1].at) for plan in plans if plan.ends_on_another]
    keyed += [(from_its_end(plan.run.name), at) for plan, at in turned]
    slim = {(plan.run.name, cut.at): _slimmer(plan, cut, settings) for plan, cut in cuts}
    slim |= {(plan.followed_by, 0.0): slimmer_outlet(plan, settings) for plan in collectors if plan.followed_by}
    bare = [
        fit_at(plan.line, cut.at, _held_in(plan, cut, settings), settings, None, slim[plan.run.name, cut.at])
        for plan, cut in cuts
    ]
    bare += [fit_at(plan.back, plan.line.length - at, plan.run.tube, settings, None) for plan, at in turned]
    bare += [fit for plan in collectors for fit in outlet_fits(plan, settings, {}).values()]
    core = min((fit.core for fit in bare), default=header.draft.tube.radius)
    given: dict[tuple[str, float], Turns] = dict(
        zip(keyed, keys_for(len(keyed), core, settings.gap, settings.letter), strict=True)
    )
    fits = {
        (plan.run.name, cut.at): fit_at(
            plan.line,
            cut.at,
            _held_in(plan, cut, settings),
            settings,
            given.get((plan.run.name, cut.at)),
            slim[plan.run.name, cut.at],
        )
        for plan, cut in cuts
    }
    for one, at in turned:
        key = from_its_end(one.run.name), at
        fits[key] = fit_at(one.back, one.line.length - at, one.run.tube, settings, given[key])
    for plan in collectors:
        turns = {at: given[plan.name, at] for at in plan.begins}
        fits |= {(plan.name, at): fit for at, fit in outlet_fits(plan, settings, turns).items()}
    return fits


def _held_in(plan: RunPlan, cut: Cut, settings: MockSettings) -> Tube:
    """The tube that holds the spigot at a cut: of a stepped run, the smallest over its socket."""
    return slimmest_tube(plan.run, cut.at - settings.spigot - END_GAP, cut.at)


def _slimmer(plan: RunPlan, cut: Cut, settings: MockSettings) -> tuple[float, float]:
    """By how much what holds a spigot is slimmer than the tube, over the spigot and over its ribs."""
    if plan.port is None:
        return (0.0, 0.0)
    over, ribs = (slimmer(plan.port, cut.at, length) for length in (settings.spigot + END_GAP, RIB_LENGTH))
    return (over, ribs)


def not_divided(plans: Sequence[RunPlan]) -> list[str]:
    """A note for each joint of the plan at which the print is not divided."""
    return [
        f"Run {plan.run.name}: pieces {number} and {number + 1} are printed as one; there is no room for a socket "
        "between their joints."
        for plan in plans
        for number in plan.divided.left_out
    ]
