"""What is known of the kinds of value in an entry, besides how pydantic reads them."""

from __future__ import annotations

from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from headergen.spec.entry import Entry
from headergen.spec.fields import Written

PLAIN = Written()


def is_entry(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Entry)


def keys_of(entry: type[Entry]) -> dict[str, str]:
    """The keys that a file may have, by the names of the entry's fields."""
    return {name: field.alias or name for name, field in entry.model_fields.items()}


def kind_of(entry: type[Entry], name: str) -> Any:
    """The kind of a field, with all its annotations."""
    field = entry.model_fields[name]
    return Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation


def bare(kind: Any, written: Written = PLAIN) -> tuple[Any, Written]:
    """A kind of value without its annotations, and how its numbers are written."""
    if get_origin(kind) is Annotated:
        inner, *notes = get_args(kind)
        return bare(inner, next((each for each in notes if isinstance(each, Written)), written))
    choice = [each for each in get_args(kind) if each is not type(None)]
    if get_origin(kind) in (Union, UnionType) and len(choice) == 1:
        return bare(choice[0], written)
    if is_entry(kind) and "fit" in kind.model_fields:  # a value that may be written alone
        return bare(kind_of(kind, "fit"), written)
    return kind, written
