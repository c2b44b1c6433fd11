"""Kinds of parts, as far as they are known without the CAD kernel. `parts/table.py` lists all of them.

Other rooms use the `shape` of a kind: solids/table.py makes its solid, outputs/dxf its drawing, outputs/cad_script its
figures. A kind with a shape they know needs nothing new there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from headergen.geometry.distance.convex import Convex, Frustum
from headergen.geometry.plate.outline import Outline
from headergen.model import Frame, Header, Vec

Finish = Literal["bare", "machined"]  # as bought (tube and sheet), or machined all over
Shape = Literal["plate", "tube", "transition", "merge", "spike", "turned", "boss", "sheet"]


@dataclass(frozen=True, eq=False)
class Envelope:
    """The simple solid around a part, or around a piece of it under the same name.

    `collector`: the one that the part moves with. `shape`: the same as a frustum, if it is one. `joined`: runs that
    carry it or end in it; `beside`: runs that it may be near but must not cross. `is_sleeve`: runs go into it.
    `on_head`: it is seated on what the tubes of the flange called `flange` may start on.
    """

    name: str
    solid: Convex
    collector: str = ""
    shape: Frustum | None = None
    joined: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    is_sleeve: bool = False
    on_head: bool = False
    flange: str = ""


@dataclass(frozen=True)
class Seated:
    """A part of a header: its name, also in file names, and its seat.

    `seat` is of the class that the solid of its kind is made from. `collector`: the one it belongs to.
    `infeasibility`: why it cannot be made of metal, as far as that is known without the kernel; empty if it can.
    `flange`: the name of its flange, if its kind is seated on the head.
    """

    kind: PartKind
    name: str
    seat: Any
    collector: str = ""
    infeasibility: str = ""
    flange: str = ""


@dataclass(frozen=True)
class Demand:
    """An unmet need of a part: `found` and `required` in mm, and the message after the part's name.

    `infeasibility`: why the part cannot be made; empty if it can.
    """

    part: str
    found: float
    required: float
    said: str
    point: Vec | None
    infeasibility: str = ""


@dataclass(frozen=True)
class Footing:
    """A part on a run: the middle of its foot, in mm from the start of the run, and the foot's length along it."""

    run: str
    what: str
    at: float
    length: float


@dataclass(frozen=True)
class PlateBody:
    """A plate without its holes: `outline` in x and y of `frame`, `thickness` along its z (mm)."""

    name: str
    outline: Outline
    frame: Frame
    thickness: float


def nothing(_: Header) -> Iterator[Any]:
    """For kinds that have none."""
    yield from ()


@dataclass(frozen=True)
class PartKind:
    """The common facts of all parts of a kind.

    `role`: the kind's name in reports; `seats`: every part of the kind in a header; `envelopes`: their envelopes.
    `is_run`: measured and drawn as a tube. `on_head`: seated on what tubes may start on. `follows_runs`: its place
    depends on the paths of the primaries. `is_drawn`: it is cut flat to a drawing. `demands`: the unmet needs of parts
    of the kind; `noun`: the kind of a part the draft lists as fitted; `sizes`: its lengths by their names in the
    report. `footings`: where its parts stand on runs, so that no joint is there; `plates`: those that another header
    keeps off, besides its round tubes; `welds`: the length of weld, mm, that holds each part in its place.
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
    footings: Callable[[Header], Iterator[Footing]] = nothing
    plates: Callable[[Header], Iterator[PlateBody]] = nothing
    welds: Callable[[Header], Iterator[float]] = nothing


def file_stem(name: str) -> str:
    """A part's name as a file name: letters and digits, with one underscore for each run of other characters."""
    return re.sub(r"[^0-9A-Za-z-]+", "_", name).strip("_") or "part"
