"""Whether a change of the spec helps: it is applied, closed, measured and judged again, against everything."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace

from headergen.checks.again import survey_again
from headergen.checks.judge import judge
from headergen.checks.measure import Meshes, survey
from headergen.geometry.curves.sides import carried_by, with_ends_of
from headergen.model import Draft, Gap, Header, Survey
from headergen.model.finding import Finding
from headergen.solve.closing import close

MOST_MEASURED = 14  # for all hints of a run, so that a check stays quick: a primary counts 1…
A_SURVEY = 3  # …and a whole header as much as these
SAME = 1e-3  # of a finding's unit, by which an existing finding may get worse


@dataclass(frozen=True, eq=False)
class Known:
    """A header as it is, with its findings. `left` counts down the measurements that hints may still make.

    `stands_for`: the real gap and header, if an item of the chassis stands in for a tool.
    """

    survey: Survey
    findings: tuple[Finding, ...]
    meshes: Meshes
    left: Iterator[int] = field(default_factory=lambda: iter(range(MOST_MEASURED)))
    stands_for: tuple[Gap, Known] | None = None

    @property
    def header(self) -> Header:
        return self.survey.header


def may_measure(known: Known, how_much: int) -> bool:
    """Whether the measurement can be paid; it is then subtracted."""
    return all(next(known.left, None) is not None for _ in range(how_much))


@dataclass(frozen=True, eq=False)
class Tried:
    """A draft applied, closed, measured and judged."""

    survey: Survey
    findings: tuple[Finding, ...]


def tried(draft: Draft, known: Known, changed: Collection[str] | None = None) -> Tried:
    """The result of a draft in place of the known one.

    `changed`: the names of the only runs that differ, if known: then only what they affect is measured.
    """
    if changed is None:
        measured = survey(close(draft), known.meshes, known.survey.meshes, twice=False)
    else:
        changed = carried_by(draft.runs, changed)
        measured = survey_again(known.survey, closed_again(draft, known, changed), known.meshes, changed)
    return Tried(measured, judge(measured))


def closed_again(draft: Draft, known: Known, changed: Collection[str]) -> Header:
    """The header of a draft in which only the runs `changed` differ: these, and what stands on them, are closed."""
    changed = carried_by(draft.runs, changed)
    stays = {run.name: line for run, line in known.header.tubes if run.name not in changed}
    new = close(replace(draft, runs=tuple(run for run in draft.runs if run.name in changed)), stays)
    draft = with_ends_of(draft, new.runs)
    tubes = {run.name: (run, line) for run, line in (*known.header.tubes, *new.tubes)}
    misses = (*(miss for miss in known.header.misses if miss.run not in changed), *new.misses)
    runs, lines = zip(*(tubes[run.name] for run in draft.runs), strict=True)
    return Header(draft, runs, lines, misses)


@dataclass(frozen=True)
class Outcome:
    """The effect of a change: whether its findings are gone, and what is worse than before."""

    cleared: bool
    worse: tuple[Finding, ...] = ()

    @property
    def helps(self) -> bool:
        """Whether what was to be cleared is, and nothing else got worse."""
        return self.cleared and not self.worse


def outcome_of(
    draft: Draft, known: Known, targets: Iterable[Finding], changed: Collection[str] | None = None
) -> Outcome:
    """The effect of a draft in place of the known one; nothing is cleared if the budget for measurements is used up.

    `changed` as in tried().
    """
    if not may_measure(known, A_SURVEY):
        return Outcome(cleared=False)
    after = tried(draft, known, changed).findings
    keys = {_key(finding) for finding in after}
    return Outcome(not any(_key(each) in keys for each in targets), tuple(made_worse(known.findings, after)))


def made_worse(before: Iterable[Finding], after: Iterable[Finding]) -> list[Finding]:
    """Errors and warnings of `after` that are new or worse."""
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
