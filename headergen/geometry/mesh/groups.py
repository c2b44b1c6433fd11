"""Groups of what belongs together: numbers joined in pairs, and points that are near each other.

In numpy alone: a search library takes longer to load than these take for all meshes of a header.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import Points

Pairs = NDArray[np.int64]  # (n, 2) of them
# a direction along which points of a plate, a cylinder or a grid do not fall together
ACROSS = np.array([0.3861, 0.5113, 0.7677])


def groups_of(count: int, pairs: Pairs) -> NDArray[np.int64]:
    """The group of each of `count` numbers, where each pair joins its two: groups count from 0, by their least member.

    Each number takes the least one that it is joined to, and then that one's, until nothing changes (hooking and
    pointer jumping, Shiloach and Vishkin 1982).
    """
    least = np.arange(count)
    while True:
        one, other = least[pairs[:, 0]], least[pairs[:, 1]]
        apart = one != other
        if not apart.any():
            break
        pairs, low, high = pairs[apart], np.minimum(one, other)[apart], np.maximum(one, other)[apart]
        np.minimum.at(least, high, low)
        while not np.array_equal(further := least[least], least):
            least = further
    return np.unique(least, return_inverse=True)[1].reshape(-1).astype(np.int64)


def near_pairs(points: Points, reach: float) -> Pairs:
    """(n, 2) pairs of the (m, 3) points that are at most `reach` apart, each once.

    Points in the order along one direction: two that are near are near in it too.
    """
    order = np.argsort(points @ ACROSS, kind="stable")
    sorted_points = points[order]
    along = sorted_points @ ACROSS
    rounding = 1e-12 * (1.0 + float(np.abs(along).max(initial=0.0)))
    found: list[Pairs] = []
    first = np.arange(len(points) - 1)
    step = 1
    while len(first):
        first = first[: np.searchsorted(first, len(points) - step)]
        first = first[along[first + step] - along[first] <= reach + rounding]
        apart = sorted_points[first + step] - sorted_points[first]
        near = first[np.einsum("ij,ij->i", apart, apart) <= reach * reach]
        found.append(np.column_stack([order[near], order[near + step]]))
        step += 1
    return np.concatenate([np.zeros((0, 2), np.int64), *found])
