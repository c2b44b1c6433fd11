"""The headers of planted/ with their paths taken away; one of them once more as an open mesh, as a scan would be.

Bores are given, in random order, so that tubes must cross; `free_NAME` is the same header with its bores free,
`stock_NAME` with a shelf, `only_NAME` with nothing but the whole bends of that shelf.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from headergen.checks.measure import Meshes
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import index_of
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Box, Draft, LengthTarget, MeshRef, Stock, StockBend
from headergen.solve.route.problem import least_length
from headergen.spec.reader import read_spec

FOLDER = Path(__file__).parent / "planted"
AS_SCAN = "four_1"
TOO_SHORT = ("four_2", "three_1", "six_two_1", "bank_1")  # and once more with an impossible length
FREE = "free_"
STOCKED, ONLY = "stock_", "only_"
SHELF = Stock(tuple(StockBend(63.5, math.radians(angle), (80.0, 80.0)) for angle in (30, 45, 60, 90, 180)), ())
EIGHT = "eight_one_1"  # eight into one, apart from the planted set


@dataclass(frozen=True)
class Case:
    name: str
    draft: Draft
    meshes: Meshes
    possible: bool = True


def cases(names: Collection[str] = ()) -> Iterator[Case]:
    """All of the set, or those named; eight into one and those with a prefix only if they are named."""
    by_prefix: dict[str, list[str]] = {}
    for name in names:
        prefix = next((each for each in (FREE, STOCKED, ONLY) if name.startswith(each)), "")
        by_prefix.setdefault(prefix, []).append(name.removeprefix(prefix))
    for prefix, given in by_prefix.items() if names else [("", [])]:
        for case in _of_the_set(given):
            yield replace(case, name=prefix + case.name, draft=_varied(case.draft, prefix))


def _varied(draft: Draft, prefix: str) -> Draft:
    routing = draft.routing
    if prefix == FREE:
        return replace(draft, routing=replace(routing, bores="free"))
    if prefix == ONLY:
        return replace(draft, stock=SHELF, routing=replace(routing, shelf="only"))
    return replace(draft, stock=SHELF) if prefix == STOCKED else draft


def _of_the_set(names: Collection[str]) -> Iterator[Case]:
    for path in sorted(FOLDER.glob("*.yaml")):
        known = {path.stem, f"no_{path.stem}", *(["scan"] if path.stem == AS_SCAN else [])}
        if not known & set(names) and (names or path.stem == EIGHT):  # older trees cannot read eight into one
            continue
        whole = without_paths(read_spec(path)[1])
        found = [Case(path.stem, whole, {})]
        if path.stem == AS_SCAN:
            found.append(Case("scan", *as_scan(whole)))
        if path.stem in TOO_SHORT:
            short = LengthTarget(least_length(whole) - 5.0, 2.0)
            found.append(Case(f"no_{path.stem}", replace(whole, length=short), {}, possible=False))
        yield from (case for case in found if not names or case.name in names)


def without_paths(draft: Draft) -> Draft:
    return draft.with_primaries(tuple(replace(p, steps=(), to_find=True) for p in draft.primaries))


def as_scan(draft: Draft) -> tuple[Draft, Meshes]:
    """The boxes of a header as meshes with a face left out, which have no inside."""
    boxes = {item.name: box_mesh(item.shape) for item in draft.chassis if isinstance(item.shape, Box)}
    meshes = {name: index_of(TriangleMesh(m.vertices, m.faces[:-2], False)) for name, m in boxes.items()}
    chassis = tuple(
        replace(item, shape=MeshRef(item.name, "", "mm", WORLD)) if item.name in meshes else item
        for item in draft.chassis
    )
    return replace(draft, chassis=chassis), meshes
