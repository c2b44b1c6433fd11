"""Keys of kept things: hashes of all that they were made from."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

PACKAGE = Path(__file__).resolve().parents[1]


def key_of_values(values: Sequence[Any], libraries: tuple[str, ...]) -> str | None:
    """The hash of plain values, of headergen's own source and of the versions of the libraries used.

    None if a value is of an unknown kind, so that equality cannot be decided.
    """
    try:
        text = "\n".join(_said(tuple(values)))
    except TypeError:
        return None
    return hashlib.sha256(f"{makers(libraries)}\n{text}".encode()).hexdigest()


def _said(value: Any) -> Iterator[str]:
    """A value as words; only equal values give equal words. Raises TypeError for a type that may hide something."""
    if is_dataclass(value) and not isinstance(value, type):
        yield f"{type(value).__qualname__} of {len(fields(value))}"
        for field in fields(value):
            yield field.name
            yield from _said(getattr(value, field.name))
    elif isinstance(value, (tuple, list)):
        yield f"{type(value).__name__} of {len(value)}"
        for each in value:
            yield from _said(each)
    elif isinstance(value, Mapping):
        yield f"mapping of {len(value)}"
        for pair in value.items():
            yield from _said(pair)
    elif isinstance(value, np.ndarray) and value.dtype != object:
        yield f"array {value.dtype} {value.shape} {hashlib.sha256(np.ascontiguousarray(value).tobytes()).hexdigest()}"
    elif value is None or isinstance(value, (bool, int, float, str, Enum)):
        yield f"{type(value).__name__} {value!r}"  # the repr of a float is exact
    else:
        raise TypeError(f"{type(value).__name__} is no plain value")


@cache
def makers(libraries: tuple[str, ...]) -> str:
    """The hash of headergen's own source and of the versions of the libraries used."""
    made = hashlib.sha256(f"{platform.python_version()} {platform.machine()} {platform.system()}".encode())
    for name in libraries:
        with suppress(PackageNotFoundError):
            made.update(f"{name} {version(name)}".encode())
    made.update(own_source().encode())
    return made.hexdigest()


@cache
def own_source() -> str:
    """The hash of headergen's own source, the same on every machine."""
    made = hashlib.sha256()
    for file in sorted(PACKAGE.rglob("*.py")):
        made.update(f"{file.relative_to(PACKAGE).as_posix()}\n".encode())
        made.update(hashlib.sha256(file.read_bytes()).digest())
    return made.hexdigest()
