"""The plain values of a spec, read before any of it is known to be right."""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import ValidationError

from headergen.spec.entry import Entry
from headergen.spec.units import Unit

E = TypeVar("E", bound=Entry)


def mapping_in(data: Any, *keys: str) -> dict[str, Any]:
    """The mapping at a place in the plain values; empty if there is none."""
    for key in keys:
        data = data.get(key) if isinstance(data, dict) else None
    return data if isinstance(data, dict) else {}


def entry_of(kind: type[E], data: Any, unit: Unit | None) -> E | None:
    """An entry read on its own; None if it has troubles of its own."""
    try:
        return kind.model_validate(data, context={"unit": unit})
    except ValidationError:
        return None


def numbers_in(mapping: dict[str, Any]) -> list[str]:
    return [key for key in mapping if key.isascii() and key.isdigit() and key[0] != "0"]


def listed(what: tuple[str, str], numbers: list[str]) -> str:
    """One or several things by their numbers; `what` is the word for one and for several."""
    return f"{what[len(numbers) > 1]} {', '.join(numbers)}"
