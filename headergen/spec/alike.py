"""From an entry to its noun and back: fields with the same name are copied and converted to the noun's units."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, TypeVar

from headergen.spec.entry import Entry
from headergen.spec.kinds import bare, keys_of, kind_of

T = TypeVar("T")
Values = dict[Any, Any]  # by the keys of the file, but in millimetres and radians


def noun_of(noun: type[T], entry: Entry, **otherwise: Any) -> T:
    """A noun with the values of its entry under the same field names.

    Angles become radians, percents shares, lists tuples. `otherwise`: fields that differ between the two; a field in
    neither keeps its default.
    """
    names = [field.name for field in fields(noun)]  # type: ignore[arg-type]
    alike = {name: _own(entry, name) for name in names if name in type(entry).model_fields and name not in otherwise}
    return noun(**alike, **otherwise)


def _own(entry: Entry, name: str) -> Any:
    value, written = getattr(entry, name), bare(kind_of(type(entry), name))[1]
    if isinstance(value, float):
        return written.own(value)
    return tuple(value) if isinstance(value, list) else value


def values_of(noun: object, entry: type[Entry], **otherwise: Any) -> Values:
    """The keys of an entry in order, each with the noun's value or the one in `otherwise`; without None."""
    known = {key: otherwise.get(key, getattr(noun, name, None)) for name, key in keys_of(entry).items()}
    assert known.keys() >= otherwise.keys(), "a key that the entry does not know"
    return {key: value for key, value in known.items() if value is not None}
