"""How far points are from the things of a chassis, by the spec's own text and other libraries: of headergen it knows
nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
import yaml
from numpy.typing import NDArray
from trimesh.triangles import closest_point

Array = NDArray[np.float64]
MM = {"mm": 1.0, "in": 25.4}
ABOUT, BESIDE = 200, 10.0  # points that tell which triangles are near, and by how much they may be farther (mm)


def items(spec: Path) -> Iterator[tuple[str, Any, float]]:
    """Each thing's name, the function of its distance from points (n, 3), and how much of a tube is free of it (mm)."""
    said = yaml.safe_load(spec.read_text(encoding="utf-8"))
    unit = MM[said["units"]]
    for item in said["chassis"]:
        free = _length(item.get("free_from_flange", 0.0), unit)
        yield item["name"], _distance(item, unit, spec.parent), free


def _length(value: Any, unit: float) -> float:
    """A bare figure, or one with its unit: 3/8 in."""
    if isinstance(value, (int, float)):
        return value * unit
    over, under, own = re.fullmatch(r"([\d.]+)(?:/(\d+))? (mm|in)", value).groups()  # type: ignore[union-attr]
    return float(over) / float(under or 1) * MM[own]


def _distance(item: Any, unit: float, folder: Path) -> Any:
    if "mesh" in item:
        return _of_mesh(folder / item["mesh"], MM[item["units"]])
    if "plane" in item:
        origin, normal = (np.array(item["plane"][key], float) for key in ("origin", "normal"))
        return lambda points: (points - origin * unit) @ (normal / np.linalg.norm(normal))
    if "box" in item:
        return _of_box(item["box"], unit)
    if "cylinder" in item:
        own = item["cylinder"]
        ends = np.array([own["from"], own["to"]], float) * unit
        return _of_cylinder(*ends, _length(own["diameter"], unit) / 2)
    corners = np.array(item["tube"]["points"], float) * unit
    radius = _length(item["tube"]["diameter"], unit) / 2
    lines = list(pairwise(corners))
    return lambda points: np.min([_to_line(points, *line) for line in lines], axis=0) - radius


def _of_mesh(path: Path, unit: float) -> Any:
    """Triangle by triangle, of those that are nearly as near as the nearest to some of the points."""
    mesh = trimesh.load(path, force="mesh")
    triangles = np.array(mesh.triangles) * unit

    def away(points: Array, some: Array) -> Array:
        found = [
            np.linalg.norm(points - closest_point(np.broadcast_to(each, (len(points), 3, 3)), points), axis=1)
            for each in some
        ]
        return np.array(found)

    def distance(points: Array) -> Array:
        rough = away(points[:: max(len(points) // ABOUT, 1)], triangles)
        near = (rough < rough.min(axis=0) + BESIDE).any(axis=1)
        found: Array = away(points, triangles[near]).min(axis=0)
        return found

    return distance


def _of_box(box: Any, unit: float) -> Any:
    up = np.array(box.get("normal", [0, 0, 1]), float)
    up /= np.linalg.norm(up)
    along = np.array(box.get("x", [1, 0, 0]), float)
    along -= (along @ up) * up
    along /= np.linalg.norm(along)
    axes = np.array([along, np.cross(up, along), up])
    middle, half = np.array(box["center"], float) * unit, np.array(box["size"], float) * unit / 2

    def distance(points: Array) -> Array:
        outside = np.abs((points - middle) @ axes.T) - half
        found: Array = np.linalg.norm(np.maximum(outside, 0.0), axis=1) + np.minimum(outside.max(axis=1), 0.0)
        return found

    return distance


def _of_cylinder(start: Array, end: Array, radius: float) -> Any:
    way = end - start
    length = float(np.linalg.norm(way))

    def distance(points: Array) -> Array:
        along = (points - start) @ way / length
        across = np.linalg.norm(points - start - np.outer(along, way / length), axis=1) - radius
        beyond = np.maximum(-along, along - length)
        outside = np.hypot(np.maximum(across, 0.0), np.maximum(beyond, 0.0))
        found: Array = outside + np.minimum(np.maximum(across, beyond), 0.0)
        return found

    return distance


def _to_line(points: Array, start: Array, end: Array) -> Array:
    way = end - start
    share = np.clip((points - start) @ way / (way @ way), 0.0, 1.0)
    found: Array = np.linalg.norm(points - start - share[:, None] * way, axis=1)
    return found
