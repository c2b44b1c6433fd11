"""Bundles: one tube's sequence of turns given to all, also mirrored for those on the other side of the middle.

What its copies miss at their bores is spread along them. A descent from there tends to stay a bundle: tubes beside
each other, with bends in the same planes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.solve.route.layout import COARSE, Descent, Layout, LayoutTube, settled
from headergen.solve.route.problem import Numbers, RouteProblem
from headergen.solve.route.starts import Pool

LEADS = 8  # tubes of a pool whose turns are given to all
WAYS = 2  # orders of bores tried with each
POLISHED = 3  # of the bundles of one tube, those that miss least
TOO_FAR = 25.0  # mm of miss


def bundles(
    problem: RouteProblem, pools: Sequence[Pool], rows: Numbers, lead: int, length: float
) -> Iterator[Layout | None]:
    """The best bundles led by one tube, and None after each that was only looked at."""
    side, mirror = _sides(problem, lead)
    looked: list[tuple[float, Layout]] = []
    for run in pools[lead].runs[:LEADS]:
        for row in rows[rows[:, lead] == run.bore][:WAYS]:
            for matrices in ([np.eye(3)] * problem.count, [mirror if far else np.eye(3) for far in side]):
                runs = (
                    run if k == lead else copied(problem, lead, run, (k, int(row[k])), matrices[k])
                    for k in range(problem.count)
                )
                layout, missing = settled(problem, Layout(tuple(runs), length), (6.0, 1.0), Descent(12, COARSE))
                looked.append((missing, layout))
                if not side.any():
                    break
            yield None
    for missing, layout in sorted(looked, key=lambda each: each[0])[:POLISHED]:
        if missing < TOO_FAR:
            yield layout


def copied(problem: RouteProblem, lead: int, run: LayoutTube, to: tuple[int, int], matrix: Array) -> LayoutTube:
    """The run of a tube for another one (its index and bore): its corners turned by `matrix` about the port.

    What is missing at the bore is spread over the corners by their share of the length.
    """
    tube, bore = to
    ours, theirs = problem.ends(lead, run.bore), problem.ends(tube, bore)
    inner = run.x[2:].reshape(-1, 3)
    first, last = ours[:3] + run.x[0] * ours[3:6], ours[6:9] - run.x[1] * ours[9:]
    corners = np.concatenate([[ours[:3], first], inner, [last, ours[6:9]]])
    legs = np.linalg.norm(np.diff(corners, axis=0), axis=1)
    share = (np.cumsum(legs) / legs.sum())[1:-2]
    misses = theirs[6:9] - theirs[:3] - matrix @ (ours[6:9] - ours[:3])
    moved = theirs[:3] + (inner - ours[:3]) @ matrix.T + share[:, None] * misses
    return LayoutTube(bore, run.radii, np.concatenate([run.x[:2], moved.ravel()]), run.held)


def _sides(problem: RouteProblem, lead: int) -> tuple[Array, Array]:
    """Which tubes are on the other side of the middle of the row of ports, and the mirror image across it."""
    ports = problem.ports[:, :3]
    row = ports[-1] - ports[0]
    row = row / max(float(np.linalg.norm(row)), 1e-9)
    along = ports @ row
    beyond = along > (along.min() + along.max()) / 2
    return beyond != beyond[lead], np.eye(3) - 2 * np.outer(row, row)
