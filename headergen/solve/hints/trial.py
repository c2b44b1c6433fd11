"""Whether a change of the spec helps: it is put in, closed, measured and judged again, against everything."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from headergen.checks.judge import judge
from headergen.checks.measure import Meshes, survey
from headergen.model import Draft, Header, Survey
from headergen.model.finding import Finding
from headergen.solve.closing import close

MOST_MEASURED = 14  # for all hints of a run, so that a check stays quick: a primary counts 1…
A_SURVEY = 3  # …and a whole header as much as these
SAME = 1e-3  # of a finding's unit by which one that was there before may read worse


@dataclass(frozen=True, eq=False)
class Known:
    """A header as it stands, and what was found of it. `left` counts down what hints may still measure."""

    survey: Survey
    findings: tuple[Finding, ...]
    meshes: Meshes
    left: Iterator[int] = field(default_factory=lambda: iter(range(MOST_MEASURED)))

    @property
    def header(self) -> Header:
        return self.survey.header


def may_measure(known: Known, how_much: int) -> bool:
    """Whether as much may still be measured; it then counts as done."""
    return all(next(known.left, None) is not None for _ in range(how_much))


def findings_with(draft: Draft, known: Known) -> tuple[Finding, ...] | None:
    """What is found once the draft stands in place of the one that is known; None where no survey is left."""
    if not may_measure(known, A_SURVEY):
        return None
    return judge(survey(close(draft), known.meshes, known.survey.meshes, twice=False))


@dataclass(frozen=True)
class Outcome:
    """What a change came to: whether the findings it was for are gone, and what is worse than before."""

    cleared: bool
    worse: tuple[Finding, ...] = ()

    @property
    def helps(self) -> bool:
        return self.cleared and not self.worse


def outcome_of(draft: Draft, known: Known, wanted: Iterable[Finding]) -> Outcome:
    """What the draft comes to in place of the one that is known; nothing is cleared where none may be measured."""
    after = findings_with(draft, known)
    if after is None:
        return Outcome(cleared=False)
    keys = {_key(finding) for finding in after}
    return Outcome(not any(_key(each) in keys for each in wanted), tuple(made_worse(known.findings, after)))


def made_worse(before: Iterable[Finding], after: Iterable[Finding]) -> list[Finding]:
    """Errors and warnings of `after` that were not there before, or not as bad."""
    known: dict[tuple[str, ...], list[float]] = {}
    for finding in before:
        known.setdefault(_key(finding), []).append(_badness(finding))
    worse = []
    for finding in after:
        if finding.level == "info":
            continue
        were = known.get(_key(finding), [])
        if not were or _badness(finding) > max(were) + SAME:
            worse.append(finding)
    return worse


def _key(finding: Finding) -> tuple[str, ...]:
    return finding.rule, finding.level, finding.where, finding.against


def _badness(finding: Finding) -> float:
    return abs(finding.value - finding.limit) if finding.value is not None and finding.limit is not None else 0.0
