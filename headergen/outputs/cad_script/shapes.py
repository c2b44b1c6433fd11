"""The script's form of each shape of part: its table of figures, and the functions that make solids of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any

from headergen.geometry.merge.measures import Merge
from headergen.model import Draft, Header
from headergen.outputs.cad_script import figures
from headergen.outputs.cad_script.figures import Figures
from headergen.parts.collector import MergeSeat
from headergen.parts.kind import Seated, Shape
from headergen.parts.table import parts_to_make

MERGES = "merges"  # the table of merges that others refer to, by the name of the collector


@dataclass(frozen=True)
class ScriptShape:
    """`table`: the name of its table, with the comment `said` before it; `function`: the one that makes a part.

    The function is in the file of functions/ called `text`; `needs`: other files that it calls. `imports`: an import
    line that it needs. `drills`: whether there is a function that cuts holes for these parts into others.
    """

    table: str
    said: str
    function: str
    figures: Callable[[Draft, Any], Figures]
    text: str
    needs: tuple[str, ...] = ()
    imports: str = ""
    drills: bool = False


SAID_OF_MERGES = "Heights count from the collector plane, along the gas; x points to the first bore."
SHAPES: Mapping[Shape, ScriptShape] = {
    "plate": ScriptShape(
        "plates",
        "What tubes and transitions are welded into. An outline starts at its first place.",
        "plate",
        figures.plate,
        "plates",
    ),
    "tube": ScriptShape(
        "tubes",
        "As cut, from the flange on. straight: length; bend: degrees, radius of the centreline, rotation in degrees;\n"
        "# it is 0 for a bend toward rotation_zero.",
        "tube",
        figures.tube,
        "tubes",
    ),
    "transition": ScriptShape(
        "transitions",
        "From the shape of a port to the round of its tube.",
        "transition",
        figures.transition,
        "transitions",
    ),
    "merge": ScriptShape(
        "collectors", "Sleeves, leaning tubes, cone and outlet, of one merge.", "collector", figures.collector, MERGES
    ),
    "spike": ScriptShape(
        "spikes",
        "The filler in the middle of a merge.",
        "spike",
        figures.spike,
        "spikes",
        (MERGES,),
        "from cadquery.func import loft",
    ),
    "turned": ScriptShape(
        "outlet_ends",
        "A half section of radius and height, turned about the outlet.",
        "outlet_end",
        figures.outlet_end,
        "outlet_ends",
    ),
    "boss": ScriptShape(
        "bosses",
        "Square on their tubes; their holes go through the wall too.",
        "boss",
        figures.boss,
        "bosses",
        drills=True,
    ),
    "sheet": ScriptShape(
        "sheets",
        "On edge on their tubes, x and y in the sheet; tubes: what their feet are fitted to.",
        "sheet",
        figures.sheet,
        "sheets",
        ("tubes",),
    ),
}
# a merge that is not of revolution and its spike, which have figures of their own
UNEVEN_MERGE, UNEVEN_SPIKE = "uneven merge", "uneven spike"
SCRIPTS: Mapping[str, ScriptShape] = {
    **dict[str, ScriptShape](SHAPES.items()),
    UNEVEN_MERGE: ScriptShape(
        "uneven_collectors",
        "Merges that are not of revolution: their tubes, all turned to the apex; halfway: normals of the planes there.",
        "uneven_collector",
        figures.uneven_collector,
        "uneven_merges",
        (MERGES,),
    ),
    UNEVEN_SPIKE: ScriptShape(
        "uneven_spikes",
        "Fillers of the one opening that the tubes of such a merge leave; corners between neighbouring tubes.",
        "uneven_spike",
        figures.uneven_spike,
        "uneven_spikes",
        (MERGES,),
    ),
}


@dataclass(frozen=True)
class Tables:
    """Each shape of SCRIPTS that the script has → the name of each part and its figures; `merges` by the collector.

    `left_out`: parts, and holes for parts, that have no figures. `machined`: parts that are machined all over.
    """

    parts: Mapping[str, Mapping[str, Figures]]
    merges: Mapping[str, Figures]
    left_out: tuple[str, ...]
    machined: tuple[str, ...]


def script_shape(part: Seated) -> str:
    """The shape in SCRIPTS of a part."""
    if not isinstance(part.seat, MergeSeat):
        return part.kind.shape
    if isinstance(part.seat.merge, Merge):
        return part.kind.shape
    return UNEVEN_MERGE if part.kind.shape == "merge" else UNEVEN_SPIKE


def tables_of(header: Header, made: Collection[str]) -> Tables:
    """The figures of the parts named in `made`."""
    parts = parts_to_make(header)
    by_shape = {shape: [part for part in parts if script_shape(part) == shape] for shape in SCRIPTS}
    said = {shape: [part for part in them if part.name in made] for shape, them in by_shape.items()}
    every = [part for them in said.values() for part in them]
    left_out = [name for name in made if name not in {part.name for part in every}]
    drilling = [part for shape, them in by_shape.items() if SCRIPTS[shape].drills for part in them]
    return Tables(
        parts={
            shape: {part.name: SCRIPTS[shape].figures(header.draft, part.seat) for part in them}
            for shape, them in said.items()
            if them
        },
        merges={
            part.seat.collector.name: figures.merge(part.seat)
            for part in every
            if isinstance(part.seat, MergeSeat) and isinstance(part.seat.merge, Merge)
        },
        left_out=(*left_out, *(f"hole for {part.name}" for part in drilling if part.name not in made)),
        machined=tuple(part.name for part in every if part.kind.finish == "machined"),
    )
