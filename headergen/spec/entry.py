"""The base of all entries, and checks that several entries use."""

from __future__ import annotations

from typing import Any, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from headergen.geometry.frames import frame_from_normal, norm
from headergen.spec.fields import Direction, Point, complain


class Entry(BaseModel):
    """Keys with values, none of them unknown."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)  # built when first used

    @classmethod
    def hint_elsewhere(cls, key: str) -> str:
        """What to do in place of a key that is one of another kind of file; empty if it is of none."""
        return ""


def one_of(*names: str, together: dict[str, list[Any]]) -> ConfigDict:
    """JSON Schema: exactly one of the keys is required, and the keys that some of them need besides."""
    one: list[Any] = [{"required": [name]} for name in names]
    extra: dict[str, Any] = {"oneOf": one} | ({"dependentRequired": {**together}} if together else {})
    return ConfigDict(json_schema_extra=extra)


def given(entry: Entry, names: tuple[str, ...]) -> list[str]:
    """The optional keys that the file gives."""
    return [name for name in names if getattr(entry, name) is not None]


def exactly_one(entry: Entry, names: tuple[str, ...], what: str) -> str:
    """The only one of the keys that is given."""
    found = given(entry, names)
    if len(found) == 1:
        return found[0]
    choice = f"{', '.join(names[:-1])} or {names[-1]}"
    if not found:
        refused = tuple(name for name in names if name in entry.model_fields_set)  # its value was refused
        raise complain(f"{what} needs one of {choice}", at=refused[:1])
    raise complain(f"{what} is {' and '.join(found)} at once: only one of {choice} is allowed", at=(found[1],))


def only_with(entry: Entry, names: tuple[str, ...], what: str) -> None:
    """Refuses keys that make sense only together with `what`."""
    if found := given(entry, names):
        raise complain(f"{found[0]} belongs to {what}", "take it out", at=(found[0],))


def needs_direction(vector: tuple[float, float, float], key: str) -> None:
    if norm(vector) < 1e-9:
        raise complain(f"{key} has no direction: all three of its values are 0", at=(key,))


def checked_axes(normal: tuple[float, float, float], x: tuple[float, float, float] | None) -> None:
    needs_direction(normal, "normal")
    if x is None:
        return
    needs_direction(x, "x")
    try:
        frame_from_normal((0.0, 0.0, 0.0), normal, x)
    except ValueError:
        message = "x runs along the normal, but it must lie across it"
        raise complain(message, "give a direction that lies in the plane", at=("x",)) from None


class PlaneEntry(Entry):
    """A plane by a point on it, the direction it faces and the direction its own x axis lies in."""

    origin: Point = Field(description="A point on the plane, which is the zero of places in it.")
    normal: Direction = Field(description="Direction that the plane faces, square to it; any length.")
    x: Direction | None = Field(
        default=None, description="Direction of x in the plane; it is made square to the normal."
    )

    @model_validator(mode="after")
    def _axes(self) -> Self:
        checked_axes(self.normal, self.x)
        return self
