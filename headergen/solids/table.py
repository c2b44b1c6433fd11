"""The function that makes the solid of each shape of part; parts/table.py gives the shape of each kind of part."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from headergen.parts.kind import Seated, Shape
from headergen.solids.boss import boss_hole, boss_part
from headergen.solids.collector import merge_part, spike_part
from headergen.solids.flange import plate_part
from headergen.solids.making import Making, Shaped
from headergen.solids.outlet_end import end_part
from headergen.solids.sheet import sheet_part
from headergen.solids.transition import transition_part
from headergen.solids.tube import tube_part

# raise SolidError, naming the part, if it has no sound solid; ValueError for a bend tighter than its tube
SOLIDS: Mapping[Shape, Callable[[Seated, Making], Shaped]] = {
    "plate": plate_part,
    "tube": tube_part,
    "transition": transition_part,
    "merge": merge_part,
    "spike": spike_part,
    "turned": end_part,
    "boss": boss_part,
    "sheet": sheet_part,
}
# what a part cuts out of the part that it is on
HOLES: Mapping[Shape, Callable[[Any], Any]] = {"boss": lambda place: boss_hole(place.boss, place.seat)}
