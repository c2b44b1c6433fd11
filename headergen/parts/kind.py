"""What a kind of part is, as far as it can be said without the CAD kernel. `parts/table.py` lists them all.

Later rooms make something of a part by its kind's `shape`: solids/table.py its solid, outputs/dxf its drawing,
outputs/cad_script its figures. A kind with a shape that is known there needs nothing new in them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from headergen.geometry.distance.convex import Convex, Frustum
from headergen.model import Header, Vec

Finish = Literal["bare", "machined"]  # tube and sheet as bought, or cut all over
Shape = Literal["plate", "tube", "transition", "merge", "spike", "turned", "boss", "sheet"]


@dataclass(frozen=True, eq=False)
class Envelope:
    """A part, or a piece of it under the same name, as the simple solid that holds it.

    `collector`: which it goes with when that is moved. `shape`: the same as a frustum, where it is one. `joined`: runs
    that it stands on, or that end in it; `beside`: runs that it may come close to, but not cross. `is_sleeve`: runs go
    into it. `on_head`: it stands on what the tubes may start on.
    """

    name: str
    solid: Convex
    collector: str = ""
    shape: Frustum | None = None
    joined: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    is_sleeve: bool = False
    on_head: bool = False


@dataclass(frozen=True)
class Seated:
    """A part that a header asks for: its name among the files, and where and as what it stands.

    `seat` is of the class that its kind's shape is made from. `collector`: which it belongs to. `why_not`: why it
    cannot be made of metal, as far as that is known without the kernel; empty where it can.
    """

    kind: PartKind
    name: str
    seat: Any
    collector: str = ""
    why_not: str = ""


@dataclass(frozen=True)
class Demand:
    """What a part needs and does not have, in mm: `found` and `required`, and what the message says after the part's
    name. `why_not`: why it cannot be made so; empty where it can."""

    part: str
    found: float
    required: float
    said: str
    point: Vec | None
    why_not: str = ""


def nothing(_: Header) -> Iterator[Any]:
    """Of kinds that have none."""
    yield from ()


@dataclass(frozen=True)
class PartKind:
    """What every part of a kind has in common.

    `role`: what the kind is called in reports; `seats`: every part of the kind that a header asks for; `envelopes`:
    what holds them. `is_run`: measured and drawn as a tube. `on_head`: it stands on what the tubes may start on.
    `follows_runs`: where it stands depends on the paths of the primaries. `is_drawn`: it is cut flat, to a drawing.
    `demands`: what parts of the kind need and do not have; `noun`: of what the draft lists as fitted, and
    `sizes`: its lengths, by what they are called in the report.
    """

    role: str
    shape: Shape
    seats: Callable[[Header], Iterator[Seated]]
    envelopes: Callable[[Header], Iterator[Envelope]] = nothing
    finish: Finish = "bare"
    is_run: bool = False
    on_head: bool = False
    follows_runs: bool = False
    is_drawn: bool = False
    demands: Callable[[Header], Iterator[Demand]] = nothing
    noun: type | None = None
    sizes: Callable[[Any, Header], Mapping[str, float]] = lambda *_: {}


def file_stem(name: str) -> str:
    """The name of a part as a file may be called: letters, digits, and one underscore for anything else."""
    return re.sub(r"[^0-9A-Za-z-]+", "_", name).strip("_") or "part"
