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
    SpecFile,
    TubeEntry,
    spec_format,
)
from headergen.spec.routing import RouteEntry
from headergen.spec.shop import BenderEntry, ShopEntry
from headergen.spec.units import Unit

AS_THERE = (
    "what the other bank has there is mirrored. To change it, write this bank in full by headergen resolve; a tube "
    "between both banks needs both in one spec, each with a plate under flanges"
)


class BankEntry(Entry):
    """How this bank follows from the other one."""

    offset: Coordinate = Field(
        description="How far this bank sits along the crank from the other one, forward positive."
    )
    way: Literal["staggered", "longer", "abreast"] = Field(
        description=(
            "How this bank follows. staggered: moved whole, its collector too; longer: its collector abreast "
            "of the other's, its primaries longer or shorter; abreast: its collector exactly mirrored, "
            "values marked fit found again."
        )
    )
    crank: Direction = Field(
        default=(1.0, 0.0, 0.0), description="Direction of the crank, toward the front of the engine. Default: forward."
    )
    mirror: MirrorPlaneEntry = Field(default=MirrorPlaneEntry(), description="The plane between the banks.")
    keep: list[Name] = Field(default=[], description="Chassis items of the other spec that stay where they are.")
    mirrored: list[Name] = Field(default=[], description="Simple solids of the other spec, mirrored with the bank.")
    left_out: list[Name] = Field(
        default=[], description="Chassis items of the other spec, and lines that tubes run along, that are not here."
    )

    letter: Literal["A", "B"] | None = Field(
        default=None, description="Letter of this bank, for its printed parts. Default: B, or A where the other is B."
    )
    names: dict[Name, Name] = Field(
        default={},
        description=(
            "Words in the names of flanges, collectors, bosses, plugs, brackets and mirrored items, and what "
            "stands in their place here: {left: right}."
        ),
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
        description="Format of this file; write 1."
    )
    mirror_of: Name = Field(description="The spec of the first bank, relative to this spec's folder.")
    job: JobEntry = Field(description="Name, revision and date of the job, and for whom it is.")
    units: Unit = Field(description="Unit of every plain length in this file: mm or in.")
    bank: BankEntry = Field(description="How this bank follows from the other.")
    tube: TubeEntry | None = Field(default=None, description="Tube of this bank, in place of the other's.")
    stock: Name | None = Field(default=None, description="Stock file of this bank, in place of the other's.")
    length: LengthEntry | None = Field(
        default=None, description="Values of length that differ on this bank; the rest is the other's."
    )
    limits: LimitsEntry | None = Field(
        default=None, description="Limits that differ on this bank; the rest are the other's."
    )
    mock: MockEntry | None = Field(
        default=None, description="Values of the fit mock that differ on this bank; the rest are the other's."
    )
    route: RouteEntry | None = Field(
        default=None, description="Rules for finding paths on this bank, in place of the other's."
    )
    shop: ShopEntry | None = Field(
        default=None, description="Values of the shop that differ on this bank; the rest are the other's."
    )
    hand: HandEntry | None = Field(
        default=None, description="Spreads of the hand that differ on this bank; the rest are the other's."
    )
    bender: BenderEntry | None = Field(default=None, description="Bender for this bank, in place of the other's.")
    primaries: dict[Counted, PrimaryEntry] = Field(
        default={}, description="Primaries that are different, by number; find alone starts from the mirrored path."
    )
    chassis: list[ChassisEntry] = Field(
        default=[], description="Items around this bank, beside what it keeps of the other's."
    )
    as_built: list[RunAsBuiltEntry] = Field(
        default=[],
        description=(
            "Tubes of this bank that are half built, as measured; `headergen correct` closes them from there."
        ),
    )
    lines: dict[Name, LineEntry] = Field(default={}, description="Named lines that tubes may have to run along.")

    @classmethod
    def hint_elsewhere(cls, key: str) -> str:
        return AS_THERE if key in SpecFile.model_fields else ""
