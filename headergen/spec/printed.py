"""The text of a file from its values and the entries that read it: the kind of each key defines how it is written."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Literal, get_args, get_origin

from headergen.spec.fields import Counted, Written
from headergen.spec.kinds import PLAIN, bare, is_entry, keys_of, kind_of
from headergen.spec.models import FITTED, Date
from headergen.spec.units import MILLIMETRES, Unit
from headergen.words.numbers import decimal

MORE_IN_INCHES = 2  # digits
ROUND_IN, ROUND_MM = 5, 3  # digits that a shop writes, in inches and in millimetres
EXACT = 1e-9  # by which a value may differ from its rounded form
# values on lines of their own; all others are written on one line. A star stands for any name or number.
IN_LINES: frozenset[tuple[str, ...]] = frozenset(
    tuple(path.split())
    for path in (
        "flange",
        "flange bolts",
        "flange ports",
        "flanges",
        "flanges *",
        "flanges * bolts",
        "flanges * ports",
        "collectors",
        "collectors *",
        "secondaries",
        "secondaries *",
        "secondaries * path",
        "runs",
        "runs *",
        "runs * path",
        "limits",
        "route",
        "route move",
        "shop",
        "hand",
        "as_built",
        "mock",
        "primaries",
        "primaries *",
        "primaries * path",
        *(each.key for each in FITTED),
        "lines",
        "chassis",
    )
)


def lines_of(
    values: Mapping[Any, Any], kind: Any, unit: Unit, path: tuple[str, ...] = (), indent: str = ""
) -> Iterator[str]:
    """The lines of a file with these values: by the keys of the file, but in millimetres and radians.

    `kind`: the entry that reads them, or the type of a mapping's values. Raises KeyError for a key that the entry does
    not have.
    """
    for key, value, inner in _items(values, kind):
        at = (*path, key if is_entry(kind) else "*")
        if not value or at not in IN_LINES:
            yield f"{indent}{key}: {_said(value, inner, unit)}"
            continue
        yield f"{indent}{key}:"
        if isinstance(value, Mapping):
            yield from lines_of(value, bare(inner)[0], unit, at, f"{indent}  ")
        else:
            yield from (f"{indent}  - {each}" for each in _each(value, inner, PLAIN, unit))


def rounded_length(millimetres: float, unit: Unit) -> str:
    """A length as a plain number in the file's unit, with the digits that a shop writes."""
    return decimal(millimetres / MILLIMETRES[unit], ROUND_IN if unit == "in" else ROUND_MM)


def _items(values: Mapping[Any, Any], kind: Any) -> Iterator[tuple[str, Any, Any]]:
    """Each key as written, its value, and the value's kind."""
    if is_entry(kind):
        names = {key: name for name, key in keys_of(kind).items()}
        yield from ((key, value, kind_of(kind, names[key])) for key, value in values.items())
        return
    key_kind, value_kind = get_args(kind)
    for key, value in values.items():
        yield str(key) if key_kind == Counted else _quoted(key), value, value_kind


def _said(value: Any, kind: Any, unit: Unit, written: Written = PLAIN) -> str:
    """A value on one line."""
    of, written = bare(kind, written)
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{key}: {_said(each, inner, unit)}' for key, each, inner in _items(value, of))}}}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(_each(value, of, written, unit))}]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return value if get_origin(of) is Literal or kind == Date else _quoted(value)
    return _number(value, written, unit) if isinstance(value, float) else str(value)


def _each(values: Sequence[Any], kind: Any, written: Written, unit: Unit) -> Iterator[str]:
    of, written = bare(kind, written)
    inner = [each for each in get_args(of) if each is not ...] if get_origin(of) in (list, tuple) else [float]
    kinds: Iterable[Any] = inner if len(inner) == len(values) else inner[:1] * len(values)
    yield from (_said(value, each, unit, written) for value, each in zip(values, kinds, strict=True))


def _number(value: float, written: Written, unit: Unit) -> str:
    """A number in the form of its kind; in an inch file, a number round only in millimetres is written in these."""
    if not written.in_unit or unit == "mm":
        return decimal(value * written.times, written.digits)
    inches, millimetres = value / MILLIMETRES["in"], decimal(value, ROUND_MM)
    if abs(inches - round(inches, ROUND_IN)) > EXACT and abs(value - float(millimetres)) < EXACT:
        return f"{millimetres} mm"
    return decimal(inches, written.digits + MORE_IN_INCHES)


def _quoted(text: str) -> str:
    """Text as in JSON, which YAML reads too; except for what YAML takes for a line end, or refuses."""
    plain = json.dumps(text, ensure_ascii=False)
    return "".join(each if each.isprintable() else f"\\U{ord(each):08x}" for each in plain)
