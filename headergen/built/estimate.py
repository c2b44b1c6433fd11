"""A shop's own hand from the records of its headers: means and spreads, with their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from headergen.built.record import FORMAT
from headergen.geometry.arrays import Array

SURE = 0.95


class RecordError(ValueError):
    """A file that is no record; the message says where and why."""


@dataclass(frozen=True)
class Estimate:
    """Mean and spread (one standard deviation) of one error, each with the interval that holds it 95 times in 100.

    `joints`: how many joints (or pieces) it rests on, in how many `records`. In mm, degrees, or a share. An interval is
    None if there are too few for one.
    """

    what: str
    mean: float
    mean_within: tuple[float, float] | None
    spread: float
    spread_within: tuple[float, float] | None
    joints: int
    records: int


def estimates(records: Sequence[Mapping[str, Any]]) -> tuple[Estimate, ...]:
    """What can be told from the records, in a fixed order; nothing of what no record measures. Raises RecordError."""
    for record in records:
        _must_be_of_this_format(record)
    found = []
    for what, of in (
        ("shrinkage", _shrinkage),
        ("pull toward the witness line", _pull_to),
        ("pull across it", _pull_across),
        ("clocking", _clocking),
        ("length", lambda record: _of_pieces(record, "length", False)),
        ("bend angle", lambda record: _of_pieces(record, "angle", False)),
        ("bend radius", lambda record: _of_pieces(record, "radius", True)),
    ):
        groups = [np.array(list(of(record))) for record in records]
        groups = [each for each in groups if len(each)]
        if groups:
            found.append(estimate(what, groups))
    return tuple(found)


def _must_be_of_this_format(record: Mapping[str, Any]) -> None:
    if not isinstance(record, Mapping) or "record" not in record:
        raise RecordError("it has no 'record', which every record has")
    if record["record"] != FORMAT:
        raise RecordError(f"its format is {record['record']!r}, and this version of headergen reads {FORMAT}")


def estimate(what: str, groups: Sequence[Array]) -> Estimate:
    """Value = mean + what its header adds + what its joint adds: a one-way model with random effects.

    The mean is that of all joints. Its variance takes both parts of the spread from the analysis of variance (Searle,
    Casella, McCulloch, Variance Components, section 3.6), and its interval is Student's with one degree of freedom less
    than there are records. The interval of the spread is that of a normal sample.
    """
    from scipy.stats import chi2, t

    sizes = np.array([len(each) for each in groups], float)
    values = np.concatenate(groups)
    n, k, mean = len(values), len(groups), float(values.mean())
    between, within = _parts(groups, sizes, mean)
    spread = math.sqrt(between + within)
    error = math.sqrt(between * float((sizes**2).sum()) / n**2 + within / n)
    free = k - 1 if k > 1 else n - 1
    mean_within = spread_within = None
    if n > 1:
        reach = float(t.ppf((1 + SURE) / 2, free)) * error
        mean_within = (mean - reach, mean + reach)
        low, high = (float(chi2.ppf(share, n - 1)) for share in ((1 - SURE) / 2, (1 + SURE) / 2))
        spread_within = (spread * math.sqrt((n - 1) / high), spread * math.sqrt((n - 1) / low))
    return Estimate(what, mean, mean_within, spread, spread_within, n, k)


def _parts(groups: Sequence[Array], sizes: Array, mean: float) -> tuple[float, float]:
    """The variance between records and that within them; all of it within if no record has two joints."""
    n, k = int(sizes.sum()), len(groups)
    means = np.array([each.mean() for each in groups])
    inside = sum(float(((each - each.mean()) ** 2).sum()) for each in groups)
    outside = float((sizes * (means - mean) ** 2).sum())
    if k == 1 or n == k:
        return 0.0, (inside + outside) / max(n - 1, 1)
    within = inside / (n - k)
    weight = (n - float((sizes**2).sum()) / n) / (k - 1)
    between = max((outside / (k - 1) - within) / weight, 0.0)
    if between == 0:
        within = (inside + outside) / (n - 1)
    return between, within


def _joints(record: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    try:
        for run in record["runs"]:
            yield from run["joints"]
    except (KeyError, TypeError) as wrong:
        raise RecordError(f"it has no {wrong}, which every record has") from None


def _shrinkage(record: Mapping[str, Any]) -> Iterator[float]:
    for joint in _joints(record):
        if (value := _number(joint, "measured", "shrinkage")) is not None:
            yield value


def _clocking(record: Mapping[str, Any]) -> Iterator[float]:
    """What was measured against what was planned; a joint that a correction has turned is left out."""
    for joint in _joints(record):
        planned, measured = (_number(joint, key, "clocking") for key in ("planned", "measured"))
        if planned is not None and measured is not None and not joint.get("done"):
            yield math.remainder(measured - planned, 360.0)


def _pull_to(record: Mapping[str, Any]) -> Iterator[float]:
    yield from (size * math.cos(toward) for size, toward in _pulls(record))


def _pull_across(record: Mapping[str, Any]) -> Iterator[float]:
    yield from (size * math.sin(toward) for size, toward in _pulls(record))


def _pulls(record: Mapping[str, Any]) -> Iterator[tuple[float, float]]:
    for joint in _joints(record):
        size, toward = (_number(joint, "measured", key) for key in ("pulled", "toward"))
        if size is not None and toward is not None:
            yield size, math.radians(toward)


def _of_pieces(record: Mapping[str, Any], key: str, share: bool) -> Iterator[float]:
    try:
        pieces = [piece for run in record["runs"] for piece in run["pieces"]]
    except (KeyError, TypeError) as wrong:
        raise RecordError(f"it has no {wrong}, which every record has") from None
    for piece in pieces:
        planned, measured = (_number(piece, which, key) for which in ("planned", "measured"))
        if planned and measured is not None:
            yield (measured - planned) / (planned if share else 1.0)


def _number(of: Mapping[str, Any], *keys: str) -> float | None:
    """A number, or None where nothing was measured."""
    found: Any = of
    for key in keys:
        if not isinstance(found, Mapping) or key not in found:
            raise RecordError(f"it has no '{key}', which every record has")
        found = found[key]
    if found is None:
        return None
    if isinstance(found, bool) or not isinstance(found, int | float) or not math.isfinite(found):
        raise RecordError(f"'{keys[-1]}' is not a number")
    return float(found)
