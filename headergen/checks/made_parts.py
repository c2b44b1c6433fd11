"""What can only be said once parts exist: the gaps of their own meshes to the chassis, and where two share metal.

While nothing is made, envelopes stand for flange, sleeves, merge and outlet; they hold those parts and read nearer.
What they find stands; here every made part that is not a tube is measured by its mesh as well, and those that have no
envelope (transitions, spikes, bosses) for the first time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from headergen.checks.measure import Meshes, surfaces_of
from headergen.checks.second_opinion import MOST_TRIANGLES, collision_manager, item_skins
from headergen.geometry.index import TriangleIndex, index_of, near_point
from headergen.geometry.mesh import TriangleMesh
from headergen.geometry.winding import INSIDE, winding_numbers
from headergen.model import ChassisItem, Header, PartGap, Vec

PART, ITEM = "part ", "item "  # what the collision library calls them
FAR = 200.0  # mm of clearance to spare over which a part's gap is not told
BESIDE_SCAN = 20.0  # the same of a scan, of which the collision library is given no more than that


def made_gaps(header: Header, meshes: Meshes, skins: Mapping[str, TriangleMesh]) -> Iterator[PartGap]:
    """The gap of each part's mesh (`skins`, by name) to every obstacle; 0 where the skins meet.

    Flange and transitions stand on what tubes may start on, and are not measured against it. A part wholly inside a
    closed item is as deep as its skin is far from the item's. `meshes` holds the items that are meshes.
    """
    surfaces = surfaces_of(header, meshes)
    parts = {name: collision_manager([mesh], PART) for name, mesh in skins.items()}
    for item in header.draft.chassis:
        if item.role == "enclosure":
            continue
        around = _around(item, surfaces, skins)
        if not around:
            continue
        body, surface = collision_manager(around, ITEM), surfaces.get(item.name)
        far = FAR if surface is None or len(surface) <= MOST_TRIANGLES else BESIDE_SCAN
        for name, part in parts.items():
            if item.free_from_flange > 0 and name.startswith(("flange", "transition ")):
                continue
            found = _gap(name, part, item, body)
            inside = (
                found.value > 0 and item.role == "obstacle" and _is_inside(skins[name], surfaces.get(item.name), around)
            )
            value = -found.value if inside else found.value
            if value < item.clearance + far:
                yield PartGap(name, item.name, item.clearance, value, found.points, inside)


def _gap(name: str, part: Any, item: ChassisItem, body: Any) -> PartGap:
    distance, names, data = part.min_distance_other(body, return_names=True, return_data=True)
    mine, theirs = sorted(names, key=lambda each: each.startswith(ITEM))
    points = _vec(data.point(mine)), _vec(data.point(theirs))
    return PartGap(name, item.name, item.clearance, max(float(distance), 0.0), points)


def _vec(point: Iterable[float]) -> Vec:
    x, y, z = (float(value) for value in point)
    return (x, y, z)


def _around(item: ChassisItem, surfaces: Meshes, skins: Mapping[str, TriangleMesh]) -> list[TriangleMesh]:
    """An item as meshes; of a scan what is beside some part, which may be nothing."""
    scan = surfaces.get(item.name)
    if scan is None or len(scan) <= MOST_TRIANGLES:
        return [skin.mesh for skin in item_skins(item, surfaces)]
    rows = []
    for skin in skins.values():
        middle = (skin.vertices.min(axis=0) + skin.vertices.max(axis=0)) / 2
        reach = float(np.linalg.norm(skin.vertices - middle, axis=1).max())
        rows.append(near_point(scan, middle, reach + item.clearance + BESIDE_SCAN))
    near = np.unique(np.concatenate(rows)) if rows else np.zeros(0, np.intp)
    return [scan.mesh(near)] if len(near) else []


def _is_inside(part: TriangleMesh, surface: TriangleIndex | None, around: list[TriangleMesh]) -> bool:
    place = np.asarray(part.vertices[:1])
    bodies = [index_of(mesh) for mesh in around if mesh.closed] if surface is None else [surface]
    return any(abs(float(winding_numbers(body, place)[0])) > INSIDE for body in bodies)
