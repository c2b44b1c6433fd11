"""The open end of a run, built from the flange on: its spread after each piece, and which error matters."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from headergen.geometry.arrays import Array
from headergen.hand.chain import ANGLE, CLOCKING, LENGTH, RADIUS, SHRINKAGE, TILT_X, TILT_Y, PieceChain, moved
from headergen.hand.draws import Poses
from headergen.hand.stations import covariance_of
from headergen.model import Collector, HandSettings, PieceSpread

KINDS = (
    ("clocking", (CLOCKING,)),
    ("squareness", (TILT_X, TILT_Y)),
    ("bend angle", (ANGLE,)),
    ("bend radius", (RADIUS,)),
    ("length", (LENGTH,)),
    ("shrinkage", (SHRINKAGE,)),
)


def piece_spreads(chain: PieceChain, made: Array, spreads: Array) -> Iterator[PieceSpread]:
    """After each piece, from the flange on."""
    for k in range(chain.size):
        at = moved(made[: k + 1], chain.origins[k + 1]).reshape(-1, 6)
        covariance = covariance_of(at, spreads[: k + 1])
        turns, places = (np.linalg.eigvalsh(covariance[low : low + 3, low : low + 3])[-1] for low in (0, 3))
        rows = tuple(tuple(float(value) for value in row) for row in covariance)
        yield PieceSpread(k + 1, math.sqrt(max(places, 0.0)), math.sqrt(max(turns, 0.0)), rows)


def shares_of(chain: PieceChain, made: Array, spreads: Array) -> tuple[tuple[str, float], ...]:
    """The share of each kind of error in the variance of the open end's place, the largest first."""
    variance = (moved(made, chain.origins[-1])[..., 3:] ** 2).sum(axis=-1) * spreads**2
    whole = max(float(variance.sum()), 1e-300)
    shares = [(kind, float(variance[:, list(which)].sum()) / whole) for kind, which in KINDS]
    return tuple(sorted(shares, key=lambda each: -each[1]))


def missed(chain: PieceChain, end: Poses) -> tuple[float, float]:
    """How far such ends are off the axis of their bore, sideways, in the median and in nine of ten builds (mm).

    What is missing or over along the tube is no miss: it is slid, or cut off.
    """
    off, axes = end[1] - chain.origins[-1], chain.frames[-1]
    median, most = np.quantile(np.hypot(off @ axes[:, 0], off @ axes[:, 1]), (0.5, 0.9))
    return float(median), float(most)


def drops_in(chain: PieceChain, end: Poses, collector: Collector, hand: HandSettings) -> float:
    """The share of such ends that go into the bore as they are.

    Across, the limit is the bore's clearance and how far a tube may be sprung; in tilt, the clearance over the depth of
    the slip.
    """
    off, axes = end[1] - chain.origins[-1], chain.frames[-1]
    across, tilt = np.hypot(off @ axes[:, 0], off @ axes[:, 1]), np.arccos(np.clip(end[0][:, :, 2] @ axes[:, 2], -1, 1))
    is_slip = collector.slip > 0
    room = (collector.gap if is_slip else hand.step) + hand.spring
    lean = math.atan2(2 * collector.gap, collector.slip) if is_slip else hand.kink
    return float(np.mean((across <= room) & (tilt <= lean)))
