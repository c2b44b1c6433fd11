"""What is known only once parts exist: the gaps of their own meshes to the chassis, and metal shared by two parts.

Before anything is made, envelopes stand for flange, sleeves, merge and outlet; they enclose these parts, so their gaps
are smaller. Their findings remain. Here every made part that is not a tube is measured by its mesh too; parts without
an envelope (transitions, spikes, bosses) are measured for the first time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from headergen.checks.collision import Facets, facets_of, first_contact, nearest_places
from headergen.checks.envelopes import required_of
from headergen.checks.measure import Meshes, surfaces_of
from headergen.checks.second_opinion import MOST_TRIANGLES, item_skins
from headergen.geometry.distance.depth import deepest
from headergen.geometry.frames import vec
from headergen.geometry.mesh.index import TriangleIndex, index_of, near_point
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.geometry.mesh.winding import is_wrong_side, winding_numbers
from headergen.model import ChassisItem, Gap, Header

FAR = 200.0  # mm above the clearance beyond which a part's gap is not reported
NOTHING: Mapping[str, str] = MappingProxyType({})
BESIDE_SCAN = 20.0  # the same for a scan, which is cropped to this before the collision library gets it


def made_gaps(
    header: Header, meshes: Meshes, skins: Mapping[str, TriangleMesh], on_head: Mapping[str, str] = NOTHING
) -> Iterator[Gap]:
    """The gap of each part's mesh (`skins`, by name) to every item; where surfaces meet, the depth of the part.

    `on_head`: parts seated on what tubes may start on, each with the name of its flange; they are not measured against
    what that flange is seated on. The depth of a part wholly inside a closed obstacle, or outside a closed enclosure,
    is the distance between the two surfaces. An open scan has no inside, so the depth is unknown, and the gap is
    reported as a crossing. `meshes` holds the items that are meshes.
    """
    surfaces = surfaces_of(header, meshes)
    parts = {name: facets_of([mesh]) for name, mesh in skins.items()}
    for item in header.draft.chassis:
        around = _around(item, surfaces, skins)
        if not around:
            continue
        body, surface = facets_of(around), surfaces.get(item.name)
        bodies = [index_of(mesh) for mesh in around if mesh.closed] if surface is None else [surface]
        far = FAR if surface is None or len(surface) <= MOST_TRIANGLES else BESIDE_SCAN
        for name, part in parts.items():
            if name in on_head and item.free_for(on_head[name]) > 0:
                continue
            required = required_of(item, name in on_head)
            gap = _sided(_gap(name, part, required, body), required, skins[name], bodies)
            if gap.value < required.clearance + far:
                yield gap


def _sided(gap: Gap, item: ChassisItem, part: TriangleMesh, bodies: list[TriangleIndex]) -> Gap:
    """A distance between surfaces as a gap: negative on the wrong side; where they meet, the depth of the part."""
    if item.role == "surface":
        return replace(gap, crosses=gap.value <= 0)
    if gap.value > 0:
        corner = part.vertices[:1]
        around = [(body.closed, np.abs(winding_numbers(body, corner))) for body in bodies]
        wrong = any(is_wrong_side(item.role, closed, winding).all() for closed, winding in around)
        return replace(gap, value=-gap.value, inside=True) if wrong else gap
    depths = [deepest(part, body, item.role) for body in bodies if body.closed]
    worst = max((each for each in depths if each is not None), key=lambda each: each[0], default=None)
    if worst is None:
        return replace(gap, crosses=not all(body.closed for body in bodies))
    depth, place, foot = worst
    return replace(gap, value=-depth, points=(vec(place), vec(foot)), at_least=True)


def _gap(name: str, part: Facets, item: ChassisItem, body: Facets) -> Gap:
    distance, *points = nearest_places(part, body)
    if distance <= 0.0:  # for surfaces that meet the library gives a common place, not the nearest points
        place = first_contact(part, body) or points[0]
        points = [place, place]
    return Gap(name, item.name, item.clearance, max(distance, 0.0), (points[0], points[1]))


def _around(item: ChassisItem, surfaces: Meshes, skins: Mapping[str, TriangleMesh]) -> list[TriangleMesh]:
    """An item as meshes; of a scan, the part of it near some part, which may be nothing."""
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
