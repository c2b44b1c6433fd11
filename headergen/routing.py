"""The paths of a spec that are to be found: read before a search, and told and written after it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from headergen.checks.judge import judge
from headergen.checks.measure import Meshes, survey
from headergen.geometry.curves.stepped import growths_of
from headergen.model import (
    Draft,
    Header,
    Run,
    Source,
    SpecPath,
)
from headergen.model.finding import Finding
from headergen.model.suggestion import Help
from headergen.pipeline import place_of_run, read_whole, with_other_headers
from headergen.shop.on_hand import kept_to_count
from headergen.solve.closing import close
from headergen.solve.hints.anew import found_anew
from headergen.solve.hints.trial import Known
from headergen.spec.complaint import Complaint, SpecError
from headergen.spec.mesh.load import load_meshes
from headergen.spec.reader import read_spec
from headergen.spec.routed import routed_text
from headergen.words.numbers import INCH
from headergen.words.say import list_runs, say_length

if TYPE_CHECKING:
    from headergen.solve.route.answer import Answer  # slow to import


def paths_to_find(path: Path) -> PathsToFind:
    """A draft with paths to be found, and its meshes. Raises SpecError if it cannot be used or has none to find."""
    source, draft = read_spec(path)
    if not any(run.to_find for run in draft.runs):
        line, column = source.marks.get(("primaries",)) or source.marks.get(("mirror_of",)) or (None, None)
        message = "no tube is marked find"
        hint = "write find in place of a path (1: find), or find: true beside one that is a first guess"
        raise SpecError([Complaint(str(path), line, column, "primaries", message, hint=hint)])
    _, draft = with_other_headers(source, draft, path.parent)
    draft = replace(draft, runs=tuple(_closed_unless_to_be_found(draft)))
    return PathsToFind(draft, load_meshes(path, draft)[0])


@dataclass(frozen=True)
class PathsToFind:
    """A draft with paths to be found, its meshes, and the present header if all of its paths are there."""

    draft: Draft
    meshes: Meshes
    known: Known | None = None

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The errors of the present header."""
        findings = () if self.known is None else self.known.findings
        return tuple(each for each in findings if each.level == "error")


def paths_to_find_anew(path: Path, keys: Sequence[str]) -> PathsToFind:
    """A whole header in which only these runs are to be found anew, each from its path as a first guess.

    `keys`: numbers of primaries, collectors whose outlets tubes come from, or names of runs. Raises SpecError if the
    spec cannot be used, or if one of them has no path of its own.
    """
    source, draft = read_whole(path)
    refused = [_cannot_be_found(source, draft, key, path) for key in keys]
    if any(refused):
        raise SpecError([each for each in refused if each is not None])
    _, draft = with_other_headers(source, draft, path.parent)
    meshes, facts = load_meshes(path, draft)
    measured = survey(close(draft), meshes, facts, twice=False)
    runs = tuple(
        replace(run, fits=(), joined=(), grows=growths_of(run), to_find=True)
        if any(is_called(run, key) for key in keys)
        else run
        for run in measured.header.runs
    )
    to_find = replace(draft, runs=runs, routing=replace(draft.routing, bores="given", moves=()))
    return PathsToFind(to_find, meshes, Known(measured, judge(measured), meshes))


def is_called(run: Run, key: str) -> bool:
    """Whether a run has this number, comes from this collector, or has this name among `runs`."""
    return str(run.key) == key.strip() or (run.end.ends_run and run.end.collector == key.strip())


def from_those_on_hand(inputs: PathsToFind) -> PathsToFind | None:
    """The same where no bend is bought of a kind that the stock list counts; None if it counts none."""
    stock = inputs.draft.stock
    if stock is None or all(bend.count is None for bend in stock.bends):
        return None
    return replace(inputs, draft=replace(inputs.draft, stock=kept_to_count(stock)))


def _cannot_be_found(source: Source, draft: Draft, key: str, path: Path) -> Complaint | None:
    """Why a run keeps its path; None if another may be searched for."""
    run = next((each for each in draft.runs if is_called(each, key)), None)
    at: SpecPath = ("primaries", key) if run is None else place_of_run(run)
    line, column = source.marks.get(at) or source.marks.get(("mirror_of",)) or (None, None)
    if run is None:
        what = f"primary {key}" if key.isdecimal() else f"tube from a collector {key}"
        are = "is" if len(draft.runs) == 1 else "are"
        message, hint = f"there is no {what}", f"there {are} {list_runs(draft.runs)}"
    elif run.locked:
        message, hint = f"{run.name} is locked", "take locked out, and its path may change"
    elif run.written == "mirrored":
        message = f"the path of {run.name} is that of the first bank, mirrored"
        hint = f"write `primaries: {{{key}: find}}` for a path of its own, and run route without --only"
    else:
        return None
    return Complaint(str(path), line, column, ".".join(map(str, at)), message, hint=hint)


def what_they_come_to(inputs: PathsToFind, answer: Answer) -> tuple[Help, ...]:
    """The effect of the paths found anew on each of their gaps that was too small, and their cost elsewhere."""
    assert inputs.known is not None, "they were found anew"
    names = [run.name for run in inputs.draft.runs if run.to_find]
    return tuple(found_anew(inputs.known, answer.survey, names))


def _closed_unless_to_be_found(draft: Draft) -> Iterator[Run]:
    """The runs that stay and those of a mirrored bank, closed; first guesses of the spec's own stay as they are."""
    whole = tuple(replace(run, to_find=False) for run in draft.runs if run.like or not run.to_find)
    closed = {run.name: run.steps for run in close(replace(draft, runs=whole)).runs}
    for run in draft.runs:
        steps = closed.get(run.name, run.steps)
        yield replace(run, steps=steps, like=steps if run.like else ())


def table_of(names: Sequence[str], answers: Sequence[Answer]) -> Iterator[str]:
    """Lines that compare answers, each by the name of its file."""
    yield f"{'file':<30} bends  degrees  lengths within  smallest gap  smallest margin"
    for name, answer in zip(names, answers, strict=True):
        units = answer.draft.units
        gap, room = (
            "none" if math.isinf(each) else say_length(each, units) for each in (answer.narrowest, answer.smallest_gap)
        )
        within = f"{answer.spread / INCH:.4f} in" if units == "in" else f"{answer.spread:.3f} mm"
        yield f"{name:<30} {answer.bends:>5} {answer.degrees:>8.0f} {within:>15} {gap:>13} {room:>16}"


def costs_of(answers: Sequence[Answer]) -> Iterator[str]:
    """The cost of answers, line by line: how much of each thing there is, and the degrees of bend it counts for."""
    kinds = {(term.what, term.each): None for answer in answers for term in answer.terms if term.amount}
    width = max(len(what) for what, _ in kinds)
    heads = "".join(f"{f'amount {k}':>11}{'cost':>6}" for k, _ in enumerate(answers, 1))
    yield f"{'cost in degrees of bend':<{width}}{'each':>7}{heads}"
    for what, each in kinds:
        terms = [{(term.what, term.each): term for term in answer.terms} for answer in answers]
        found = [known.get((what, each)) for known in terms]
        cells = "".join(
            f"{0 if term is None else term.amount:>11.4g}{0 if term is None else term.cost:>6.0f}" for term in found
        )
        yield f"{what:<{width}}{each:>7.3g}{cells}"
    yield f"{'in all':<{width}}{'':>7}" + "".join(f"{'':>11}{answer.cost:>6.0f}" for answer in answers)


def say_so_far(bends: int, degrees: float, lengths: tuple[float, float], units: str) -> str:
    """The best answer of a running search, on one line; `lengths`: spread and room, in millimetres."""
    spread, room = (say_length(each, units) if math.isfinite(each) else "any amount" for each in lengths)
    return f"{bends} bends, {degrees:.0f}°, lengths within {spread}, {room} of room"


def captions(answers: Sequence[Answer]) -> list[tuple[Header, str, str]]:
    """Each of several answers of one search for a picture: its header, its name, its figures."""
    return [(each.survey.header, f"alternative {k}", _figures(each)) for k, each in enumerate(answers, 1)]


def _figures(answer: Answer) -> str:
    said = f"{answer.bends} bends   {answer.degrees:.0f}°"
    if math.isinf(answer.narrowest):
        return said
    return f"{said}   smallest gap {say_length(answer.narrowest, answer.draft.units)}"


def with_found_paths(path: Path, draft: Draft, note: str, anew: Sequence[str] = ()) -> str:
    """The text of a spec with the paths of `draft` in it, and a note at its top; `anew`: those that had one before."""
    return routed_text(path.read_text(encoding="utf-8-sig"), draft, note, anew)
