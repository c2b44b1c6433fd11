"""What can only be said once parts exist: the gaps of their own meshes to the chassis, and where two share metal.

While nothing is made, envelopes stand for flange, sleeves, merge and outlet; they hold those parts and read nearer.
What they find stands; here every made part that is not a tube is measured by its mesh as well, and those that have no
envelope (transitions, spikes, bosses) for the first time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from headergen.checks.second_opinion import collision_manager, item_skins
from headergen.geometry.mesh import TriangleMesh
from headergen.geometry.triangles import winding_number
from headergen.model import ChassisItem, Header, PartGap, Vec

PART, ITEM = "part ", "item "  # what the collision library calls them
FAR = 200.0  # mm of clearance to spare over which a part's gap is not told


def made_gaps(
    header: Header, meshes: Mapping[str, TriangleMesh], skins: Mapping[str, TriangleMesh]
) -> Iterator[PartGap]:
    """The gap of each part's mesh (`skins`, by name) to every obstacle; 0 where the skins meet.

    Flange and transitions stand on what tubes may start on, and are not measured against it. A part wholly inside a
    closed item is as deep as its skin is far from the item's. `meshes` holds those of items that are meshes.
    """
    parts = {name: collision_manager([mesh], PART) for name, mesh in skins.items()}
    for item in header.draft.chassis:
        if item.role == "enclosure":
            continue
        around = [skin.mesh for skin in item_skins(item, meshes)]
        body = collision_manager(around, ITEM)
        for name, part in parts.items():
            if item.free_from_flange > 0 and name.startswith(("flange", "transition ")):
                continue
            found = _gap(name, part, item, body)
            inside = found.value > 0 and item.role == "obstacle" and _is_inside(skins[name], around)
            value = -found.value if inside else found.value
            if value < item.clearance + FAR:
                yield PartGap(name, item.name, item.clearance, value, found.points, inside)


def _gap(name: str, part: Any, item: ChassisItem, body: Any) -> PartGap:
    distance, names, data = part.min_distance_other(body, return_names=True, return_data=True)
    mine, theirs = sorted(names, key=lambda each: each.startswith(ITEM))
    points = _vec(data.point(mine)), _vec(data.point(theirs))
    return PartGap(name, item.name, item.clearance, max(float(distance), 0.0), points)


def _vec(point: Iterable[float]) -> Vec:
    x, y, z = (float(value) for value in point)
    return (x, y, z)


def _is_inside(part: TriangleMesh, around: list[TriangleMesh]) -> bool:
    place = np.asarray(part.vertices[0])
    return any(mesh.closed and winding_number(mesh.triangles, place) > 0.5 for mesh in around)
