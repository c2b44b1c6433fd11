"""Steps of a path in which the tube grows: their entry, and what must fit together along a path."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, Self

from pydantic import Field, ValidationInfo, model_validator

from headergen.geometry.curves.stepped import step_length
from headergen.model import Bend, Step, Straight, Tube
from headergen.spec.entry import Entry, only_with
from headergen.spec.fields import Diameter, Wall, complain, unit_of
from headergen.spec.fields import Step as Length
from headergen.spec.units import Unit, length_text

OVERLAP = 20.0  # mm of a slip joint whose overlap is not given
SAME_SIZE = 1e-6  # mm
LOOSEST = 1.0  # mm on each side between a tube and the larger one pushed over it, which a weld still bridges
STEEPEST = math.radians(30)  # of a cone's side to its axis
LEAST_APART = 10.0  # mm of tube between two steps, to be held and welded


class GrowthRangeEntry(Entry):
    """From where to where the bore may grow, as lengths from the run's start along the middle of the tube."""

    min: Length = Field(description="Least length from the start of the run (a port, an outlet) to where it grows.")
    max: Length = Field(description="Greatest length from the start of the run to where the tube grows.")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.min > self.max:
            raise complain("min is more than max, so the bore can grow nowhere", at=("min",))
        return self


class GrowthEntry(Entry):
    """The tube grows on its way: to the size given here, by a slip joint or a cone."""

    outside_diameter: Diameter = Field(description="Outside diameter of the larger tube, from here on.")
    wall: Wall = Field(description="Wall thickness of the larger tube, from here on.")
    by: Literal["slip", "cone"] = Field(
        description=(
            "How the sizes are joined. slip: the larger tube is pushed over the smaller; cone: a cone is "
            "welded between them."
        )
    )
    overlap: Length | None = Field(
        default=None,
        description=("For a slip: how far the larger tube goes over the smaller, within the path. Default: 20 mm."),
    )
    length: Length | None = Field(default=None, description="For a cone: its length along the path.")

    at: GrowthRangeEntry | None = Field(
        default=None,
        description=(
            "Range in which the tube may grow, as lengths from the run's start; found if the straights before and "
            "after are marked fit. Default: anywhere."
        ),
    )

    @model_validator(mode="after")
    def _agrees(self, info: ValidationInfo) -> Self:
        if 2 * self.wall >= self.outside_diameter:
            unit = unit_of(info) or "mm"
            wall, diameter = length_text(self.wall, unit), length_text(self.outside_diameter, unit)
            message = f"two walls of {wall} leave no bore in a tube of {diameter}"
            raise complain(message, "is the wall in the same unit as the diameter?", at=("wall",))
        if self.by == "slip":
            only_with(self, ("length",), "a cone, and this is a slip joint, which has an overlap")
        else:
            only_with(self, ("overlap",), "a slip joint, and this is a cone")
            if self.length is None:
                raise complain("a cone needs its length", "add length: how long the cone is along the path", at=("by",))
        return self

    @property
    def along(self) -> float:
        """The length that it takes of the path."""
        return (self.overlap or OVERLAP) if self.by == "slip" else (self.length or 0.0)


def without_idle_growths(steps: tuple[Step, ...], tube: Tube) -> tuple[Step, ...]:
    """The steps of a path that begins with `tube`: growths to the size that is there already are plain straights."""
    found, size = list[Step](), (tube.outside_diameter, tube.wall)
    for step in steps:
        growth = step.growth if isinstance(step, Straight) else None
        if growth is not None and (growth.outside_diameter, growth.wall) == size:
            step = Straight(step.length)  # type: ignore[union-attr]
        elif growth is not None:
            size = growth.outside_diameter, growth.wall
        found.append(step)
    return tuple(found)


@dataclass(frozen=True)
class GrowthFault:
    """A step to a larger tube that cannot be made: its step in the path, counted from 1, and its key at fault."""

    step: int
    key: str
    message: str
    hint: str = ""


def growth_faults(steps: tuple[Step, ...], tube: Tube, unit: Unit) -> Iterator[GrowthFault]:
    """What cannot be made of the steps of a path that begins with `tube`; lengths are said in `unit`."""
    grown = [number for number, step in enumerate(steps, 1) if isinstance(step, Straight) and step.growth is not None]
    if grown and grown[0] == 1:
        yield GrowthFault(1, "", "the path begins with a step, so no smaller tube comes before it", FIRST)
    if grown and grown[-1] == len(steps):
        yield GrowthFault(len(steps), "", "the path ends with a step, so no larger tube comes after it", LAST)
    for one, other in pairwise(grown):
        between = sum(step_length(step) for step in steps[one : other - 1])
        if between < LEAST_APART:
            apart, least = length_text(between, unit), length_text(LEAST_APART, unit)
            message = f"only {apart} of tube is between this step and the one before it; at least {least} must be"
            yield GrowthFault(other, "", message, "move one of them, or make one step of both")
    for number in grown:
        yield from _bare_before(number, steps, unit)
    before = tube
    for number in grown:
        step = steps[number - 1]
        assert isinstance(step, Straight) and step.growth is not None
        after = Tube(step.growth.outside_diameter, step.growth.wall, tube.material)
        yield from _size_faults(number, (before, after), step, unit)
        before = after


def _bare_before(number: int, steps: tuple[Step, ...], unit: Unit) -> Iterator[GrowthFault]:
    """A slip joint is welded at the mouth of its larger tube, so straight tube must come before it."""
    step, before = steps[number - 1], steps[number - 2] if number > 1 else None
    slips = isinstance(step, Straight) and step.growth is not None and step.growth.by == "slip"
    if slips and isinstance(before, Bend):
        message = "the larger tube's mouth would be at the end of a bend, with no straight tube before it to weld it to"
        yield GrowthFault(number, "", message, f"put a straight of {length_text(LEAST_APART, unit)} or more before it")


FIRST = "put a straight of the tube that the run begins with before the step"
LAST = "put the straight with which the run ends after the step"


def _size_faults(number: int, tubes: tuple[Tube, Tube], step: Straight, unit: Unit) -> Iterator[GrowthFault]:
    before, after = tubes
    said = [length_text(tube.outside_diameter, unit) for tube in tubes]
    bores = [tube.outside_diameter - 2 * tube.wall for tube in tubes]
    if abs(after.outside_diameter - before.outside_diameter) < SAME_SIZE and abs(after.wall - before.wall) < SAME_SIZE:
        return
    if after.outside_diameter < before.outside_diameter:
        message = f"the tube shrinks here from {said[0]} to {said[1]}, and a tube only grows along the gas"
        yield GrowthFault(number, "outside_diameter", message, "list the sizes from start to end, the smallest first")
    elif step.growth is not None and step.growth.by == "slip":
        yield from _slip_faults(number, before, after, unit)
    elif bores[1] < bores[0] - SAME_SIZE:
        narrow = [length_text(bore, unit) for bore in bores]
        message = f"the bore narrows here from {narrow[0]} to {narrow[1]}, because the wall is thicker"
        yield GrowthFault(number, "wall", message, "a larger outside diameter or a thinner wall is needed")
    else:
        lean = math.atan2(after.radius - before.radius, step.length)
        if lean > STEEPEST:
            least = length_text(round((after.radius - before.radius) / math.tan(STEEPEST) + 0.05, 1), unit)
            message = (
                f"the cone opens by {math.degrees(lean):.0f} degrees to its axis; {math.degrees(STEEPEST):.0f} at most"
            )
            yield GrowthFault(number, "length", message, f"make it at least {least} long")


def _slip_faults(number: int, before: Tube, after: Tube, unit: Unit) -> Iterator[GrowthFault]:
    inside = after.outside_diameter - 2 * after.wall
    room = inside - before.outside_diameter
    inside_text, tube_text = length_text(inside, unit), length_text(before.outside_diameter, unit)
    if room < -SAME_SIZE:
        message = f"the larger tube is {inside_text} inside, so it does not go over the tube of {tube_text}"
        most = (after.outside_diameter - before.outside_diameter) / 2
        thin = f"a wall of at most {length_text(most, unit)} goes over it; else " if most >= 0.5 else ""
        yield GrowthFault(number, "wall", message, f"{thin}take a larger tube, or write by: cone with a length")
    elif room / 2 > LOOSEST:
        loose, most_text = length_text(room / 2, unit), length_text(LOOSEST, unit)
        message = f"the larger tube is loose by {loose} on each side over the tube of {tube_text}; {most_text} at most"
        yield GrowthFault(number, "outside_diameter", message, "write by: cone with a length, or step twice")
