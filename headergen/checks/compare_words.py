"""Two banks compared, in words; lengths are in the unit of the first bank's job."""

from __future__ import annotations

import math
from collections.abc import Iterator

from headergen.model import Plane
from headergen.model.evidence import Comparison
from headergen.words.numbers import INCH, with_unit
from headergen.words.say import capital


def said_of_banks(names: tuple[str, str], comparison: Comparison) -> Iterator[str]:
    """Lines about the two files called `names`."""
    units = comparison.units
    yield f"First: {names[0]}. Second: {names[1]}. Mirrored across {_plane(comparison.plane, units)}."
    for name, one, two in comparison.lengths:
        both, longer = (with_unit(each, units, 2) for each in (one, two)), with_unit(two - one, units, 2, "+")
        lengths = f"{' and '.join(both)} long, {longer}"
        yield f"{capital(name)}: {lengths}."
    for name, deviation in comparison.unlike:
        most = with_unit(deviation, units, 2)
        yield f"{capital(name)}: deviates at most {most} from the mirror image of the first bank's."
    for one_name, two_name, off, angle in comparison.collectors:
        x, y, z = (with_unit(value, units, 2, "+") for value in off)
        yield (
            f"Collector {two_name}: {x} forward, {y} left and {z} up from the mirror image of {one_name}, at "
            f"{math.degrees(angle):.2f}° to it."
        )
    for what, which in comparison.alone:
        yield f"{capital(what)} is in the {which} bank only, and is compared with nothing."
    gap, a, b = comparison.gap
    of = f"{a} of the first to {b} of the second"
    yield f"Smallest gap between the banks: {with_unit(gap, units, 2)}, {of}{'; they cross' if gap < 0 else ''}."


def _plane(plane: Plane, units: str) -> str:
    """The plane between two banks, as in their spec."""
    size = INCH if units == "in" else 1.0
    x, y, z = (f"{round(value / size, 4) + 0.0:g}" for value in plane.origin)
    normal = ", ".join(f"{round(value, 4) + 0.0:g}" for value in plane.normal)
    if normal == "0, 1, 0":
        return f"the plane y = {y} {units}"
    return f"the plane through [{x}, {y}, {z}] {units} square to [{normal}]"
