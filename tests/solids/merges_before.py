"""What merges were before those that are not of revolution could be made, as their tree made them.

Run in that tree, this prints the figures and hashes that `merges_before.json` holds:

    git archive bfce62284b9d33fd98a17b8d896058c1764fdc62 | tar -x -C BEFORE
    cp tests/solids/merges_before.py BEFORE/tests/solids/
    cd BEFORE && PYTHONPATH=. python -m tests.solids.merges_before > merges_before.json
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.flow import flow_areas
from headergen.model import Collector, Header, Tube
from headergen.outputs.stl import write_stl
from headergen.parts.kind import Seated
from headergen.parts.table import parts_of
from headergen.solids.inspect import measure
from headergen.solids.making import Making
from headergen.solids.mesh import solid_mesh
from headergen.solids.shapes import faces_of
from headergen.solids.table import SOLIDS
from tests.checks.small_header import draft
from tests.random_parts import random_collector

CHORD = 0.1  # mm: of the meshes
KERNEL = "cadquery-ocp"
CASES = (*(f"random {seed}" for seed in range(10)), "grown", "thick")


def case(name: str) -> tuple[Tube, Collector]:
    """A random collector; one with larger tubes in all bores, one of thick wall."""
    if name.startswith("random"):
        return random_collector(int(name.split()[1]))
    tube, asked = random_collector({"grown": 20, "thick": 21}[name])
    if name == "grown":
        return Tube(tube.outside_diameter - 4.0, tube.wall, "304L"), replace(asked, arriving=tube)
    return tube, replace(asked, wall=2.5)


def figures_of(tube: Tube, asked: Collector) -> dict[str, Any]:
    """Design, and each part's faces, volume, place, and the hash of its STL."""
    merge, header = merge_of(tube, asked), Header(draft(tube=tube, collectors=(asked,)), (), ())
    found: dict[str, Any] = {
        "heights": [merge.mouth, merge.mitre, merge.cut, merge.cone_end, merge.end],
        "flow": [[each.at, each.area] for each in flow_areas(merge, 12)],
        "parts": {},
    }
    for part in parts_of(header):
        if isinstance(part, Seated) and part.kind.shape in ("merge", "spike") and not part.infeasibility:
            found["parts"][part.name] = _part(part, header)
    return found


def _part(part: Seated, header: Header) -> dict[str, Any]:
    solid = SOLIDS[part.kind.shape](part, Making(header.draft)).solid
    facts, mesh = measure(solid), solid_mesh(solid, CHORD, part.name)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "part.stl"
        write_stl(path, mesh, part.name, CHORD)
        stl = hashlib.sha256(path.read_bytes()).hexdigest()
    low, high = (getattr(np, which)(mesh.vertices, axis=0).tolist() for which in ("min", "max"))
    return {
        "faces": len(faces_of(solid)),
        "volume": facts.volume,
        "centre": list(facts.centre),
        "low": low,
        "high": high,
        "stl": stl,
    }


if __name__ == "__main__":
    lines = ",\n".join(f"{json.dumps(name)}: {json.dumps(figures_of(*case(name)))}" for name in CASES)
    print(f'{{"kernel": {json.dumps(version(KERNEL))}, "cases": {{\n{lines}\n}}}}')
