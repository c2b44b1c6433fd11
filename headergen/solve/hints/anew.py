"""A whole new path for a tube that is too near to something: which tubes may have one, and the effect of one.

A search for one tube takes longer than all other trials of a check: its kernels alone take as long to load as a whole
check. So a check only names the tubes; the search is a command of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from headergen.checks.judge import judge
from headergen.model import Bend, Gap, Header, Survey
from headergen.model.suggestion import Help, Suggestion
from headergen.solve.hints.attempt import Change, came_of, every_gap, too_small
from headergen.solve.hints.trial import Known, Tried


def may_be_found_anew(gap: Gap, header: Header) -> tuple[int, ...]:
    """Numbers of the primaries of a gap for which a search may find another path."""
    runs = (header.run(place.run) for place in gap.places)
    own = (run for run in runs if run.is_primary and not run.locked and run.written != "mirrored")
    return tuple(dict.fromkeys(run.number for run in own))


def found_anew(known: Known, after: Survey, names: Collection[str]) -> Iterator[Help]:
    """The effect of the paths found for these runs, for each of their gaps that was too small."""
    runs = [run for run in after.header.runs if run.name in names]
    paths = " and ".join(f"{run.name} ({sum(isinstance(step, Bend) for step in run.steps)} bends)" for run in runs)
    change = Change(after.header.draft, "route", f"Another path for {paths}", ())
    then = Tried(after, judge(after))
    for gap in every_gap(known.survey):
        if too_small(gap) and {place.run for place in gap.places} & {run.name for run in runs}:
            made = came_of(change, gap, known, then)
            suggestions, why = ((made,), ()) if isinstance(made, Suggestion) else ((), (made.why,))
            yield Help(gap.a, gap.b, gap.together, gap.value, gap.required, suggestions, why)
