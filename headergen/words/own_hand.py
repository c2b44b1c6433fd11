"""A shop's own hand as it goes into a spec, with how sure it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

Interval = tuple[float, float] | None
Told = tuple[str, tuple[float, Interval], tuple[float, Interval], tuple[int, int]]
KEYS = {  # key under hand, its multiple in the file, its unit
    "shrinkage": ("shrinkage", 1.0, " mm"),
    "clocking": ("clocking", 1.0, ""),
    "length": ("length", 1.0, " mm"),
    "bend angle": ("bend", 1.0, ""),
    "bend radius": ("radius", 100.0, ""),
}
FEWEST = 5  # measured joints
PULLS = ("pull toward the witness line", "pull across it")


def lines_of_hand(found: Sequence[Told]) -> Iterator[str]:
    """Lines of YAML; what they rest on stands behind them as a comment. Lengths in mm, angles in degrees."""
    if not found:
        yield "The records have no joint or piece that was measured: give marks, clocking and pulled under as_built."
        return
    few = [each for each in found if each[3][0] < FEWEST]
    yield from (
        f"# {what}: {rests[0]} measured; {FEWEST} are the fewest that say anything" for what, _, _, rests in few
    )
    found = [each for each in found if each[3][0] >= FEWEST]
    own = {each[0]: each for each in found}
    if "shrinkage" in own:
        _, mean, _, rests = own["shrinkage"]
        yield "shop:"
        yield f"  shrinkage: {_number(mean[0])} mm  # {_sure(mean[1], 1.0)}, {_rests(rests)}"
    spreads = [each for each in found if each[0] in KEYS]
    if spreads or any(each in own for each in PULLS):
        yield "hand:"
    for what, _, spread, rests in spreads:
        key, times, unit = KEYS[what]
        yield f"  {key}: {_number(spread[0] * times)}{unit}  # {_sure(spread[1], times)}, {_rests(rests)}"
    pulls = [own[each] for each in PULLS if each in own]
    if pulls:
        widest = max(pulls, key=lambda each: each[2][0])
        yield f"  square: {_number(widest[2][0])}  # {_sure(widest[2][1], 1.0)}, {_rests(widest[3])}"
    for what, mean, _, rests in found:
        if what != "shrinkage":
            times = 100.0 if what == "bend radius" else 1.0
            unit = {"length": "mm", "bend radius": "percent"}.get(what, "degrees")
            said = f"mean of {what}: {_number(mean[0] * times)} {unit}"
            yield f"# {said} ({_sure(mean[1], times)}, {_rests(rests)})"


def _number(value: float) -> str:
    return f"{value + 0.0:.2f}"


def _sure(interval: Interval, times: float) -> str:
    if interval is None:
        return "too few for an interval"
    return f"95 in 100: {_number(interval[0] * times)} to {_number(interval[1] * times)}"


def _rests(rests: tuple[int, int]) -> str:
    joints, records = rests
    return f"from {joints} measured in {records} header{'' if records == 1 else 's'}"
