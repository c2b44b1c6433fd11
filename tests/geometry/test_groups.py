"""Groups and near pairs, against scipy's graph search and k-d tree."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from headergen.geometry.mesh.groups import groups_of, near_pairs


@pytest.mark.parametrize(("count", "joined"), [(1, 0), (10, 5), (300, 150), (300, 600), (20_000, 18_000)])
def test_groups_are_those_of_a_graph_search(count: int, joined: int) -> None:
    pairs = np.random.default_rng(count + joined).integers(0, count, (joined, 2))
    graph = coo_array((np.ones(joined), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    _, expected = connected_components(graph, directed=False)
    np.testing.assert_array_equal(groups_of(count, pairs), expected)


def test_a_long_chain_in_any_order_is_one_group() -> None:
    order = np.random.default_rng(1).permutation(20_000)
    assert not groups_of(len(order), np.column_stack([order[1:], order[:-1]])).any()


@pytest.mark.parametrize("flat", [False, True])
@pytest.mark.parametrize("count", [0, 1, 2, 500])
def test_near_pairs_are_those_of_a_k_d_tree(count: int, flat: bool) -> None:
    points = np.random.default_rng(count).uniform(0, 10, (count, 3)) * (1, 1, 0 if flat else 1)
    points = np.concatenate([points, points[: count // 2]])  # some in one place
    for reach in (1e-6, 0.5):
        found = {tuple(sorted(pair)) for pair in near_pairs(points, reach).tolist()}
        assert found == (cKDTree(points).query_pairs(reach) if count else set())
        assert len(found) == len(near_pairs(points, reach))
