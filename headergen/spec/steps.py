"""The steps of a path as entries: straights, bends, and steps to larger tubes, with values that may be marked fit."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from headergen.spec.entry import Entry, exactly_one, one_of, only_with
from headergen.spec.fields import (
    BendAngle,
    Radius,
    Step,
    Turn,
    complain,
)
from headergen.spec.growth import GrowthEntry

FIRST_JOINED = "there is nothing before the first step to join it to"


def _guess(value: object) -> object:
    """A plain value is a guess that may not change."""
    return value if isinstance(value, dict) else {"fit": value, "min": value, "max": value}


def _in_order(entry: LengthValue | BendValue | TurnValue) -> None:
    if entry.min is not None and entry.max is not None and entry.min > entry.max:
        raise complain("min is more than max, so no value fits", at=("min",))
    hint = "fit is the guess to begin with: give one between min and max"
    if entry.min is not None and entry.min > entry.fit:
        raise complain("min is more than the guess", hint, at=("min",))
    if entry.max is not None and entry.max < entry.fit:
        raise complain("max is less than the guess", hint, at=("max",))


def is_free(value: LengthValue | BendValue | TurnValue | None) -> bool:
    return value is not None and (value.min, value.max) != (value.fit, value.fit)


class LengthValue(Entry):
    """A length, or a guess at one that headergen may change: {fit: 45, min: 20, max: 80}."""

    fit: Step = Field(description="Guess of the length; the value is found so that the tube ends on its bore.")
    min: Step | None = Field(
        default=None, description="Least length it may become. Default: the shortest straight, or 1 mm."
    )
    max: Step | None = Field(default=None, description="Greatest length it may become. Default: no limit.")

    _plain = model_validator(mode="before")(_guess)

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        _in_order(self)
        return self


class BendValue(Entry):
    """The angle of a bend, or a guess at it that headergen may change."""

    fit: BendAngle = Field(description="Guess in degrees; the value is found so that the tube ends on its bore.")
    min: BendAngle | None = Field(default=None, description="Smallest angle it may become, in degrees. Default: 1.")
    max: BendAngle | None = Field(default=None, description="Largest angle it may become, in degrees. Default: 180.")

    _plain = model_validator(mode="before")(_guess)

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        _in_order(self)
        return self


class TurnValue(Entry):
    """The rotation of a bend, or a guess at it that headergen may change."""

    fit: Turn = Field(description="Guess in degrees; the value is found so that the tube ends on its bore.")
    min: Turn | None = Field(
        default=None, description="Smallest angle it may become, in degrees. Default: 180 less than the guess."
    )
    max: Turn | None = Field(
        default=None, description="Largest angle it may become, in degrees. Default: 180 more than the guess."
    )

    _plain = model_validator(mode="before")(_guess)

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        _in_order(self)
        return self


class StepEntry(Entry):
    """One step of a path, in travel order from port to bore: a straight, a bend, or a step to a larger tube."""

    model_config = one_of(
        "straight", "bend", "step", together={"bend": ["radius"], "radius": ["bend"], "rotation": ["bend"]}
    )

    straight: LengthValue | None = Field(default=None, description="Length of a straight step.")
    bend: BendValue | None = Field(default=None, description="Angle of a bend in degrees, at most 180.")
    radius: Radius | None = Field(default=None, description="Centre-line radius of the bend.")
    rotation: TurnValue | None = Field(
        default=None,
        description=(
            "Degrees that the bend plane turns about the direction of travel, right-hand positive, from the "
            "bend before; the first one from the flange's x. Default: 0."
        ),
    )
    joined: bool = Field(
        default=False,
        description="Whether the step is of one piece with the one before, with no joint between: write true.",
    )
    step: GrowthEntry | None = Field(default=None, description="Size that the tube grows to here.")

    @model_validator(mode="after")
    def _one(self) -> Self:
        kind = exactly_one(self, ("straight", "bend", "step"), "a step")
        if kind == "step" and self.joined:
            raise complain("a step to a larger tube is a joint of its own", "take joined out", at=("joined",))
        if kind in ("straight", "step"):
            only_with(self, ("radius", "rotation"), f"a bend, and this is a {kind}")
        elif self.radius is None:
            raise complain("a bend needs its radius", "add radius: the centre-line radius", at=("bend",))
        return self
