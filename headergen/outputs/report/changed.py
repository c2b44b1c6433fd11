"""The differences between two states of a header, in words: the verdict, lengths, gaps, findings."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.outputs.report.records.gaps import GapRecord
from headergen.outputs.report.records.report import Report
from headergen.outputs.report.said import say_verdict
from headergen.words.say import capital, say_length

SEEN = 0.05  # mm: a smaller difference is not reported


def changes(before: Report, after: Report) -> Iterator[str]:
    """Sentences, the most important first; none if nothing changed. Lengths are in the unit of `after`."""
    one, other = (say_verdict(each.verdict, each.counts) for each in (before, after))
    if one != other:
        yield f"The verdict was '{one}' and is '{other}'."
    yield from _findings(before, after)
    yield from _lengths(before, after)
    yield from _gaps(before, after)


def _findings(before: Report, after: Report) -> Iterator[str]:
    old, new = ([(each.rule, each.where) for each in report.findings] for report in (before, after))
    yield from (f"New: {each.message}" for each in after.findings if (each.rule, each.where) not in old)
    yield from (f"No longer: {each.message}" for each in before.findings if (each.rule, each.where) not in new)


def _lengths(before: Report, after: Report) -> Iterator[str]:
    old = {run.name: run.developed_length_mm for run in before.runs}
    new = {run.name: run.developed_length_mm for run in after.runs}
    yield from (f"{capital(name)} is gone." for name in old if name not in new)
    yield from (f"{capital(name)} is new." for name in new if name not in old)
    for name in (each for each in new if each in old):
        more = new[name] - old[name]
        if abs(more) > SEEN:
            size, now = (say_length(value, after.shop_units) for value in (abs(more), new[name]))
            yield f"{capital(name)} is {size} {'longer' if more > 0 else 'shorter'}: {now}."


def _gaps(before: Report, after: Report) -> Iterator[str]:
    old, new = ({(gap.a, gap.b, gap.together): gap for gap in report.gaps} for report in (before, after))
    moved = [(old[key], gap) for key, gap in new.items() if key in old and abs(gap.gap_mm - old[key].gap_mm) > SEEN]
    for was, now in sorted(moved, key=lambda pair: pair[1].to_spare_mm):
        one, other = (_said(gap, after.shop_units) for gap in (was, now))
        where = ", at the collector" if now.together else ""
        yield f"{capital(now.a)} to {now.b}{where}: the gap was {one} and is {other}."


def _said(gap: GapRecord, units: str) -> str:
    return f"{say_length(-gap.gap_mm, units)} deep" if gap.gap_mm < 0 else say_length(gap.gap_mm, units)
