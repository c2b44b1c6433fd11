"""The types of arrays in annotations, and the area of a polygon."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


def polygon_area(corners: Array) -> float:
    """The area within (n, 2) corners, by the shoelace formula; negative if they go round clockwise."""
    x, y = np.asarray(corners).T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2
