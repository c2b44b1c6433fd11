"""A run as cut on the saw: bends with the straights between them, and where no joint may be."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from headergen.geometry.curves.stepped import tube_of_step
from headergen.geometry.plate.flange import run_from
from headergen.model import Bend, Header, Run, ShopSettings, Stock, Straight, Tube
from headergen.shop.footings import Blocked, below, footings
from headergen.shop.lean_cuts import longer_by, sawn_lean
from headergen.shop.shelf import Shelf, shelf_of
from headergen.shop.torch import Stretches, Torch, without_room


@dataclass(frozen=True)
class CourseBend:
    """A bend to be made: `step` of the path, counted from 1. `joined`: in one piece with the straight before, after."""

    angle: float
    radius: float
    rotation: float
    step: int
    joined: tuple[bool, bool] = (False, False)


@dataclass(frozen=True)
class Course:
    """A run from the start of its tube: n bends and n + 1 straights, any of which may have length 0.

    `begins`: length along the run where the tube begins. `blocked`: stretches of the run, from there, where no joint
    may be, each with the reason. `ends_welded`: it is welded to the collector, so its end counts as a joint.
    `left_on`: mm left on at its end; None: what the shop trims there. `lean`: at which its first end is sawn, rad from
    square; it then begins at its longest side.
    """

    run: str
    straights: tuple[float, ...]
    bends: tuple[CourseBend, ...]
    radius: float  # of the tube
    begins: float = 0.0
    blocked: tuple[tuple[float, float, str], ...] = ()
    ends_welded: bool = False
    left_on: float | None = None
    lean: float = 0.0

    @property
    def length(self) -> float:
        return sum(self.straights) + sum(bend.angle * bend.radius for bend in self.bends)

    def starts(self) -> tuple[float, ...]:
        """From the start of the tube to the start of each straight."""
        places, at = [], 0.0
        for index, straight in enumerate(self.straights):
            places.append(at)
            at += straight
            if index < len(self.bends):
                at += self.bends[index].angle * self.bends[index].radius
        return tuple(places)


def courses_of(header: Header, s: ShopSettings, stock: Stock | None) -> tuple[Course, ...]:
    """The runs of a header. Bends larger than all in `stock` of their tube and radius are split.

    A primary that bends before its tube has left plate and transition is left out, because it cannot be made.
    """
    near, feet = without_room(header, Torch(s.cup, s.reach)), tuple(footings(header))
    slips = {collector.name: collector.slip for collector in header.draft.collectors}
    blocked = {name: (*_beside(each), *below(feet, name, s.cup / 2)) for name, each in near.items()}
    return _made(_course(header, run, (blocked[run.name], slips[run.end.collector]), stock) for run in header.runs)


def bare_courses(header: Header, stock: Stock | None) -> tuple[Course, ...]:
    """The runs of a header as by `courses_of`, but as if a torch had room everywhere, which takes time to tell."""
    slips = {collector.name: collector.slip for collector in header.draft.collectors}
    return _made(_course(header, run, ((), slips[run.end.collector]), stock) for run in header.runs)


def _made(courses: Iterable[Course]) -> tuple[Course, ...]:
    return tuple(
        course
        for course in courses
        if course.straights[0] >= longer_by(course.radius, course.lean) and course.length > 0.0
    )


def _beside(near: Stretches) -> Blocked:
    return tuple((low, high, "the torch has no room beside another tube") for low, high in near)


def _course(header: Header, run: Run, kept_from: tuple[Blocked, float], stock: Stock | None) -> Course:
    draft, (near, slip) = header.draft, kept_from
    leant = sawn_lean(draft.flange_of(run.port), run) if run.is_primary else 0.0
    longer = longer_by(run.tube.radius, leant)
    begins = run_from(draft, run) - longer
    straights, bends = split_steps(run, stock, draft.tube)
    straights[0] -= begins
    length = sum(straights) + sum(bend.angle * bend.radius for bend in bends)
    blocked = [(low - begins, high - begins, why) for low, high, why in near]
    if slip > 0:
        blocked.append((length - slip, length + slip, "it is inside the slip joint"))
    if longer:
        blocked.append((0.0, longer, "it is inside the cut at the flange"))
    return Course(
        run.name, tuple(straights), tuple(bends), run.tube.radius, begins, tuple(blocked), slip == 0, lean=leant
    )


def split_steps(run: Run, stock: Stock | None, tube: Tube) -> tuple[list[float], list[CourseBend]]:
    """Straights before, between and after the bends. A bend larger than all on the shelf is split into equal parts.

    `tube`: that of the header.
    """
    straights, bends = [0.0], list[CourseBend]()
    for number, step in enumerate(run.steps, 1):
        joined = number in run.joined
        if isinstance(step, Straight):
            straights[-1] += step.length
            if joined and bends:
                bends[-1] = replace(bends[-1], joined=(bends[-1].joined[0], True))
            continue
        parts = _parts(step, shelf_of(stock, tube_of_step(run, number), tube))
        first = CourseBend(parts[0], step.radius, step.rotation, number, (joined and straights[-1] > 0, False))
        bends += [first, *(CourseBend(part, step.radius, 0.0, number) for part in parts[1:])]
        straights += [0.0] * len(parts)
    return straights, bends


def _parts(bend: Bend, shelf: Shelf) -> list[float]:
    largest = max((each.real_angle for _, each in shelf.of_radius(bend.radius)), default=bend.angle)
    count = max(1, math.ceil(bend.angle / largest - 1e-9))
    return [bend.angle / count] * count
