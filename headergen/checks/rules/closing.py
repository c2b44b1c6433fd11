"""Primaries with values marked fit reach their bores; if one does not, the cause, and what would help."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from headergen.checks.rules.straights import longest_required
from headergen.model import Bend, Draft, Fit, Header, Miss, Run
from headergen.model.finding import Finding, Level
from headergen.words.numbers import INCH
from headergen.words.say import capital, say_angle, say_length, say_list, shown_length

EXACT = 1e-6  # mm; within this of its bore a primary does close, though at another length


@dataclass(frozen=True)
class _Off:
    """One way in which a primary misses, as the finding's figures and in words."""

    value: float
    limit: float
    unit: str
    words: str
    passes: bool


def closing(header: Header) -> Iterator[Finding]:
    for miss in header.misses:
        primary = header.run(miss.run)
        if not primary.fits:
            if miss.would_help:
                yield _what_would_help(header.draft, primary, miss)
        elif miss.nearest_length is not None and math.hypot(miss.along, miss.across) <= EXACT:
            yield _at_another_length(header.draft, primary, miss)
        else:
            yield _not_closed(header.draft, primary, miss)


def _what_would_help(draft: Draft, primary: Run, miss: Miss) -> Finding:
    offs = _said_first(draft, primary, miss)
    words = (
        f"{capital(primary.name)} {say_list([off.words for off in offs])}; "
        f"it would reach its bore if these could vary (marked fit): {say_list(_values(primary, miss.would_help))}."
    )
    return _finding(primary, "info", offs[0], words)


def _at_another_length(draft: Draft, primary: Run, miss: Miss) -> Finding:
    assert miss.nearest_length is not None
    units, tolerance, nearest = draft.units, draft.length.tolerance, miss.nearest_length
    required = nearest - miss.length_off
    passes = abs(miss.length_off) <= tolerance
    allowed = f"{say_length(abs(miss.length_off), units)} {'more' if miss.length_off > 0 else 'less'} where"
    words = (
        f"{capital(primary.name)} cannot reach {_bore(primary)} at a length of {say_length(required, units)} with the "
        f"values marked fit; the nearest length that works is {_say_nearest(draft, miss)}, which is used here "
        f"({allowed} {say_length(tolerance, units)} is allowed){_hindrances(draft, primary, miss)}."
    )
    off = _Off(shown_length(nearest, units), shown_length(required, units), units, "", passes)
    return _finding(primary, "info" if passes else "error", off, words)


def _say_nearest(draft: Draft, miss: Miss) -> str:
    """The nearest length as it can be written into the spec, with more digits where fewer would not pass."""
    nearest, units = miss.nearest_length, draft.units
    assert nearest is not None
    size = INCH if units == "in" else 1.0
    if miss.askable_length is not None:
        return say_length(miss.askable_length, units)
    if abs(shown_length(nearest, units) * size - nearest) <= draft.length.tolerance:
        return say_length(nearest, units)
    return f"{nearest / size:.{5 if units == 'in' else 3}f} {units}"


def _not_closed(draft: Draft, primary: Run, miss: Miss) -> Finding:
    offs = _said_first(draft, primary, miss)
    passes = all(off.passes for off in offs)
    exactly = "does not reach its bore exactly" if passes else "does not reach its bore"
    words = (
        f"{capital(primary.name)} {exactly} with the values marked fit: at best it "
        f"{say_list([off.words for off in offs])}{_hindrances(draft, primary, miss)}."
    )
    return _finding(primary, "info" if passes else "error", offs[0], words)


def _finding(primary: Run, level: Level, off: _Off, message: str) -> Finding:
    return Finding(
        rule="closing",
        level=level,
        where=primary.name,
        value=off.value,
        limit=off.limit,
        unit=off.unit,
        message=message,
    )


def _said_first(draft: Draft, primary: Run, miss: Miss) -> list[_Off]:
    """The misses beyond their limits; if there are none, the one nearest to its limit."""
    offs = _ways_off(draft, primary, miss)
    return [off for off in offs if not off.passes] or [max(offs, key=lambda off: off.value / max(off.limit, 1e-9))]


def _ways_off(draft: Draft, primary: Run, miss: Miss) -> list[_Off]:
    units, limits, tolerance = draft.units, draft.limits, draft.length.tolerance
    position, length = math.hypot(miss.along, miss.across), abs(miss.length_off)
    side = "longer" if miss.length_off > 0 else "shorter"
    return [
        _Off(
            shown_length(position, units),
            shown_length(limits.end_position, units),
            units,
            f"ends {say_length(position, units)} from {_bore(primary)} "
            f"({say_length(limits.end_position, units)} allowed)",
            position <= limits.end_position,
        ),
        _Off(
            round(math.degrees(miss.angle), 2),
            round(math.degrees(limits.end_angle), 2),
            "deg",
            f"arrives {say_angle(miss.angle)} off the axis of {_bore(primary)} ({say_angle(limits.end_angle)} allowed)",
            miss.angle <= limits.end_angle,
        ),
        _Off(
            shown_length(length, units),
            shown_length(tolerance, units),
            units,
            f"is {say_length(length, units)} {side} than required ({say_length(tolerance, units)} allowed)",
            length <= tolerance,
        ),
    ]


def _hindrances(draft: Draft, primary: Run, miss: Miss) -> str:
    """The limits it reached, the length that works, and what would help, as clauses; empty if there are none."""
    clauses = [_ran_into(draft, primary, fit) for fit in miss.at_limits]
    if miss.nearest_length is not None and math.hypot(miss.along, miss.across) > EXACT:
        clauses.append(f"it reaches its bore at a length of {_say_nearest(draft, miss)}")
    if miss.would_help:
        clauses.append(
            "it would reach its bore if these could vary too (marked fit): "
            f"{say_list(_values(primary, miss.would_help))}"
        )
    return "".join(f"; {clause}" for clause in clauses)


def _ran_into(draft: Draft, primary: Run, fit: Fit) -> str:
    value = float(getattr(primary.steps[fit.step - 1], fit.what))
    side = "lower" if value - fit.low <= fit.high - value else "upper"
    said = say_length(value, draft.units) if fit.what == "length" else say_angle(value)
    longest = longest_required(draft, primary, fit.step) if fit.what == "length" and side == "lower" else None
    why = f", {longest.why}" if longest is not None and longest.why and abs(longest.least - value) < EXACT else ""
    return f"{_value(primary, fit)} is at its {side} limit of {said}{why}"


def _values(primary: Run, fits: Sequence[Fit]) -> list[str]:
    return [_value(primary, fit) for fit in fits]


def _value(primary: Run, fit: Fit) -> str:
    kind = "bend" if isinstance(primary.steps[fit.step - 1], Bend) else "straight"
    return f"the {fit.what} of step {fit.step} ({kind})"


def _bore(primary: Run) -> str:
    return primary.end.own
