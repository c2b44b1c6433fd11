"""The kinds of value in a spec, as pydantic reads them: lengths, angles, places, names.

Lengths are converted to millimetres and angles to degrees. The unit of a plain length is that of the file, given as the
validation context {"unit": …}. It is None while the unit itself is in doubt; then ranges are not checked.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema
from pydantic_core import PydanticCustomError

from headergen.model import SpecPath
from headergen.spec.scalars import ScalarError
from headergen.spec.units import (
    ANGLE_PATTERN,
    LENGTH_PATTERN,
    Unit,
    angle_in_degrees,
    described,
    length_in_mm,
    length_text,
    shown,
)

LARGEST_NUMBER = 1e5  # of a direction or a price
FARTHEST = 20_000.0  # mm from the origin; nothing in a vehicle is farther away


def complain(message: str, hint: str = "", at: SpecPath = ()) -> PydanticCustomError:
    """An error in words for pydantic to collect; `at` is the path from where it is raised to the value in question."""
    return PydanticCustomError("complaint", "{message}", {"message": message, "hint": hint, "at": at})


def length(least: float, most: float, above: bool = False, always: Unit | None = None) -> BeforeValidator:
    """A length from `least` to `most` millimetres; `above`: greater than `least`.

    `always`: the unit of a plain number, whatever the unit of the file.
    """

    def read(value: object, info: ValidationInfo) -> float:
        unit = always or unit_of(info)
        try:
            millimetres = length_in_mm(value, unit or "mm")
        except ScalarError as refused:
            raise complain(refused.message, refused.hint) from None
        if unit is not None and not _within(millimetres, least, most, above):
            written = shown(value) if isinstance(value, str) else f"{value} {unit}"
            bounds = length_text(least, unit), length_text(most, unit), above
            message = _out_of_range(written, millimetres > most, *bounds)
            raise complain(message, _unit_hint(value, (least, most, above), unit))
        return millimetres

    return BeforeValidator(read)


def angle(least: float, most: float, above: bool = False) -> BeforeValidator:
    """An angle from `least` to `most` degrees; `above`: more than `least`."""

    def read(value: object) -> float:
        try:
            degrees = angle_in_degrees(value)
        except ScalarError as refused:
            raise complain(refused.message, refused.hint) from None
        if not _within(degrees, least, most, above):
            raise complain(_out_of_range(f"{degrees:g} degrees", degrees > most, f"{least:g}", f"{most:g}", above))
        return degrees

    return BeforeValidator(read)


def unit_of(info: ValidationInfo) -> Unit | None:
    unit: Unit | None = (info.context or {}).get("unit")
    return unit


def _within(value: float, least: float, most: float, above: bool) -> bool:
    return value <= most and (value > least if above else value >= least)


def _out_of_range(shown_value: str, too_much: bool, least: str, most: str, above: bool) -> str:
    if too_much:
        return f"{shown_value} is too large: it must be at most {most}"
    return f"{shown_value} is too small: it must be {'more than' if above else 'at least'} {least}"


def _unit_hint(value: object, limits: tuple[float, float, bool], unit: Unit) -> str:
    """A hint that a plain number out of range may be meant in the other unit."""
    other: Unit = "in" if unit == "mm" else "mm"
    plain = isinstance(value, (int, float)) and limits[0] >= 0
    if not plain or not _within(length_in_mm(value, other), *limits):
        return ""
    return f"if it is meant in {'inches' if other == 'in' else 'millimetres'}, write {value} {other}"


def items(count: int, expected: str) -> Callable[[object], tuple[Any, ...]]:
    """Takes a list of `count` values for a tuple in pydantic."""

    def read(value: object) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise complain(f"{expected} is required here, not {described(value)}")
        if len(value) != count:
            hint = "is a comma there that should be a decimal point?" if len(value) > count else ""
            raise complain(f"{expected} is required here, but the list has {len(value)} value{_s(len(value))}", hint)
        return tuple(value)

    return read


def _s(count: int) -> str:
    return "" if count == 1 else "s"


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise complain(f"a plain number is required here, not {described(value)}")
    if abs(value) > LARGEST_NUMBER:
        raise complain(f"{value} is too large: it must be at most {LARGEST_NUMBER:g}")
    return float(value)


def _percent(value: object) -> float:
    number = _number(value)
    if not 0 <= number <= 100:
        raise complain(f"{number:g} percent is not from 0 to 100")
    return number


def _name(value: object) -> str:
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    if not isinstance(value, str):
        raise complain(f"text is required here, not {described(value)}", "put it in quotes")
    if not value.strip():
        raise complain("the text is empty")
    if len(value) > 200 or not value.isprintable():
        raise complain("one line of at most 200 characters is required here")
    return value.strip()


def _notes(value: object) -> str:
    if not isinstance(value, str) or len(value) > 4000:
        raise complain("text of at most 4000 characters is required here")
    return value.strip()


def _counted(value: object) -> int:
    """The number of a port or primary, as a value or as a key (always text)."""
    if isinstance(value, str) and value.isascii() and value.isdigit() and value[0] != "0" and len(value) < 3:
        return int(value)
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 99:
        return value
    raise complain(f"a whole number from 1 to 99 is required here, not {shown(value)}")


def _arrival(value: object) -> int | str:
    """What goes into a bore: a primary by its number, or the outlet of another collector by its name."""
    return _name(value) if isinstance(value, str) and not value.strip().isdigit() else _counted(value)


DEGREES = 180 / math.pi  # degrees in a radian


@dataclass(frozen=True)
class Written:
    """How a noun's number is written in a file: its unit, its digits, and its multiple of the noun's number.

    `in_unit`: it is a length, in the unit of the file.
    """

    digits: int = 6
    times: float = 1.0
    in_unit: bool = False

    def own(self, value: float) -> float:
        """The noun's number for a number that was read."""
        return math.radians(value) if self.times == DEGREES else value / self.times


LENGTH, MILLIMETRES = Written(in_unit=True), Written()
ANGLE = Written(9, DEGREES)  # radians inside, degrees in a file
PERCENT = Written(times=100.0)
IN_FULL = Written(12)  # for directions, and numbers from another file

LENGTH_SCHEMA: dict[str, Any] = {"anyOf": [{"type": "number"}, {"type": "string", "pattern": LENGTH_PATTERN}]}
ANGLE_SCHEMA: dict[str, Any] = {"anyOf": [{"type": "number"}, {"type": "string", "pattern": ANGLE_PATTERN}]}
_LENGTH_SCHEMA = WithJsonSchema(LENGTH_SCHEMA)
_ANGLE_SCHEMA = WithJsonSchema(ANGLE_SCHEMA)

Coordinate = Annotated[float, length(-FARTHEST, FARTHEST), _LENGTH_SCHEMA, LENGTH]
Size = Annotated[float, length(0, FARTHEST, above=True), _LENGTH_SCHEMA, LENGTH]
Opening = Annotated[float, length(5, 300), _LENGTH_SCHEMA, LENGTH]
Diameter = Annotated[float, length(5, 300), _LENGTH_SCHEMA, LENGTH]
Wall = Annotated[float, length(0.2, 20), _LENGTH_SCHEMA, LENGTH]
SlidingGap = Annotated[float, length(0, 5), _LENGTH_SCHEMA, LENGTH]
Radius = Annotated[float, length(0, 3000, above=True), _LENGTH_SCHEMA, LENGTH]
CornerRadius = Annotated[float, length(0, 150), _LENGTH_SCHEMA, LENGTH]
Step = Annotated[float, length(0, 5000, above=True), _LENGTH_SCHEMA, LENGTH]
Thickness = Annotated[float, length(1, 100), _LENGTH_SCHEMA, LENGTH]
Hole = Annotated[float, length(1, 60), _LENGTH_SCHEMA, LENGTH]
Margin = Annotated[float, length(0, 2000), _LENGTH_SCHEMA, LENGTH]
Tolerance = Annotated[float, length(0, 100, above=True), _LENGTH_SCHEMA, LENGTH]
ChordError = Annotated[float, length(0.001, 5), _LENGTH_SCHEMA, LENGTH]

# of the print: printers and slicers use millimetres everywhere, so these do so in inch files too
BedWidth = Annotated[float, length(100, 1000, always="mm"), _LENGTH_SCHEMA, MILLIMETRES]
BedHeight = Annotated[float, length(80, 1000, always="mm"), _LENGTH_SCHEMA, MILLIMETRES]
PrintGap = Annotated[float, length(0.05, 1.0, always="mm"), _LENGTH_SCHEMA, MILLIMETRES]
PrintWall = Annotated[float, length(2.0, 10.0, always="mm"), _LENGTH_SCHEMA, MILLIMETRES]
PrintTubeWall = Annotated[float, length(1.0, 10.0, always="mm"), _LENGTH_SCHEMA, MILLIMETRES]
PrintSpigot = Annotated[float, length(6.0, 40.0, always="mm"), _LENGTH_SCHEMA, MILLIMETRES]

BendAngle = Annotated[float, angle(0, 180, above=True), _ANGLE_SCHEMA, ANGLE]
Turn = Annotated[float, angle(-360, 360), _ANGLE_SCHEMA, ANGLE]
Lean = Annotated[float, angle(0, 75), _ANGLE_SCHEMA, ANGLE]
JointAngle = Annotated[float, angle(20, 160), _ANGLE_SCHEMA, ANGLE]
HalfAngle = Annotated[float, angle(1, 45), _ANGLE_SCHEMA, ANGLE]
AngleTolerance = Annotated[float, angle(0, 30, above=True), _ANGLE_SCHEMA, ANGLE]

Percent = Annotated[
    float, BeforeValidator(_percent), WithJsonSchema({"type": "number", "minimum": 0, "maximum": 100}), PERCENT
]
Number = Annotated[float, BeforeValidator(_number)]
Point = Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(items(3, "a point [x, y, z]"))]
Spot = Annotated[tuple[Coordinate, Coordinate], BeforeValidator(items(2, "a place [x, y] in the plane"))]
Direction = Annotated[tuple[Number, Number, Number], BeforeValidator(items(3, "a direction [x, y, z]")), IN_FULL]
FilePoint = Annotated[
    tuple[Number, Number, Number], BeforeValidator(items(3, "a point [x, y, z], as plain numbers,")), IN_FULL
]
Sizes = Annotated[tuple[Size, Size, Size], BeforeValidator(items(3, "three sizes, [x, y, z],"))]
Legs = Annotated[tuple[Margin, Margin], BeforeValidator(items(2, "a pair of legs, [in, out],"))]
BedSizes = Annotated[
    tuple[BedWidth, BedWidth, BedHeight], BeforeValidator(items(3, "the room on the bed, [x, y, height] in mm,"))
]
OvalSize = Annotated[tuple[Opening, Opening], BeforeValidator(items(2, "[width, height]"))]
CorneredSize = Annotated[
    tuple[Opening, Opening, CornerRadius], BeforeValidator(items(3, "[width, height, corner radius]"))
]
Name = Annotated[str, BeforeValidator(_name), WithJsonSchema({"type": ["string", "integer"]})]
Notes = Annotated[str, BeforeValidator(_notes)]
Arrival = Annotated[
    int | str,
    BeforeValidator(_arrival),
    WithJsonSchema({"anyOf": [{"type": "integer", "minimum": 1}, {"type": "string"}]}),
]
Counted = Annotated[int, BeforeValidator(_counted), WithJsonSchema({"type": "integer", "minimum": 1})]
