"""The messages of a job: its progress, what it did not make, and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from headergen.jobs.process import Failure
from headergen.model import Header

Report = Callable[[str, int, int], None]  # stage, done, total

FOR_SOLIDS = "apt-get install libgl1 libexpat1"  # missing on a slim Debian, as in the README
FOR_PICTURE = "apt-get install libegl1 libegl-mesa0 libgl1-mesa-dri"


class WorkError(RuntimeError):
    """A legal part could not be made."""


@dataclass(frozen=True)
class Missing:
    """Something that was not made, and why. `failed`: it should have been made, and the job is not at fault."""

    what: str
    why: str
    failed: bool = False


NotMade = tuple[Missing, ...]


def cannot_render(failure: Failure) -> str:
    return f"this machine cannot render: {failure.why}; a slim Debian needs `{FOR_PICTURE}`"


def buildable(header: Header, without: frozenset[str]) -> Header:
    """The header without the runs of which no legal solid exists."""
    return header.with_runs({run.name for run in header.runs} - without)


def paired_arrays(path: Path) -> list[tuple[Any, Any]]:
    """The arrays of a file in pairs, in the order in which they were stored."""
    with np.load(path) as arrays:
        found = [arrays[f"arr_{k}"] for k in range(len(arrays.files))]
    return list(zip(found[::2], found[1::2], strict=True))
