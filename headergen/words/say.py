"""Values and places in shop words, in the unit the shop reads."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from headergen.model import (
    Bend,
    Draft,
    Header,
    Outlet,
    Place,
    Run,
    SecondOpinion,
    StockBend,
    StockStraight,
    Stretch,
    Tube,
    Vec,
)
from headergen.words.numbers import INCH, with_unit

UNIT_NAMES = {"mm": "millimetres", "cm": "centimetres", "m": "metres", "in": "inches", "ft": "feet"}


def shown_length(millimetres: float, units: str) -> float:
    """A length as the printed number: millimetres to 0.1, inches to 0.001 (both about the width of a scribed line)."""
    return (round(millimetres / INCH, 3) if units == "in" else round(millimetres, 1)) + 0.0  # no minus zero


def say_length(millimetres: float, units: str) -> str:
    """A length with its unit. One that rounds to zero is printed as less than the last digit, never as zero."""
    shown, digits, least = shown_length(millimetres, units), *((3, 0.001) if units == "in" else (1, 0.1))
    if shown == 0 and millimetres != 0:
        return f"less than {least} {units}"
    return f"{shown:.{digits}f} {units}"


def say_at_least(millimetres: float, units: str) -> str:
    """An advised length with its unit, rounded up, so that the printed value is enough."""
    digit = INCH / 1000 if units == "in" else 0.1
    return say_length(math.ceil(millimetres / digit - 1e-9) * digit, units)


def say_angle(radians: float) -> str:
    degrees = math.degrees(radians)
    return f"{degrees:.2f}°" if degrees < 10 else f"{degrees:.1f}°"


def capital(text: str) -> str:
    """The text with its first letter in capital; the rest is unchanged."""
    return text[:1].upper() + text[1:]


def plural(noun: str) -> str:
    return f"{noun}es" if noun.endswith("s") else f"{noun}s"


def say_runs(header: Header, names: Iterable[str]) -> str:
    """Several runs as a list in words: "primaries 1 and 3", "primary 2 and secondary left"."""
    return list_runs([header.run(name) for name in names])


def list_runs(runs: Sequence[Run]) -> str:
    """The same of runs that are at hand."""
    numbers = [str(run.number) for run in runs if run.is_primary]
    said = [f"{'primaries' if len(numbers) > 1 else 'primary'} {say_list(numbers)}"] if numbers else []
    return say_list([*said, *(run.name for run in runs if not run.is_primary)])


def say_tries(count: int) -> str:
    return f"{count} {'try' if count == 1 else 'tries'}"


def say_list(words: Sequence[str]) -> str:
    """Words as a list: "1", "1 and 2", "1, 2 and 3"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def step_name(header: Header, place: Place) -> str:
    """The step at a place, as the path numbers it."""
    steps = header.run(place.run).steps
    kind = "bend" if isinstance(steps[place.step - 1], Bend) else "straight"
    return f"step {place.step} ({kind})"


def say_place(header: Header, place: Place) -> str:
    """A place along a tube: the length from where the tube begins, and the step."""
    run = header.run(place.run)
    return f"{say_length(place.at, header.draft.units)} from {say_start(run)}, in {step_name(header, place)}"


def say_start(run: Run) -> str:
    """Where a run begins."""
    if not isinstance(run.start, Outlet):
        return "the flange"
    if run.start.side is not None:
        return f"its joint on {run.start.side.run}"
    return f"the outlet of collector {run.source}"


def say_other_tube(item: StockBend | StockStraight, header: Tube, units: str) -> str:
    """Of stock of another tube than the header's: which; empty for that of the header."""
    if item.tube is None or item.tube.is_for(header):
        return ""
    return f", tube {say_length(item.tube.outside_diameter, units)}"


def say_stretches(stretches: tuple[Stretch, ...], draft: Draft) -> str:
    """Where a tube is too near, as one clause; empty when there is nothing to add."""
    if not stretches:
        return ""
    units = draft.units
    spans = [f"{shown_length(s.start, units):g} to {shown_length(s.end, units):g} {units}" for s in stretches]
    return f"; too near from {', and from '.join(spans)}"


def say_apart(opinion: SecondOpinion, units: str) -> str:
    """A gap that two ways of measuring have found differently, and how far apart they may be."""
    exact, other, allowed = (
        with_unit(each, units, 3) for each in (opinion.exact, opinion.other_method, opinion.allowed)
    )
    return f"{opinion.a} to {opinion.b}: {exact} and {other}, which may be {allowed} apart"


def say_source(run: Run) -> str:
    """Where lengths along a run count from: its port, the outlet that it comes from, or its joint."""
    if not isinstance(run.start, Outlet):
        return "the port"
    return "its joint" if run.start.side is not None else "the outlet"


WAYS = (("forward", "rearward"), ("to the left", "to the right"), ("up", "down"))  # ISO 8855: x, y, z
NOTICED = 0.35  # a component smaller than this share of the direction is not named


def say_way(direction: Vec) -> str:
    """A direction in engine axes, in words for use beside the car: "up and rearward"."""
    named = [
        (abs(value), ways[0 if value > 0 else 1])
        for value, ways in zip(direction, WAYS, strict=True)
        if abs(value) >= NOTICED
    ]
    return " and ".join(name for _, name in sorted(named, reverse=True))
