"""The file of the other bank, as given: what it mirrors, how, and what is different."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from headergen.geometry.frames import angle_between
from headergen.spec.as_built import RunAsBuiltEntry
from headergen.spec.chassis import ChassisEntry
from headergen.spec.entry import Entry, needs_direction
from headergen.spec.fields import (
    Coordinate,
    Counted,
    Direction,
    Name,
    complain,
)
from headergen.spec.hand import HandEntry
from headergen.spec.mock import MockEntry
from headergen.spec.models import (
    JobEntry,
    LengthEntry,
    LimitsEntry,
    LineEntry,
    MirrorPlaneEntry,
    PrimaryEntry,
    TubeEntry,
    spec_format,
)
from headergen.spec.routing import RouteEntry
from headergen.spec.shop import BenderEntry, ShopEntry
from headergen.spec.units import Unit


class BankEntry(Entry):
    """How this bank follows from the other one."""

    offset: Coordinate = Field(description="how far this bank sits along the crank from the other, forward positive")
    way: Literal["staggered", "longer", "abreast"] = Field(
        description="staggered: moved whole, collector too; longer: collector abreast of the other's, primaries longer "
        "or shorter; abreast: collector exactly mirrored, values marked to fit found again"
    )
    crank: Direction = Field(default=(1.0, 0.0, 0.0), description="direction of the crank [forward]")
    mirror: MirrorPlaneEntry = Field(default=MirrorPlaneEntry(), description="the plane between the banks")
    keep: list[Name] = Field(default=[], description="chassis items of the other spec that stay where they are")
    mirrored: list[Name] = Field(default=[], description="simple solids of the other spec, mirrored with the bank")
    left_out: list[Name] = Field(
        default=[], description="chassis items, and lines that tubes run along, of the other spec that are not here"
    )

    letter: Literal["A", "B"] | None = Field(
        default=None, description="of this bank, for its printed parts [B, or A where the other is B]"
    )
    names: dict[Name, Name] = Field(
        default={},
        description="words in the names of flanges, collectors, bosses, plugs, brackets and mirrored items, and what "
        "stands in their place here: {left: right}",
    )

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        needs_direction(self.crank, "crank")
        lean = 90 - math.degrees(angle_between(self.crank, self.mirror.normal))
        if abs(lean) > 1e-6:
            raise complain(f"the crank leaves the mirror plane by {abs(lean):.3g} degrees", at=("crank",))
        return self


class MirrorFile(Entry):
    """The other bank of a header: what it mirrors, how, and what is different."""

    format: Annotated[int, BeforeValidator(spec_format), WithJsonSchema({"const": 1})] = Field(
        description="format of this file: 1"
    )
    mirror_of: Name = Field(description="the spec of the first bank, relative to this spec's folder")
    job: JobEntry = Field(description="what it is for")
    units: Unit = Field(description="unit of every plain length in this file: mm or in")
    bank: BankEntry = Field(description="how this bank follows from the other")
    tube: TubeEntry | None = Field(default=None, description="in place of the other's")
    stock: Name | None = Field(default=None, description="in place of the other's")
    length: LengthEntry | None = Field(default=None, description="what is given here, in place of the other's")
    limits: LimitsEntry | None = Field(default=None, description="what is given here, in place of the other's")
    mock: MockEntry | None = Field(default=None, description="what is given here, in place of the other's")
    route: RouteEntry | None = Field(default=None, description="in place of the other's")
    shop: ShopEntry | None = Field(default=None, description="what is given here, in place of the other's")
    hand: HandEntry | None = Field(default=None, description="what is given here, in place of the other's")
    bender: BenderEntry | None = Field(default=None, description="in place of the other's")
    primaries: dict[Counted, PrimaryEntry] = Field(
        default={}, description="tubes that are different, by number; find alone starts from the mirrored path"
    )
    chassis: list[ChassisEntry] = Field(default=[], description="what is around this bank, beside what it keeps")
    as_built: list[RunAsBuiltEntry] = Field(
        default=[],
        description="tubes of this bank that are half built, as measured; `headergen correct` closes them from there",
    )
    lines: dict[Name, LineEntry] = Field(default={}, description="named lines that tubes may have to run along")
