"""Components of graphs, against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from headergen.geometry.mesh.components import components


@pytest.mark.parametrize(("count", "joined"), [(1, 0), (7, 0), (40, 15), (300, 280), (2000, 2000), (500, 9000)])
def test_numbers_are_those_of_scipy(count: int, joined: int) -> None:
    pairs = np.random.default_rng(count + joined).integers(0, count, (joined, 2))
    graph = coo_array((np.ones(joined), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    np.testing.assert_array_equal(components(count, pairs), connected_components(graph, directed=False)[1])


def test_a_long_chain_in_any_order_is_one() -> None:
    nodes = np.random.default_rng(3).permutation(5000)
    pairs = np.column_stack([nodes[:-1], nodes[1:]])[np.random.default_rng(4).permutation(4999)]
    assert not components(5000, pairs).any()
    assert components(5000, pairs[:-1]).max() == 1
