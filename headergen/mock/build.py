"""All parts of a header's fit mock, and the place of each on the build plates."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise
from typing import Any, TypeVar

from headergen.geometry.curves.stepped import tube_at
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.mock.collected import CollectorPlan, collector_parts, held_runs, hung_on, plan_collectors
from headergen.mock.coupon import coupon_parts
from headergen.mock.differences import differences
from headergen.mock.flange import Stub, flange_plates
from headergen.mock.going_on import in_order
from headergen.mock.guide import guides_of
from headergen.mock.hours import hours_of, printed, shared_out
from headergen.mock.kept import KeptMockParts, all_of
from headergen.mock.locating import plate_pairs, printed_plates, unreached, without_plates
from headergen.mock.nipple import nipple_part
from headergen.mock.packing import PlacedPart, pack
from headergen.mock.part import MockPart, overhang
from headergen.mock.plan import Fits, RunPlan, Twin, cuts_of, fits_of, not_divided, planned, span_of, twins_of
from headergen.mock.saddle import saddles_of
from headergen.mock.sizes import outside_of
from headergen.mock.standing_on import loads_on, nipple_ends, nipple_name, not_seated, seats_in
from headergen.mock.steel_adapter import adapter_part
from headergen.mock.steel_straights import adapter_before, adapter_name, held_by, straight_mesh, straights_of
from headergen.mock.strength import Load, Neck, TubeSection, loads_of, placed_sections, said_of
from headergen.mock.tubes import tube_part
from headergen.mock.weakest import weakest_necks
from headergen.model import (
    Centreline,
    CutGuide,
    CutPiece,
    Header,
    MockSettings,
    Plan,
    PlatePair,
    PrintedPart,
    Run,
    SaddleFacts,
    SeatFacts,
    SteelStraight,
)
from headergen.shop.stage import pieces_of

Report = Callable[[str, int, int], None]  # stage, done, total
OnFailure = Callable[[str, Exception], None]  # name of a part or of a kind of parts, and its error
STAGE = "mock"
THICKER = 1.5  # times the wall of a tube: that of an adapter that needs it
Made = TypeVar("Made")
_Held = Sequence[tuple[Run, Centreline]]
_Tubes = Sequence[tuple[RunPlan, tuple[Twin, ...]]]  # each run, and what stands for its pieces


@dataclass(frozen=True, eq=False)
class Mock:
    """The parts in order of assembly, the coupon to print first, their places on the build plates, and notes.

    `settings` name those joints only that the print is divided at.
    `order`: the names of tube parts and steel straights as they go on. `pieces` are those of the plan; `straights` the
    steel to saw, with its meshes in `steel`, in engine axes by name. `hours` are those that each build plate prints.
    `locating` are the locating plates that the bed has room for, of the pairs that all are drawn. `placed` and `facts`
    are those of `printed`: beside the parts the `adapters`, and the `guides` for the `cuts` that are not square.
    """

    settings: MockSettings
    parts: tuple[MockPart, ...]
    collectors: tuple[MockPart, ...]
    locating: tuple[MockPart, ...]
    adapters: tuple[MockPart, ...]
    guides: tuple[MockPart, ...]
    cuts: tuple[CutGuide, ...]
    saddles: tuple[MockPart, ...]
    pairs: tuple[PlatePair, ...]
    coupon: tuple[MockPart, ...]
    placed: tuple[PlacedPart, ...] = ()
    coupon_placed: tuple[PlacedPart, ...] = ()
    facts: tuple[PrintedPart, ...] = ()
    notes: tuple[str, ...] = ()
    order: tuple[str, ...] = ()
    pieces: tuple[CutPiece, ...] = ()
    straights: tuple[SteelStraight, ...] = ()
    steel: Mapping[str, TriangleMesh] = field(default_factory=dict)
    hours: tuple[float, ...] = ()
    saddle_facts: tuple[SaddleFacts, ...] = ()
    seats: tuple[SeatFacts, ...] = ()
    hours_for: tuple[tuple[str, float], ...] = ()

    @property
    def printed(self) -> tuple[MockPart, ...]:
        """All parts except the coupon."""
        return (*self.parts, *self.collectors, *self.locating, *self.adapters, *self.guides, *self.saddles)


def _give_up(_: str, error: Exception) -> None:
    raise error


@dataclass(frozen=True)
class _Trial:
    """Makes parts, or takes those that are kept, and continues after failures: `failed` lists them."""

    on_failure: OnFailure
    store: KeptMockParts | None = None
    failed: list[str] = field(default_factory=list)

    def parts(self, name: str, make: partial[Any]) -> tuple[MockPart, ...]:
        """The part or the parts that a function gives for its arguments; none if it failed."""
        return self.of(name, lambda: all_of(make()) if self.store is None else self.store.parts(make)) or ()

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
    store: KeptMockParts | None = None,
) -> Mock:
    """The fit mock of a header. Parts are taken from `store` if they are kept there, else made and kept.

    `on_failure` is called for each part that is not sound or cannot be printed with these settings, and the rest is
    made. Without it the error is raised: MockError if a part cannot be printed, UnsoundPartError if it is not sound.
    MockError is also raised if nothing is left of the mock, PlanError if the shop's plan cannot be made.
    """
    trial, settings = _Trial(on_failure, store), replace(settings, letter=header.draft.letter, units=header.draft.units)
    collectors, not_printed = plan_collectors(header, settings)
    bench = pieces_of(header)
    held, unseated = _held((header, bench), collectors, settings)
    pairs = trial.of("locating plates", lambda: plate_pairs(header, settings, held)) or () if settings.plates else ()
    plans = _plans((header, bench, held), collectors, pairs, settings)
    tubes = [(plan, twins_of(plan, settings)) for plan in plans]
    settings, no_joint = _with_joints(tubes, settings)
    fits = fits_of(header, plans, collectors, settings)
    parts = _parts(header, (tubes, fits), settings, report, trial)
    made = _collectors((collectors, fits), settings, trial)
    parts, order, not_straight = in_order(parts, tubes, (collectors, made), settings)
    pairs = _with_ends(pairs, tubes)
    locating, too_large = _locating(header, pairs, settings, trial)
    guides, cuts, too_tall = trial.of("cut guides", lambda: guides_of(header, settings)) or ((), (), [])
    adapters = _adapters((tubes, fits), settings, trial)
    saddles, no_saddle = _saddles((header, bench), settings, trial)
    notes = (
        *not_divided(plans),
        *differences(header, settings, {run.name for run, _ in held}, unseated),
        *not_printed,
        *too_large,
        *too_tall,
        *no_saddle,
        *no_joint,
        *not_straight,
    )
    notes += (*unreached(pairs, settings), *without_plates(header, settings, held)) if settings.plates else ()
    coupon = trial.of("coupon", lambda: coupon_parts(header.draft.tube, settings)) or ()
    printed_saddles = tuple(part for part, _ in saddles)
    bare = Mock(settings, parts, made, locating, adapters, guides, cuts, printed_saddles, pairs, coupon)
    bare = replace(bare, notes=notes, order=order, saddle_facts=tuple(facts for _, facts in saddles))
    bare = replace(bare, seats=tuple(seats_in(tubes, settings.letter)))
    # a chain that lacks a part weighs less than it does, and its stress would be told too low
    steel = _steel_on(parts, tubes, collectors, settings)
    carried = loads_on(plans, _weights(parts, steel, settings))
    hung = {} if trial.failed else hung_on(collectors, made, carried, settings)
    propped = frozenset(plan.run.name for plan in plans if plan.ends_on_another)
    weakest = {} if trial.failed else weakest_necks(parts, settings, hung, steel, (adapters, propped))
    if weak := frozenset(each.name for each in adapters if each.name in weakest and said_of(weakest[each.name])):
        adapters = _adapters((tubes, fits), settings, trial, weak)
        bare = replace(bare, adapters=adapters)
        weakest = weakest_necks(parts, settings, hung, steel, (adapters, propped))
    return _on_beds(_with_straights(bare, (tubes, collectors)), tubes, weakest)


def _held(
    planned: tuple[Header, Plan], collectors: Sequence[CollectorPlan], settings: MockSettings
) -> tuple[_Held, dict[str, str]]:
    """The runs that are printed, and why others on the side of runs are not, by name."""
    header, bench = planned
    held, collected = held_runs(header, collectors), {line.run for plan in collectors for line in plan.ends}
    why = not_seated(header, held, bench, settings, collected)
    return [pair for pair in held if pair[0].name not in why], why


def _plans(
    printed: tuple[Header, Plan, _Held],
    collectors: Sequence[CollectorPlan],
    pairs: Sequence[PlatePair],
    settings: MockSettings,
) -> list[RunPlan]:
    header, bench, held = printed
    collected = {line.run for plan in collectors for line in plan.ends}
    extra = {hole.run: pair.add for pair in pairs for hole in pair.plates[1].holes}
    return [
        planned(header, (run, line, extra.get(run.name, 0.0)), bench, settings, run.name in collected)
        for run, line in held
    ]


def _with_ends(pairs: Sequence[PlatePair], tubes: _Tubes) -> tuple[PlatePair, ...]:
    """With the names of the parts that hold the place of a printed collector, through both plates."""
    last = {plan.run.name: twins[-1].name for plan, twins in tubes if plan.has_end}
    found = []
    for pair in pairs:
        names = [hole.run for hole in pair.plates[1].holes if hole.run is not None]
        found.append(replace(pair, stand_in=tuple(last[name] for name in names if name in last)))
    return tuple(found)


def _steel_on(
    parts: Sequence[MockPart], tubes: _Tubes, collectors: Sequence[CollectorPlan], settings: MockSettings
) -> dict[str, list[TubeSection]]:
    holders = {run: part.name for part in parts if part.spigot is None for run in part.runs}
    holders |= {plan.followed_by: plan.name for plan in collectors}
    return held_by(tubes, holders, settings.density)


def _weights(
    parts: Sequence[MockPart], steel: Mapping[str, Sequence[TubeSection]], settings: MockSettings
) -> dict[str, tuple[Load, ...]]:
    """Of each run: its printed parts and its steel straights."""
    sections = [section for part in parts for section in placed_sections(part.sections, part.home)]
    sections += [section for held in steel.values() for section in held]
    runs = dict.fromkeys(section.run for section in sections)
    return {run: loads_of([each for each in sections if each.run == run], settings.density) for run in runs}


def _saddles(
    planned: tuple[Header, Plan], settings: MockSettings, trial: _Trial
) -> tuple[list[tuple[MockPart, SaddleFacts]], list[str]]:
    """A saddle for each joint of the steel, if asked for, and a note for each that cannot be made."""
    (header, bench), made = planned, list[tuple[MockPart, SaddleFacts]]()
    notes: list[str] = []
    for run, line in header.tubes if settings.saddles else ():
        tube = (run, line, header.draft.mock_mark(run).removeprefix("P"))
        of_run = partial(saddles_of, tube, bench.of_run(run.name), bench.joints_of(run.name), settings)
        for each in trial.of(f"saddles of {run.name}", of_run) or ():
            if isinstance(each, str):
                notes.append(each)
            else:
                made.append(each)
    return made, notes


def _with_straights(mock: Mock, planned: tuple[_Tubes, Sequence[CollectorPlan]]) -> Mock:
    """With what is sawn of real tube."""
    tubes, collectors = planned
    on_end = {line.run: plan.name for plan in collectors for line in plan.ends}
    straights = [
        straight
        for plan, twins in tubes
        for straight in straights_of(plan, twins, mock.settings.letter, on_end.get(plan.run.name, ""))
    ]
    steel = {
        twin.name: straight_mesh(plan.line, twin, tube_at(plan.run, twin.start))
        for plan, twins in tubes
        for twin in twins
        if twin.is_steel
    }
    pieces = tuple(piece for plan, _ in tubes for piece in plan.pieces)
    return replace(mock, straights=tuple(straights), steel=steel, pieces=pieces)


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


def _on_beds(mock: Mock, tubes: _Tubes, weakest: Mapping[str, Neck]) -> Mock:
    """With everything in its place on a build plate, and the facts of that."""
    settings = mock.settings
    placed = pack([(part.name, part.mesh) for part in mock.printed], settings.bed, settings.units)
    share = {twin.name: twin.share for _, twins in tubes for twin in twins}
    facts = tuple(
        replace(_facts(part, place, weakest.get(part.name), settings), share=share.get(part.name, (1, 1)))
        for part, place in zip(mock.printed, placed, strict=True)
    )
    on_plate: dict[int, list[MockPart]] = {}
    for part, place in zip(mock.printed, placed, strict=True):
        on_plate.setdefault(place.plate, []).append(part)
    hours = tuple(hours_of(map(printed, on_plate[plate])) for plate in sorted(on_plate))
    coupon_placed = pack([(part.name, part.mesh) for part in mock.coupon], settings.bed, settings.units)
    mock = replace(mock, placed=placed, facts=facts, coupon_placed=coupon_placed, hours=hours)
    return replace(mock, hours_for=shared_out(sum(hours), {kind: map(printed, some) for kind, some in _kinds(mock)}))


def _kinds(mock: Mock) -> tuple[tuple[str, Sequence[MockPart]], ...]:
    """All printed parts by kind, in words for the sheet."""
    on_flange = [part for part in mock.parts if part.kind == "flange plate"]
    return (
        ("flange plates", on_flange),
        ("tubes", [part for part in mock.parts if part not in on_flange]),
        ("collectors", mock.collectors),
        ("locating plates", mock.locating),
        ("steel adapters", mock.adapters),
        ("cut guides", mock.guides),
        ("saddles", mock.saddles),
    )


def _collectors(
    planned: tuple[Sequence[CollectorPlan], Fits], settings: MockSettings, trial: _Trial
) -> tuple[MockPart, ...]:
    plans, fits = planned
    made: list[MockPart] = []
    for plan in plans:
        ends = {line.run: fits[line.run, line.length] for line in plan.ends}
        outlet = {at: fit for (name, at), fit in fits.items() if name == plan.name}
        onto = fits.get((plan.followed_by, 0.0))
        made += trial.parts(plan.name, partial(collector_parts, plan, ends, outlet, onto, settings))
    return tuple(made)


def _parts(
    header: Header, planned: tuple[_Tubes, Fits], settings: MockSettings, report: Report, trial: _Trial
) -> tuple[MockPart, ...]:
    """Flange plates, if asked for, and the parts of every run."""
    tubes, fits = planned
    twins = [(plan, twin) for plan, mine in tubes for twin in mine if not twin.is_steel]
    radius, total = header.draft.tube.radius, len(twins)
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
            for plan, _ in tubes
            if plan.port is not None
        }
        for flange in header.draft.flanges:
            own = {port.number: stubs[port.number] for port in flange.ports if port.number in stubs}
            plates = partial(flange_plates, flange, own, radius, settings, len(parts) + 1)
            parts += trial.parts(f"{flange.part} plates", plates) if own else ()
    for done, (plan, twin) in enumerate(twins, 1):
        line, span = span_of(plan, twin, fits)
        make = partial(tube_part, line, span, outside_of(plan.run), settings, twin.pieces, twin.name)
        parts += trial.parts(twin.name, make)
        report(STAGE, done, total)
    for plan, _ in tubes:
        if plan.ends_on_another:
            name = nipple_name(plan, settings.letter)
            parts += trial.parts(name, partial(nipple_part, name, plan.run.name, nipple_ends(plan, fits), settings))
    return tuple(parts)


def _with_joints(tubes: _Tubes, settings: MockSettings) -> tuple[MockSettings, list[str]]:
    """The settings without the joints that the print is not divided at, and a note for each of those."""
    divided = {(plan.run.name, cut.joint) for plan, _ in tubes for cut in cuts_of(plan)}
    after_steel = {
        (plan.run.name, after.cut.joint)
        for plan, twins in tubes
        for before, after in pairwise(twins)
        if before.is_steel
    }
    names = {plan.run.name: partial(adapter_name, settings.letter, plan.stem) for plan, _ in tubes}
    count = {plan.run.name: f"{max(len(plan.pieces) - 1, 0)} in all" for plan, _ in tubes}
    adapted = tuple(joint for joint in settings.steel_after if joint in divided - after_steel)
    free = tuple(joint for joint in settings.without_key if joint in divided)
    notes = [
        f"There is no steel adapter {names[name](joint)}: "
        + (
            f"what stands before joint {joint} of {name} is steel already."
            if (name, joint) in after_steel
            else f"the print is not divided at joint {joint} of {name} ({count[name]})."
        )
        for name, joint in settings.steel_after
        if (name, joint) not in adapted
    ]
    notes += [
        f"Joint {joint} of {name} ({count[name]}) is not free to turn: the print is not divided at it."
        for name, joint in settings.without_key
        if (name, joint) not in free
    ]
    return replace(settings, steel_after=adapted, without_key=free), notes


def _adapters(
    planned: tuple[_Tubes, Fits], settings: MockSettings, trial: _Trial, weak: Container[str] = ()
) -> tuple[MockPart, ...]:
    """A steel adapter for each joint at which steel follows plastic: those asked for, then those of steel straights.

    Those that would be `weak` are half as thick again: three lines in place of two.
    """
    thicker = replace(settings, tube_wall=THICKER * settings.tube_wall)
    tubes, fits = planned
    cuts = {(plan.run.name, cut.joint): cut.at for plan, _ in tubes for cut in cuts_of(plan)}
    plans = {plan.run.name: plan for plan, _ in tubes}
    names = {
        (run, cuts[run, joint]): adapter_name(settings.letter, plans[run].stem, joint)
        for run, joint in settings.steel_after
    }
    for plan, twins in tubes:
        for twin in (twin for twin in twins if twin.is_steel):
            names.setdefault((plan.run.name, twin.start), adapter_before(plan, twin, settings.letter))

    def made(run: str, at: float, name: str) -> tuple[MockPart, ...]:
        plan, given = plans[run], thicker if name in weak else settings
        joint = (at, fits[run, at])
        return trial.parts(name, partial(adapter_part, name, plan.line, joint, tube_at(plan.run, at), given))

    return tuple(adapter for (run, at), name in names.items() for adapter in made(run, at, name))


def _facts(part: MockPart, place: PlacedPart, neck: Neck | None, settings: MockSettings) -> PrintedPart:
    return PrintedPart(
        name=part.name,
        runs=part.runs,
        pieces=part.pieces,
        size=part.size,
        volume=part.volume,
        smallest_section=part.smallest_section,
        overhang=overhang(part.mesh, settings.lean),
        build_plate=place.plate,
        stress=0.0 if neck is None else neck.stress,
        notes=(*part.notes, *said_of(neck, settings.units)),
        kind=part.kind,
        collector=part.collector,
    )
