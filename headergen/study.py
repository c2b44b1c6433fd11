"""One whole study: its cases as specs, what is known of them already, and answers accepted by the exact checks."""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from headergen.checks.sign_off import sign_off
from headergen.model import Bend, Draft, Header, MeshRef, PlanError
from headergen.model.study import CaseFigures, CaseResult, SpecChange, Study, StudyCase
from headergen.pipeline import Checked, check
from headergen.routing import paths_to_find, with_found_paths
from headergen.shop.stage import shop_of
from headergen.solve.effort import Effort
from headergen.spec.complaint import SpecError, Trouble
from headergen.spec.files import read_file
from headergen.spec.keys import KeyLeadsNowhereError, with_values
from headergen.spec.reader import read_spec
from headergen.spec.scalars import ScalarError
from headergen.spec.stamp import CASE, is_unchanged, stamped
from headergen.spec.study import read_study
from headergen.spec.text import LARGEST, Text, complaint_at, read_text
from headergen.store.keys import own_source
from headergen.store.lines import KnownLine

if TYPE_CHECKING:
    from headergen.jobs.study import CaseAnswer, CaseWork


@dataclass(frozen=True)
class PlannedCase:
    """A case with its spec as a file, the file for its routed spec, and the key of all that its answer depends on."""

    case: StudyCase
    spec: Path
    target: Path
    key: str
    units: str


class HandWrittenError(Exception):
    """A file stands where the study writes, and was changed by hand."""


def planned(path: Path, folder: Path) -> tuple[Study, tuple[PlannedCase, ...]]:
    """A study, and its cases as specs in an existing folder.

    Raises SpecError if the file, the spec or a case of it cannot be used, and HandWrittenError before anything is
    written.
    """
    study, text = read_study(path)
    base = _base_text(path, study, text)
    try:
        bodies = [with_values(base, case.changes) for case in study.cases]
    except KeyLeadsNowhereError as wrong:
        trouble = Trouble(wrong.change.asked_at, f"{wrong.message} in {study.spec}", wrong.hint)
        raise SpecError([complaint_at(text, trouble)]) from None
    for case in study.cases:
        for file in _files(folder, case):
            if file.exists() and not is_unchanged(file):
                raise HandWrittenError(f"{file}: changed by hand; the study would write over it: rename or move it")
    folders = (path.parent / study.spec).parent, folder
    cases = []
    for case, body in zip(study.cases, bodies, strict=True):
        try:
            cases.append(_planned(study, case, body, folders))
        except SpecError as wrong:
            trouble = Trouble(case.changes[0].asked_at, f"{case.name} makes a spec that cannot be used:")
            raise SpecError([complaint_at(text, trouble), *wrong.complaints]) from None
    return study, tuple(cases)


def _base_text(path: Path, study: Study, text: Text) -> str:
    """The text of the spec that the study names. Raises SpecError."""
    file = path.parent / study.spec
    try:
        content = read_file(file, LARGEST)
    except ScalarError as refused:
        raise SpecError([complaint_at(text, Trouble(("spec",), refused.message, refused.hint))]) from None
    if troubles := read_text(content, str(file)).complaints:
        raise SpecError(troubles)
    text_of = content.decode("utf-8-sig")
    # the line for editors names a file beside the spec
    return text_of.split("\n", 1)[1] if text_of.startswith("# yaml-language-server") else text_of


def _files(folder: Path, case: StudyCase) -> tuple[Path, Path]:
    """The files of a case: its spec, and that with paths."""
    return folder / f"{case.name}.yaml", folder / f"{case.name}_routed.yaml"


def _planned(study: Study, case: StudyCase, body: str, folders: tuple[Path, Path]) -> PlannedCase:
    home, folder = folders
    spec, target = _files(folder, case)
    said = "; ".join(f"{name} {what}" for name, what in case.chosen)
    spec.write_bytes(stamped(with_values(body, _moved_files(body, home, folder)), f"{CASE}{said};").encode())
    source, draft = read_spec(spec)
    return PlannedCase(case, spec, target, _key(study, body, _read_besides(source.others, draft)), draft.units)


def _moved_files(body: str, home: Path, folder: Path) -> Iterator[SpecChange]:
    """Changes that name each file of a spec in `home` from another folder."""
    data = read_text(body.encode(), "").data
    for key in ("stock", "mirror_of", "hand"):
        if isinstance(data.get(key), str):
            yield SpecChange(key, _seen_from(home / data[key], folder))
    if isinstance(data.get("hand"), dict) and "file" in data["hand"]:
        yield SpecChange("hand.file", _seen_from(home / data["hand"]["file"], folder))
    for number, item in enumerate(data.get("chassis") or [], 1):
        for key in ("mesh", "header"):
            if isinstance(item, dict) and isinstance(item.get(key), str):
                yield SpecChange(f"chassis.{number}.{key}", _seen_from(home / item[key], folder))


def _seen_from(file: Path, folder: Path) -> str:
    try:
        return Path(os.path.relpath(file, folder)).as_posix()
    except ValueError:  # on another drive of Windows
        return file.resolve().as_posix()


def _read_besides(others: Iterable[tuple[str, str]], draft: Draft) -> list[str]:
    """The hashes of all files that a case depends on besides its own."""
    meshes = (item.shape.sha256 for item in draft.chassis if isinstance(item.shape, MeshRef))
    return sorted([*(sha256 for _, sha256 in others), *meshes])


def _key(study: Study, body: str, hashes: list[str]) -> str:
    """The hash of all that an answer depends on; machine and folders are not in it, since answers are checked here."""
    effort = (study.seed, None if study.rounds else study.seconds, study.rounds, study.places)
    return hashlib.sha256(json.dumps([own_source(), body, hashes, effort]).encode()).hexdigest()


def work_of(study: Study, planned: PlannedCase) -> CaseWork:
    """A case for the search. Raises SpecError if it has no path to be found."""
    from headergen.jobs.study import CaseWork

    inputs = paths_to_find(planned.spec)
    effort = Effort(study.seed, study.seconds, study.rounds, places=study.places)
    return CaseWork(planned.key, inputs.draft, inputs.meshes, effort)


def line_of(study: Study, planned: PlannedCase, answer: CaseAnswer) -> KnownLine:
    """An answer as a line of the file of results."""
    if answer.draft is None:
        return KnownLine(planned.key, planned.case.name, None, answer.why)
    places = f" --places {answer.places}" if answer.places else ""
    note = f"by headergen study with --seed {study.seed} --rounds {answer.rounds}{places};"
    return KnownLine(planned.key, planned.case.name, with_found_paths(planned.spec, answer.draft, note), ())


def known_result(planned: PlannedCase, line: KnownLine | None) -> CaseResult | None:
    """The result of a case from an earlier line; None if it must be searched for."""
    if line is None:
        return None
    result = accepted(planned, line)
    return result if result.figures is not None or line.text is None else None


def accepted(planned: PlannedCase, line: KnownLine) -> CaseResult:
    """The result of a case: its routed spec is read, checked exactly, and put in place only if it is an answer."""
    if line.text is None:
        return CaseResult(planned.case, why=line.why)
    beside = planned.spec.with_name(f".{planned.target.name}.new.yaml")
    try:
        beside.write_bytes(line.text.encode())
        if not is_unchanged(beside) or _requirements(read_spec(beside)[1]) != _requirements(read_spec(planned.spec)[1]):
            return CaseResult(planned.case, why=("the answer given for it belongs to another spec",))
        checked = check(beside)
        errors = tuple(finding.message for finding in checked.result.findings if finding.level == "error")
        if errors:
            return CaseResult(planned.case, why=("the answer given for it fails the checks here", *errors))
        figures = _figures(checked)
        beside.replace(planned.target)
    except SpecError as wrong:
        return CaseResult(planned.case, why=("the answer given for it cannot be read", str(wrong)))
    finally:
        beside.unlink(missing_ok=True)
    return CaseResult(planned.case, figures)


def _requirements(draft: Draft) -> tuple[Any, ...]:
    """What a draft asks for, without what a search decides: paths, bores, and places of collectors that may move."""
    moves = {move.collector for move in draft.routing.moves}
    runs = [(run.name, run.tube, run.start, run.target) for run in draft.runs]
    collectors = [
        replace(c, bores=(), frame=draft.ports[0].frame if c.name in moves else c.frame) for c in draft.collectors
    ]
    return replace(draft, runs=(), collectors=()), runs, collectors


def _figures(checked: Checked) -> CaseFigures:
    result = checked.result
    facts = sign_off(result, checked.signature)
    lengths = [length for run, length in zip(result.header.runs, result.survey.lengths, strict=True) if run.is_primary]
    bends = [step for run in result.header.primaries for step in run.steps if isinstance(step, Bend)]
    gaps = [gap.value for gap in result.survey.gaps if not gap.together]
    return CaseFigures(
        length=sum(lengths) / len(lengths),
        degrees=math.degrees(sum(bend.angle for bend in bends)),
        bends=len(bends),
        joints=_joints(result.header),
        gap=min(gaps, default=math.inf),
        outlet=facts.outlets[0].place,
    )


def _joints(header: Header) -> int | None:
    try:
        return len(shop_of(header).plan.joints)
    except PlanError:
        return None


def with_best(results: Iterable[CaseResult], better: Iterable[tuple[str, bool]]) -> tuple[CaseResult, ...]:
    """The results, with those marked that no other beats: one that is as good in every figure, and better in one."""
    results, signs = tuple(results), [(name, 1.0 if less else -1.0) for name, less in better]
    costs = [None if each.figures is None else _costs(each.figures, signs) for each in results]
    found = [cost for cost in costs if cost is not None]

    def is_best(cost: tuple[float, ...]) -> bool:
        return not any(o != cost and all(a <= b for a, b in zip(o, cost, strict=True)) for o in found)

    return tuple(
        replace(each, best=cost is not None and is_best(cost)) for each, cost in zip(results, costs, strict=True)
    )


def _costs(figures: CaseFigures, signs: list[tuple[str, float]]) -> tuple[float, ...]:
    """Figures as numbers of which less is better, rounded as they are printed; an unknown one is worse than all."""
    costs = (sign * round(figures.of(name), 1) for name, sign in signs)
    return tuple(math.inf if math.isnan(cost) else cost for cost in costs)
