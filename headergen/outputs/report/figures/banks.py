"""Two banks in one drawing: this bank's centrelines, and those of the other bank mirrored onto it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import points_along, tube_body
from headergen.model import Header, Plane
from headergen.model.evidence import Banks
from headergen.outputs.report.figures.svg import WIDTH, drawing, label, path

STEP = 8.0  # mm between points of a line
ACROSS = 2 * WIDTH
VIEWS = (("From above", 0, 1), ("From the side", 0, 2))  # name, and the axes across and up


def banks_drawing(header: Header, banks: Banks) -> str:
    """Seen from above and from the side, forward to the left, at one scale."""
    here = _lines(header)
    there = [_mirrored(line, banks.found.plane) for line in _lines(banks.other)]
    parts: list[str] = []
    top = 30.0
    wide = max(float(np.ptp(np.concatenate([*here, *there])[:, axis])) for axis in (0,)) or 1.0
    scale = (ACROSS - 40) / wide
    for name, across, up in VIEWS:
        both = np.concatenate([*here, *there])
        low = both[:, [across, up]].min(axis=0)
        high = both[:, [across, up]].max(axis=0)
        parts.append(label(name, 4, top, class_="large"))
        top += 20
        for lines, kind in ((there, "other-bank"), (here, "this-bank")):
            parts += [path(_placed(line[:, [across, up]], (high, scale, top)), class_=kind) for line in lines]
        top += scale * float(high[1] - low[1]) + 50
    return drawing(parts, (ACROSS, top - 20), "Both banks, the other mirrored over this one.")


def _placed(points: Array, frame: tuple[Array, float, float]) -> list[tuple[float, float]]:
    high, scale, top = frame
    return [(20 + scale * x, top + scale * y) for x, y in (high - points).tolist()]


def _lines(header: Header) -> Sequence[Array]:
    bodies = [tube_body(line, run.tube.radius) for run, line in header.tubes]
    return [points_along(body, np.linspace(*body.span, int(body.span[1] / STEP) + 2)) for body in bodies]


def _mirrored(points: Array, plane: Plane) -> Array:
    normal = np.array(plane.normal)
    return np.asarray(points - 2 * np.outer((points - np.array(plane.origin)) @ normal, normal))
