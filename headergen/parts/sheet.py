"""Parts cut flat from sheet, mounted on edge on tubes; the tubes are cut out of their feet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.body import distance_to_body, tube_body
from headergen.geometry.frames import axes_matrix, point_in
from headergen.geometry.plate.outline import Outline
from headergen.model import Centreline, Frame, Vec2

UNDER_FOOT, DEEPER = 129, 1e-4  # places along a foot at which the skin is computed; mm it may be deeper between them
HALVINGS = 40

Foot = tuple[Centreline, float]  # centreline and outer radius of the tube under a sheet


@dataclass(frozen=True)
class Sheet:
    """`outline`: in x and y of `frame`, which is in the mid-plane, before `tubes` are cut out.

    `holes`: centres and radii. `flat`: the cut outline in the mid-plane, if it is drawn.
    """

    outline: Outline
    holes: tuple[tuple[Vec2, float], ...]
    frame: Frame
    thickness: float
    tubes: tuple[Foot, ...]
    flat: Outline | None = None


def back_of(sheet: Sheet) -> Frame:
    """The frame of a sheet set back by half of its thickness."""
    return replace(sheet.frame, origin=point_in(sheet.frame, (0.0, 0.0, -sheet.thickness / 2)))


@lru_cache(maxsize=256)  # an unmoved tab is asked for again and again
def lowest_skin(foot: Foot, frame: Frame, half: tuple[float, float]) -> float:
    """The least height (y) of a tube's skin under a foot, above the tube's axis.

    `half`: half the foot, along x and across the sheet.
    """
    length, back = half
    x, z = (each.ravel() for each in np.meshgrid(np.linspace(-length, length, UNDER_FOOT), np.linspace(-back, back, 5)))
    return float(skin_heights(foot, frame, x, z, foot[1]).min()) - DEEPER


def skin_heights(foot: Foot, frame: Frame, x: Array, z: Array, most: float) -> Array:
    """The heights (y) of a tube's skin at places (n,) in a frame on its axis, by bisection.

    They are searched between half its radius and `most`.
    """
    (line, radius), axes, origin = foot, axes_matrix(frame), np.array(frame.origin)
    body, low, high = tube_body(line, radius), np.full(len(x), radius / 2), np.full(len(x), most)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        within = distance_to_body(body, np.column_stack([x, middle, z]) @ axes + origin)[0] < 0.0
        low, high = np.where(within, middle, low), np.where(within, high, middle)
    return np.asarray(low)
