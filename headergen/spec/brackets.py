"""Brackets between two runs, as given in a spec."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Self

from pydantic import ConfigDict, Field, model_validator

from headergen.model import Run, primary_name, secondary_name
from headergen.model.fitted import Bracket, BracketFoot
from headergen.parts.bracket import RIM
from headergen.spec.alike import Values, noun_of, values_of
from headergen.spec.complaint import Trouble
from headergen.spec.entry import Entry, exactly_one
from headergen.spec.fields import Counted, Hole, Margin, Name, Step, Thickness, complain
from headergen.spec.fitted import (
    FittedList,
    Renamed,
    entries_of,
    host_troubles,
    named_twice,
    run_values,
)

RUN, PLACE = ("primary", "secondary"), ("at", "before_end")


class FootEntry(Entry):
    """A place on a run that a bracket stands on."""

    model_config = ConfigDict(
        json_schema_extra={"allOf": [{"oneOf": [{"required": [key]} for key in keys]} for keys in (RUN, PLACE)]}
    )

    primary: Counted | None = Field(default=None, description="Number of the primary.")
    secondary: Name | None = Field(
        default=None,
        description="Name of the collector whose outlet the tube begins on, or of a run that leaves a side.",
    )
    at: Margin | None = Field(
        default=None, description="Distance along the tube, from the flange face or from where the secondary begins."
    )
    before_end: Margin | None = Field(default=None, description="Distance along the tube before the collector plane.")

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        exactly_one(self, RUN, "the run under a bracket")
        exactly_one(self, PLACE, "the place of a bracket")
        return self

    @property
    def run(self) -> str:
        return primary_name(self.primary) if self.primary is not None else secondary_name(self.secondary or "")


class BracketEntry(Entry):
    """A gusset plate between two tubes, welded to both, its ends coped to them."""

    name: Name = Field(description="Name of the bracket, as files and findings have it.")
    between: list[FootEntry] = Field(
        min_length=2, max_length=2, description="The two places on tubes that the bracket stands between."
    )
    thickness: Thickness = Field(default=3.0, description="Thickness of its plate. Default: 3 mm.")
    length: Step = Field(default=30.0, description="Length of its plate along the tubes. Default: 30 mm.")
    hole: Hole | None = Field(default=None, description="Diameter of a hole in the middle of the plate. Default: none.")

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        one, other = (foot.run for foot in self.between)
        if one == other:
            raise complain(f"a bracket stands between two tubes, and both places are on {one}", at=("between", 1))
        if self.hole is not None and self.length < self.hole + 2 * RIM:
            raise complain("the hole leaves no metal between it and the edges of the plate", at=("hole",))
        return self


def _noun(entry: BracketEntry) -> Bracket:
    one, other = (
        BracketFoot(foot.run, foot.at if foot.at is not None else foot.before_end or 0.0, foot.at is None)
        for foot in entry.between
    )
    return noun_of(Bracket, entry, feet=(one, other), hole=entry.hole or 0.0)


def _values(bracket: Bracket, runs: Mapping[str, Run]) -> Values:
    between = [run_values(runs[foot.run]) | {"before_end" if foot.from_end else "at": foot.at} for foot in bracket.feet]
    return values_of(bracket, BracketEntry, between=between, hole=bracket.hole or None)


def _renamed(bracket: Bracket, names: Renamed) -> Bracket:
    one, other = (replace(foot, run=names.run(foot.run)) for foot in bracket.feet)
    return replace(bracket, name=names.name(bracket.name), feet=(one, other))


def _troubles(data: dict[str, Any]) -> Iterator[Trouble]:
    """The runs of a bracket must exist, and no two brackets may have the same name."""
    yield from named_twice(data, "brackets", "bracket")
    for index, entry in entries_of(data, "brackets"):
        for place, foot in entries_of(entry, "between"):
            yield from host_troubles(data, foot, ("brackets", index, "between", place))


BRACKETS = FittedList(
    key="brackets",
    noun=Bracket,
    noun_of=_noun,
    values_of=_values,
    mirrored=lambda bracket, _: bracket,  # its lengths are along its tubes, which define its plane too
    renamed=_renamed,
    troubles=_troubles,
)
