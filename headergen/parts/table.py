"""The table of all part kinds, and the parts of a header by it.

The module of a kind defines its name, where it is seated, its envelope, what it may touch, its finish, and the shape
from which other rooms make its solid, its drawing and its figures.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain
from typing import TypeVar

from headergen.model import Draft, Header
from headergen.parts.boss import BOSS
from headergen.parts.bracket import BRACKET
from headergen.parts.collector import COLLECTOR, SPIKE
from headergen.parts.flange import FLANGE
from headergen.parts.kind import Envelope, PartKind, Seated
from headergen.parts.outlet_end import OUTLET_END
from headergen.parts.outlet_plate import OUTLET_DIVIDER, OUTLET_PLATE, OUTLET_TRANSITION
from headergen.parts.run import PRIMARY, SECONDARY
from headergen.parts.tabs import TAB
from headergen.parts.transition import TRANSITION

# in the order in which they are made and listed; kinds in one row are made collector by collector
ROWS: tuple[tuple[PartKind, ...], ...] = (
    (FLANGE,),
    (TRANSITION,),
    (PRIMARY,),
    (SECONDARY,),
    (COLLECTOR, SPIKE, OUTLET_END, OUTLET_PLATE, OUTLET_TRANSITION, OUTLET_DIVIDER),
    (BOSS,),
    (TAB,),
    (BRACKET,),
)
KINDS = tuple(chain.from_iterable(ROWS))

P = TypeVar("P", Seated, Envelope)


def parts_of(header: Header) -> tuple[Seated, ...]:
    """Every part of a header, in the order in which they are made and listed."""
    by_row = ((part for kind in row for part in kind.seats(header)) for row in ROWS)
    return tuple(part for row in by_row for part in _by_collector(header.draft, row))


def parts_to_make(header: Header) -> tuple[Seated, ...]:
    """The parts that can be made, as far as that is known without the kernel."""
    return tuple(part for part in parts_of(header) if not part.infeasibility)


def impossible_parts(header: Header) -> dict[str, str]:
    """Name of each part that cannot be made → why; the findings say the same."""
    return {part.name: part.infeasibility for part in parts_of(header) if part.infeasibility}


def envelopes_of(header: Header) -> tuple[Envelope, ...]:
    """The envelopes of the parts beside the tubes, as far as the spec has them; pieces of one part are consecutive."""
    by_row = ((each for kind in row for each in kind.envelopes(header)) for row in ROWS)
    return tuple(each for row in by_row for each in _by_collector(header.draft, row))


def _by_collector(draft: Draft, things: Iterable[P]) -> Iterator[P]:
    place = {collector.name: number for number, collector in enumerate(draft.collectors)}
    yield from sorted(things, key=lambda each: place.get(each.collector, 0))
