"""pydantic's errors about plain values, as troubles in words."""

from __future__ import annotations

import difflib
import types
import typing
from collections.abc import Iterator
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from headergen.model import SpecPath
from headergen.spec.complaint import Trouble
from headergen.spec.entry import Entry
from headergen.spec.units import described, shown

_KINDS = {
    "list_type": "a list is required here",
    "tuple_type": "a list is required here",
    "string_type": "text is required here",
    "bool_type": "true or false is required here",
    "model_type": "keys with values are required here",
    "dict_type": "keys with values are required here",
}


def troubles_of(error: ValidationError, root: type[Entry], data: Any) -> Iterator[Trouble]:
    """Each error as a trouble, without errors about a value that was refused already (None in `data`)."""
    for detail in error.errors(include_url=False):
        at: SpecPath = (detail.get("ctx") or {}).get("at", ())
        path, on_key = _path_in(data, (*detail["loc"], *at), detail["type"])
        if not _leads_to_refused(data, path):
            message, hint = _words(detail, root)
            yield Trouble(path, message, hint, on_key)


def _path_in(data: Any, loc: tuple[int | str, ...], kind: str) -> tuple[SpecPath, bool]:
    """The path in the file for a location of pydantic's, and whether the key is meant rather than its value.

    A short form has no `path` key; a missing key counts as its mapping.
    """
    path: list[str | int] = []
    for part in loc:
        inside = part in data if isinstance(data, dict) else isinstance(part, int) and isinstance(data, list)
        if inside:
            data = data[part]
            path.append(part)
    return tuple(path), kind in ("missing", "extra_forbidden") or loc[-1:] == ("[key]",)


def _leads_to_refused(data: Any, path: SpecPath) -> bool:
    for part in path:
        data = data[part]
    return data is None


def _words(detail: ErrorDetails, root: type[Entry]) -> tuple[str, str]:
    """Message and hint."""
    kind, value, context = detail["type"], detail["input"], detail.get("ctx") or {}
    if kind == "complaint":
        return context["message"], context["hint"]
    if kind == "missing":
        name = str(detail["loc"][-1])
        return f"{name} is missing", _as_hint(_descriptions(root, detail["loc"][:-1])[name])
    if kind == "extra_forbidden":
        key = str(detail["loc"][-1])
        if len(detail["loc"]) == 1 and (hint := root.hint_elsewhere(key)):
            return f"{key} is not a key here", hint
        return _unknown_key(key, list(_descriptions(root, detail["loc"][:-1])))
    if kind == "literal_error":
        if context["expected"] == "True":
            return f"true is required here, not {shown(value)}", "write true, or take the key out"
        known = [word.strip("'") for word in context["expected"].replace(" or ", ", ").split(", ")]
        hint = f"did you mean {meant}?" if (meant := nearest(str(value), known)) else ""
        return f"{shown(value)} is not one of {', '.join(known)}", hint
    if kind == "too_short":
        least = context["min_length"]
        return f"at least {least} {'entry is' if least == 1 else 'entries are'} required here", ""
    if kind == "too_long":
        return f"{context['actual_length']} entries stand here, and {context['max_length']} are required", ""
    if kind == "greater_than_equal":
        return f"{shown(value)} is less than {context['ge']:g}", ""
    if kind == "list_type" and value == "find" and detail["loc"][-1] == "path":
        return f"{_KINDS[kind]}, not {described(value)}", "write find: true in place of path"
    if kind in _KINDS:
        return f"{_KINDS[kind]}, not {described(value)}", ""
    return f"{shown(value)} does not fit here", ""


def _as_hint(description: str) -> str:
    """A description as a hint: hints have no capital and no full stop, as they stand after `hint:`."""
    return (description[0].lower() + description[1:]).removesuffix(".")


def _unknown_key(key: str, known: list[str]) -> tuple[str, str]:
    meant = nearest(key, known)
    return f"{key} is not a key here", f"did you mean {meant}?" if meant else f"known here: {', '.join(known)}"


def nearest(word: str, known: list[str]) -> str | None:
    """The known word that was most probably meant."""
    close = difflib.get_close_matches(word.lower(), known, 1, 0.6)
    return close[0] if close else None


def _descriptions(root: type[Entry], loc: tuple[int | str, ...]) -> dict[str, str]:
    """The possible keys at a location, each with its description."""
    kind: Any = root
    for part in loc:
        if isinstance(kind, type) and issubclass(kind, Entry):
            fields = {field.alias or name: field.annotation for name, field in kind.model_fields.items()}
            kind = _entry_in(fields[str(part)])
        else:
            kind = _entry_in(get_args(kind)[-1])
    return {field.alias or name: field.description or "" for name, field in kind.model_fields.items()}


def _entry_in(annotation: Any) -> Any:
    """The part of an annotation that holds keys: X in `X | None` and in `Annotated[X, …]`."""
    if get_origin(annotation) is Annotated:
        return _entry_in(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType):
        return _entry_in(next(arg for arg in typing.get_args(annotation) if arg is not type(None)))
    return annotation
