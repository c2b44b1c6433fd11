"""The base of all records, and their kinds of number, each with its unit in the schema."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field


class Record(BaseModel):
    """Values that do not change, none of them unknown."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)  # built when first used


Mm = Annotated[float, Field(json_schema_extra={"unit": "mm"})]
PositiveMm = Annotated[float, Field(gt=0, json_schema_extra={"unit": "mm"})]
PositiveMm2 = Annotated[float, Field(gt=0, json_schema_extra={"unit": "mm²"})]
Mm3 = Annotated[float, Field(json_schema_extra={"unit": "mm³"})]
Degrees = Annotated[float, Field(json_schema_extra={"unit": "°"})]
PositiveDegrees = Annotated[float, Field(gt=0, json_schema_extra={"unit": "°"})]
Percent = Annotated[float, Field(json_schema_extra={"unit": "%"})]
PositiveGrams = Annotated[float, Field(gt=0, json_schema_extra={"unit": "g"})]
PositiveDensity = Annotated[float, Field(gt=0, json_schema_extra={"unit": "kg/m³"})]
Moment = Annotated[float, Field(ge=0, json_schema_extra={"unit": "N·m"})]

Count = Annotated[int, Field(ge=0)]
Ordinal = Annotated[int, Field(ge=1, description="counted from 1")]
Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Point = Annotated[
    tuple[float, float, float],
    Field(description="a point in engine axes: x forward, y left, z up", json_schema_extra={"unit": "mm"}),
]
Units = Literal["mm", "in"]
