"""Which nodes of a graph are connected."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.int64]


def components(count: int, pairs: Numbers) -> Numbers:
    """(count,) the component of each node of a graph; components are numbered in the order of their first nodes.

    `pairs` (n, 2) are the nodes that are joined. Each root is hooked to the least root next to it, then every node to
    its root, until no pair is apart (Shiloach and Vishkin 1982). The graphs of a build take as long as in scipy, whose
    import takes longer than all of them.
    """
    root = np.arange(count)
    one, other = np.asarray(pairs, np.int64).reshape(-1, 2).T
    while True:
        one, other = root[one], root[other]
        apart = one != other
        if not apart.any():
            break
        one, other = one[apart], other[apart]
        np.minimum.at(root, np.maximum(one, other), np.minimum(one, other))
        while ((above := root[root]) != root).any():
            root = above
    number: Numbers = np.cumsum(root == np.arange(count)) - 1
    return number[root]
