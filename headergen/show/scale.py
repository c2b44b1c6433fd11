"""The scale of gaps: bands of one hue, darker when nearer; and tubes in this scale for a page's view."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.mesh.triangles import Faces, Points
from headergen.model import Centreline
from headergen.show.meshes import packed_surface

INCH = 25.4
# of one hue, in even steps of lightness, so that their order shows to the colour blind and in grey
TONES = ("#04313b", "#0a4f5f", "#1a7186", "#4693a7", "#7fb5c4", "#b5d5de", "#e3eff2")
EDGES = {
    "mm": (0.0, 5.0, 10.0, 15.0, 20.0, 30.0),
    "in": tuple(INCH * inches for inches in (0, 0.2, 0.4, 0.6, 0.8, 1.2)),
}
SIDES, RING = 24, 4.0  # round a tube, and largest distance of rings in mm
HATCH = 3  # one of this many stripes is dark; SIDES is a multiple of it


@dataclass(frozen=True)
class Toned:
    """A run with arrays (n,) in mm: lengths along it, the smallest gap, `gap`, and the smallest margin, `spare`."""

    line: Centreline
    radius: float
    at: NDArray[np.float64]
    gap: NDArray[np.float64]
    spare: NDArray[np.float64]


def bands(gap: NDArray[np.float64], units: str) -> NDArray[np.int64]:
    """The index in TONES of each gap, by EDGES."""
    return np.searchsorted(np.array(EDGES[units]), gap, side="right")


def packed_tubes(toned: Toned, units: str) -> list[dict[str, Any]]:
    """A tube coloured by its gaps for a page's view: in bands, and striped where a gap is below its requirement.

    Two meshes over the same rings: "gap" has a tone for each vertex besides the data of `packed`, in base64 of 8 bits;
    "below" has the dark stripes, and is left out if there are none.
    """
    length = toned.line.length
    at = np.linspace(0.0, length, max(2, int(np.ceil(length / RING)) + 1))
    rings, normals = _rings(toned, at)
    tones = np.repeat(bands(np.interp(at, toned.at, toned.gap), units), SIDES).astype("u1")
    faces, stripe = _faces(len(at))
    middle = (at[:-1] + at[1:]) / 2
    near = np.repeat(np.interp(middle, toned.at, toned.spare) < 0, 2 * SIDES)
    dark, name = near & stripe, toned.line.run
    found = [{**packed_surface(name, "gap", (rings, faces[~dark], normals)), "tones": _text(tones)}]
    if dark.any():
        found.append(packed_surface(name, "below", (rings, faces[dark], normals)))
    return found


def _rings(toned: Toned, at: Sequence[float] | NDArray[np.float64]) -> tuple[Points, Points]:
    """Vertices and normals of rings that are carried along without twist."""
    centres, ways = (np.array(each) for each in zip(*(frame_at(toned.line, float(a))[:2] for a in at), strict=True))
    first = np.empty_like(ways)
    side = np.array(frame_at(toned.line, 0.0)[2])
    for k, way in enumerate(ways):
        side = side - (side @ way) * way
        side = side / np.linalg.norm(side)
        first[k] = side
    turn = 2 * np.pi * np.arange(SIDES) / SIDES
    out = np.cos(turn)[:, None] * first[:, None] + np.sin(turn)[:, None] * np.cross(ways, first)[:, None]
    return (centres[:, None] + toned.radius * out).reshape(-1, 3), out.reshape(-1, 3)


def _faces(rings: int) -> tuple[Faces, NDArray[np.bool_]]:
    """The triangles between rings, and which of them are in a stripe: between two diagonals of the cells."""
    i, j = np.meshgrid(np.arange(rings - 1), np.arange(SIDES), indexing="ij")
    a, b = i * SIDES + j, i * SIDES + (j + 1) % SIDES
    c, d = a + SIDES, b + SIDES
    faces = np.stack([np.stack([a, b, c], axis=-1), np.stack([b, d, c], axis=-1)], axis=2).reshape(-1, 3)
    stripe = np.stack([(i + j) % HATCH == 0, (i + j + 1) % HATCH == 0], axis=-1).reshape(-1)
    return faces.astype(np.int64), stripe


def _text(tones: NDArray[Any]) -> str:
    return base64.b64encode(tones.tobytes()).decode("ascii")
