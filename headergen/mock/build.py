"""All parts of a header's fit mock, and the place of each on the build plates."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise
from types import MappingProxyType
from typing import TypeVar

import numpy as np

from headergen.geometry.curves.centreline import lengthened
from headergen.mock.beginning import Beginning, beginning_of, slimmer
from headergen.mock.collected import CollectorPlan, collector_parts, hung_on, outlet_fits, plan_collectors
from headergen.mock.coupon import coupon_parts
from headergen.mock.cuts import SOCKET_BOTTOM, Cut, Divided, divide, least_length
from headergen.mock.differences import differences
from headergen.mock.flange import Stub, flange_plates, least_stub
from headergen.mock.guide import guides_of
from headergen.mock.joint import END_GAP, RIB_LENGTH, JointFit, fit_at, keys_for
from headergen.mock.keys import Turns
from headergen.mock.locating import plate_pairs, printed_plates, unreached
from headergen.mock.order import Going, order_of
from headergen.mock.packing import PlacedPart, pack
from headergen.mock.part import MockPart, in_place, overhang
from headergen.mock.steel_adapter import adapter_part
from headergen.mock.strength import Neck, necks, placed_sections, said_of
from headergen.mock.tubes import Span, tube_part
from headergen.model import Centreline, CutGuide, Header, Joint, MockSettings, Piece, PlatePair, PrintedPart, Run
from headergen.shop.pieces import run_joints, run_pieces

Report = Callable[[str, int, int], None]  # stage, done, total
OnFailure = Callable[[str, Exception], None]  # name of a part or of a kind of parts, and its error
STAGE = "mock"
Made = TypeVar("Made")
_Fits = dict[tuple[str, float], JointFit]  # by primary, and length from the flange


@dataclass(frozen=True, eq=False)
class Mock:
    """The parts in order of assembly, the coupon to print first, their places on the build plates, and notes.

    `settings` name only joints at which the print is divided. `locating` are those locating plates, of the pairs that
    are all drawn, for which the bed has room. `placed` and `facts` are those of `printed`: these are the parts, the
    `adapters`, and the `guides` for the `cuts` that are not square.
    """

    settings: MockSettings
    parts: tuple[MockPart, ...]
    collectors: tuple[MockPart, ...]
    locating: tuple[MockPart, ...]
    adapters: tuple[MockPart, ...]
    guides: tuple[MockPart, ...]
    cuts: tuple[CutGuide, ...]
    pairs: tuple[PlatePair, ...]
    coupon: tuple[MockPart, ...]
    placed: tuple[PlacedPart, ...] = ()
    coupon_placed: tuple[PlacedPart, ...] = ()
    facts: tuple[PrintedPart, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def printed(self) -> tuple[MockPart, ...]:
        """All parts except the coupon."""
        return (*self.parts, *self.collectors, *self.locating, *self.adapters, *self.guides)


@dataclass(frozen=True)
class _Plan:
    """One primary before its parts are made; `collected`: its end goes into a printed collector.

    `line` continues past the steel (which `ends` on the collector plane) as far as the locating plates need it.
    """

    run: Run
    line: Centreline
    ends: float
    pieces: tuple[Piece, ...]
    port: Beginning
    begins: Cut
    divided: Divided
    collected: bool


def _give_up(_: str, error: Exception) -> None:
    raise error


@dataclass(frozen=True)
class _Trial:
    """Makes parts, and continues after failures: `failed` lists them."""

    on_failure: OnFailure
    failed: list[str] = field(default_factory=list)

    def of(self, name: str, make: Callable[[], Made]) -> Made | None:
        """The result of `make`, or None if it failed."""
        try:
            return make()
        except Exception as error:
            self.failed.append(name)
            self.on_failure(name, error)
            return None


def make_mock(
    header: Header,
    settings: MockSettings,
    report: Report = lambda *_: None,
    on_failure: OnFailure = _give_up,
) -> Mock:
    """The fit mock of a header.

    `on_failure` is called for each part that is not sound or cannot be printed with these settings, and the rest is
    made. Without it the error is raised: MockError if a part cannot be printed, UnsoundPartError if it is not sound.
    MockError is also raised if nothing is left of the mock.
    """
    trial, settings = _Trial(on_failure), replace(settings, letter=header.draft.letter, units=header.draft.units)
    collectors, not_printed = plan_collectors(header, settings)
    collected = {line.run for plan in collectors for line in plan.ends}
    pairs = trial.of("locating plates", lambda: plate_pairs(header, settings)) or () if settings.plates else ()
    extra = {hole.run: pair.add for pair in pairs for hole in pair.plates[1].holes}
    plans = [
        _planned(header, run, (line, extra.get(run.name, 0.0)), settings, run.name in collected)
        for run, line in header.tubes
        if run.is_primary
    ]
    settings, not_divided = _with_joints(plans, settings)
    fits = _fits(header, plans, collectors, settings)
    parts = _parts(header, (plans, fits), settings, report, trial)
    parts, not_straight = _in_order(parts, plans, header.draft.tube.radius, settings)
    made = _collectors(header, (collectors, fits), settings, trial)
    pairs = _with_ends(pairs, plans, settings.letter)
    locating, too_large = _locating(header, pairs, settings, trial)
    guides, cuts, too_tall = trial.of("cut guides", lambda: guides_of(header, settings)) or ((), (), [])
    adapters = _adapters(header, (plans, fits), settings, trial)
    notes = (
        *_notes(plans),
        *differences(header, settings),
        *not_printed,
        *too_large,
        *too_tall,
        *not_divided,
        *not_straight,
    )
    notes += tuple(unreached(pairs, settings)) if settings.plates else ()
    coupon = trial.of("coupon", lambda: coupon_parts(header.draft.tube, settings)) or ()
    bare = Mock(settings, parts, made, locating, adapters, guides, cuts, pairs, coupon, notes=notes)
    # a chain without one of its parts weighs less, and its stress would be stated too low
    weakest = {} if trial.failed else weakest_necks(parts, settings, hung_on(collectors, made, settings))
    return _on_beds(bare, weakest, settings)


def _in_order(
    parts: Sequence[MockPart], plans: Sequence[_Plan], radius: float, settings: MockSettings
) -> tuple[tuple[MockPart, ...], list[str]]:
    """The parts in an order in which they can be assembled, and a note if none was found."""
    names = {part.name for part in parts}
    tubes = [
        Going(name, plan.line, start, end)
        for plan in plans
        for count, (start, end) in enumerate(pairwise(_places(plan)), 1)
        if (name := f"{settings.letter}{plan.run.mark}-{count}") in names
    ]
    going = {each.name for each in tubes}
    walls = [in_place(part).triangles.reshape(-1, 3) for part in parts if part.name not in going]
    found = order_of(tubes, np.concatenate([np.empty((0, 3)), *walls]), radius, settings.spigot + END_GAP)
    place = {name: k for k, name in enumerate((*found.stuck, *found.names))}
    ordered = tuple(sorted(parts, key=lambda part: place.get(part.name, -1)))
    if not found.stuck:
        return ordered, []
    return ordered, [
        f"No order was found in which all parts go straight on: {', '.join(found.stuck)} are in each other's way. Put "
        "these on first, and turn them past each other."
    ]


def _with_ends(pairs: Sequence[PlatePair], plans: Sequence[_Plan], letter: str) -> tuple[PlatePair, ...]:
    """The pairs with the names of the parts that go through both plates in place of a printed collector."""
    last = {plan.run.name: f"{letter}{plan.run.mark}-{len(_places(plan)) - 1}" for plan in plans if _has_end(plan)}
    found = []
    for pair in pairs:
        names = [hole.run for hole in pair.plates[1].holes if hole.run is not None]
        found.append(replace(pair, stand_in=tuple(last[name] for name in names if name in last)))
    return tuple(found)


def _locating(
    header: Header, pairs: Sequence[PlatePair], settings: MockSettings, trial: _Trial
) -> tuple[tuple[MockPart, ...], list[str]]:
    made: list[MockPart] = []
    notes: list[str] = []
    for pair in pairs:
        names = " and ".join(plate.name for plate in pair.plates)
        plates = trial.of(names, partial(printed_plates, header, (pair,), settings))
        if plates is not None:
            made += plates[0]
            notes += plates[1]
    return tuple(made), notes


def _on_beds(mock: Mock, weakest: Mapping[str, Neck], settings: MockSettings) -> Mock:
    """The mock with a place on a build plate for every part, and its facts."""
    placed = pack([(part.name, part.mesh) for part in mock.printed], settings.bed)
    facts = tuple(
        _facts(part, place, weakest.get(part.name), settings) for part, place in zip(mock.printed, placed, strict=True)
    )
    coupon_placed = pack([(part.name, part.mesh) for part in mock.coupon], settings.bed)
    return replace(mock, placed=placed, facts=facts, coupon_placed=coupon_placed)


def _collectors(
    header: Header, planned: tuple[Sequence[CollectorPlan], _Fits], settings: MockSettings, trial: _Trial
) -> tuple[MockPart, ...]:
    plans, fits = planned
    made: list[MockPart] = []

    def make(count: int, plan: CollectorPlan) -> tuple[MockPart, ...]:
        ends = {line.run: fits[line.run, line.length] for line in plan.ends}
        outlet = {at: fit for (name, at), fit in fits.items() if name == plan.name}
        return tuple(collector_parts(plan, ends, outlet, header.draft.tube, settings))

    for count, plan in enumerate(plans, 1):
        made += trial.of(plan.name, partial(make, count, plan)) or ()
    return tuple(made)


def _parts(
    header: Header, planned: tuple[Sequence[_Plan], _Fits], settings: MockSettings, report: Report, trial: _Trial
) -> tuple[MockPart, ...]:
    """Flange plates, if wanted, and the parts of every primary, in order of assembly."""
    plans, fits = planned
    radius, total = header.draft.tube.radius, sum(len(plan.divided.cuts) + 1 for plan in plans)
    report(STAGE, 0, total)
    parts: list[MockPart] = []
    if settings.flange:
        stubs = {
            plan.run.number: Stub(
                plan.line,
                plan.begins.at,
                fits[plan.run.name, plan.begins.at],
                plan.port,
                sum(piece.start < plan.begins.at - 1e-6 for piece in plan.pieces),
            )
            for plan in plans
        }
        for flange in header.draft.flanges:
            own = {port.number: stubs[port.number] for port in flange.ports if port.number in stubs}
            plates = partial(flange_plates, flange, own, radius, settings, len(parts) + 1)
            parts += (trial.of(f"{flange.part} plates", plates) or ()) if own else ()
    spans = [(plan, span) for plan in plans for span in _spans(plan, fits)]
    for done, (plan, span) in enumerate(spans, 1):
        name = f"{settings.letter}{plan.run.mark}-{span.number}"
        made = trial.of(name, partial(tube_part, plan.line, span, radius, settings, plan.pieces, name))
        parts += [] if made is None else [made]
        report(STAGE, done, total)
    return tuple(parts)


def _with_joints(plans: Sequence[_Plan], settings: MockSettings) -> tuple[MockSettings, list[str]]:
    """The settings without the joints at which the print is not divided, and a note for each of these."""
    divided = {(plan.run.name, cut.joint) for plan in plans for cut in _cuts(plan, settings)}
    numbers = {plan.run.name: plan.run.number for plan in plans}
    adapted, free = (
        tuple(joint for joint in joints if joint in divided) for joints in (settings.steel_after, settings.without_key)
    )
    notes = [
        f"There is no steel adapter {settings.letter}J{numbers[name]}-{joint}: the print is not divided at joint "
        f"{joint} of {name}."
        for name, joint in settings.steel_after
        if (name, joint) not in adapted
    ]
    notes += [
        f"Joint {joint} of {name} is not free to turn: the print is not divided at it."
        for name, joint in settings.without_key
        if (name, joint) not in free
    ]
    return replace(settings, steel_after=adapted, without_key=free), notes


def _adapters(
    header: Header, planned: tuple[Sequence[_Plan], _Fits], settings: MockSettings, trial: _Trial
) -> tuple[MockPart, ...]:
    """A steel adapter for each joint at which steel follows plastic."""
    plans, fits = planned
    cuts = {(plan.run.name, cut.joint): (plan.line, cut.at) for plan in plans for cut in _cuts(plan, settings)}
    made = []
    for run, joint in settings.steel_after:
        line, at = cuts[run, joint]
        name, place = f"{settings.letter}J{header.run(run).number}-{joint}", (at, fits[run, at])
        made.append(trial.of(name, partial(adapter_part, name, line, place, header.draft.tube, settings)))
    return tuple(adapter for adapter in made if adapter is not None)


def _cuts(plan: _Plan, settings: MockSettings) -> tuple[Cut, ...]:
    """The places at which the spigots of a primary begin."""
    last = (Cut(plan.ends, None),) if plan.collected else ()
    return (*((plan.begins,) if settings.flange else ()), *plan.divided.cuts, *last)


def _planned(
    header: Header, run: Run, tube: tuple[Centreline, float], settings: MockSettings, collected: bool
) -> _Plan:
    """`tube`: the steel's centreline, and the extra length that the plates need."""
    (line, extra), draft, radius = tube, header.draft, header.draft.tube.radius
    if extra and collected:
        extra = max(extra, least_length(settings, False))
    long = lengthened(line, extra) if extra else line
    port = beginning_of(draft.flange_of(run.port), run.port, draft.tube)
    joints = run_joints(run, line)
    able = [joint for joint in joints if joint.at >= port.tube - 1e-6]  # a transition is printed in one part
    begins = Cut(0.0, None)
    if settings.flange:
        begins = _flange_cut(able, least_stub(line, draft.flange_of(run.port), settings, radius), port.tube, settings)
    after = max(begins.at, port.tube)
    divided = divide(line if collected else long, able, after, settings, radius, collected)
    within = tuple(joint.number for joint in joints if joint.at < after - 1e-6)
    divided = Divided(divided.cuts, (*within, *divided.left_out))
    return _Plan(run, long, line.length, run_pieces(run, line), port, begins, divided, collected)


def _flange_cut(joints: Sequence[Joint], least: float, tube: float, settings: MockSettings) -> Cut:
    """The end of a stub: the first joint beyond its least length, if a part before that joint would be too short.

    Without such a joint, a stub with a transition extends past it until its socket is in round tube.
    """
    least = max(least, tube)
    reached = next((joint for joint in joints if joint.at >= least - 1e-6), None)
    if tube:
        least = max(least, tube + settings.spigot + END_GAP + SOCKET_BOTTOM)
    if reached is not None and reached.at - least < least_length(settings, True):
        return Cut(reached.at, reached.number)
    return Cut(least, None)


def _fits(header: Header, plans: Sequence[_Plan], collectors: Sequence[CollectorPlan], settings: MockSettings) -> _Fits:
    """The joint at every place where a spigot begins; each has a different key, unless the spec leaves it without one.

    Those of a collector's outlet have the name of its print.
    """
    tube = header.draft.tube
    cuts = [(plan, cut) for plan in plans for cut in _cuts(plan, settings)]
    keyed = [(plan.run.name, cut.at) for plan, cut in cuts if (plan.run.name, cut.joint) not in settings.without_key]
    keyed += [(plan.name, at) for plan in collectors for at in plan.begins]
    slim = {(plan.run.name, cut.at): _slimmer(plan, cut, settings) for plan, cut in cuts}
    bare = [fit_at(plan.line, cut.at, tube, settings, None, slim[plan.run.name, cut.at]) for plan, cut in cuts]
    bare += [fit for plan in collectors for fit in outlet_fits(plan, tube, settings, {}).values()]
    core = min((fit.core for fit in bare), default=tube.radius)
    given: dict[tuple[str, float], Turns] = dict(
        zip(keyed, keys_for(len(keyed), core, settings.gap, settings.letter), strict=True)
    )
    fits = {
        (plan.run.name, cut.at): fit_at(
            plan.line,
            cut.at,
            tube,
            settings,
            given.get((plan.run.name, cut.at)),
            slim[plan.run.name, cut.at],
        )
        for plan, cut in cuts
    }
    for plan in collectors:
        turns = {at: given[plan.name, at] for at in plan.begins}
        fits |= {(plan.name, at): fit for at, fit in outlet_fits(plan, tube, settings, turns).items()}
    return fits


def _slimmer(plan: _Plan, cut: Cut, settings: MockSettings) -> tuple[float, float]:
    """How much thinner than the tube the part around a spigot is, along the spigot and along its ribs."""
    over, ribs = (slimmer(plan.port, cut.at, length) for length in (settings.spigot + END_GAP, RIB_LENGTH))
    return (over, ribs)


def _spans(plan: _Plan, fits: _Fits) -> list[Span]:
    name = plan.run.name
    return [
        Span(
            count,
            start,
            end,
            fits.get((name, start)),
            fits.get((name, end)),
            None if start else plan.port,
            plan.ends if start < plan.ends < end else None,
        )
        for count, (start, end) in enumerate(pairwise(_places(plan)), 1)
    ]


def _places(plan: _Plan) -> list[float]:
    """The lengths at which its tube parts begin and end."""
    ends = [plan.ends, plan.line.length] if _has_end(plan) else [plan.line.length]
    return [plan.begins.at, *(cut.at for cut in plan.divided.cuts), *ends]


def _has_end(plan: _Plan) -> bool:
    """Whether the piece through the locating plates is a separate part, which a printed collector replaces."""
    return plan.collected and plan.line.length > plan.ends


def weakest_necks(
    parts: Sequence[MockPart], settings: MockSettings, hung: Mapping[str, float] = MappingProxyType({})
) -> dict[str, Neck]:
    """The most stressed neck of each part, over the primaries that hang on it.

    `hung`: g, on the end of each primary besides the weight that is set.
    """
    found: dict[str, Neck] = {}
    for run in dict.fromkeys(run for part in parts for run in part.runs):
        chain = [
            (part.name, section)
            for part in parts
            for section in placed_sections(part.sections, part.home)
            if section.run == run
        ]
        loaded = replace(settings, weight=settings.weight + hung.get(run, 0.0))
        for name, neck in necks(chain, loaded).items():
            if name not in found or neck.stress > found[name].stress:
                found[name] = neck
    return found


def _facts(part: MockPart, place: PlacedPart, neck: Neck | None, settings: MockSettings) -> PrintedPart:
    return PrintedPart(
        name=part.name,
        runs=part.runs,
        pieces=part.pieces,
        size=part.size,
        volume=part.volume,
        smallest_section=part.smallest_section,
        overhang=overhang(part.mesh, settings.lean),
        bed_plate=place.plate,
        stress=0.0 if neck is None else neck.stress,
        notes=(*part.notes, *said_of(neck, settings.units)),
    )


def _notes(plans: Sequence[_Plan]) -> list[str]:
    """The differences between the print and the steel."""
    notes = []
    for plan in plans:
        for number in plan.divided.left_out:
            notes.append(
                f"Run {plan.run.name}: pieces {number} and {number + 1} are printed as one; there is no "
                "room for a socket between their joints."
            )
    return notes
