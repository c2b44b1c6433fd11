"""The solids of a header for a user's script, as cadquery objects: by name, or all in an assembly."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import cadquery

from headergen.model import Header
from headergen.solids.build import sound_solids


def named_solids(header: Header, names: Collection[str] | None = None) -> dict[str, Any]:
    """Name of each part → cadquery.Solid in place; only the parts in `names`, if given. Nothing is written.

    Raises SolidError, naming the part, if it has no sound solid, and ValueError for a bend that is tighter than its
    tube. The caller must refuse a tube that crosses itself.
    """
    return {name: cadquery.Solid(solid) for name, solid, _ in sound_solids(header, names)}


def assembly(header: Header) -> Any:
    """All parts of a header as a cadquery.Assembly, named and coloured as in header.step; errors as named_solids."""
    made = cadquery.Assembly(name=header.draft.job.title)
    for name, solid, colour in sound_solids(header):
        made.add(cadquery.Solid(solid), name=name, color=cadquery.Color(*colour))
    return made
