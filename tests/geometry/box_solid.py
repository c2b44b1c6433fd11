"""A box as a convex solid in closed form, to hold measures of convex solids against."""

from __future__ import annotations

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.distance.convex import ON_SKIN, Convex
from headergen.geometry.frames import axes_matrix
from headergen.model import Box


def box_solid(box: Box) -> Convex:
    axes, centre, half = axes_matrix(box.frame), np.array(box.frame.origin), np.array(box.size) / 2

    def skin(points: Array) -> tuple[Array, Array]:
        local = (points - centre) @ axes.T
        over = np.abs(local) - half
        beyond = np.maximum(over, 0.0)
        outside = np.sqrt(np.einsum("ij,ij->i", beyond, beyond))
        is_out = outside > ON_SKIN
        slope = np.where(is_out[:, None], beyond, np.eye(3)[over.argmax(axis=1)])
        slope /= np.where(is_out, outside, 1.0)[:, None]
        return np.where(is_out, outside, over.max(axis=1)), np.where(local < 0.0, -slope, slope) @ axes

    def farthest(directions: Array) -> Array:
        return np.asarray(centre + np.sign(directions @ axes.T) * half @ axes)

    return Convex(skin, farthest, centre, float(np.linalg.norm(half)))
