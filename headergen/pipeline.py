"""The order of the stages: read → close → survey → judge. `headergen.build` makes the result."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from headergen.checks.along import gaps_along
from headergen.checks.compare import compare_banks
from headergen.checks.compare_words import said_of_banks
from headergen.checks.judge import judge, judge_made, runs_without_solid
from headergen.checks.made_parts import made_gaps
from headergen.checks.measure import Meshes, survey
from headergen.checks.rules.closes_rarely import closes_rarely
from headergen.checks.rules.nine_in_ten import nine_in_ten, not_judged
from headergen.checks.sign_off import sign_off, signed_findings
from headergen.checks.unfinished import NEED_ALL_RUNS, without_path
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import (
    ChassisItem,
    CorrectedRun,
    Draft,
    Gap,
    Header,
    HeaderRef,
    Overlap,
    Part,
    PlanError,
    Result,
    Run,
    Shop,
    Source,
    SpecPath,
    Survey,
)
from headergen.model.evidence import Banks, Comparison, Evidence
from headergen.model.finding import Finding, sort_findings
from headergen.model.sign_off import SignOff
from headergen.parts.neighbour import other_plates, round_tubes
from headergen.parts.table import parts_of
from headergen.solve.closing import close
from headergen.solve.hints import with_hints
from headergen.solve.hints.suggest import helps_of
from headergen.solve.stages import without_runs
from headergen.spec.complaint import Complaint, SpecError
from headergen.spec.files import folder_of, seen_from
from headergen.spec.mesh.load import load_meshes
from headergen.spec.mesh.look import Look, beside, look_at
from headergen.spec.reader import read_spec
from headergen.spec.signature import signature
from headergen.spec.signed import find_signed
from headergen.spec.stamp import AS_BUILT, stamped
from headergen.spec.writer import spec_text


@dataclass(frozen=True)
class Checked:
    """A result without parts so far, the chassis meshes by item name, and the runs without a legal solid."""

    result: Result
    meshes: Meshes
    without_solid: frozenset[str]
    signature: str  # of the meaning of the spec, as printed on a sign-off sheet; empty if paths are missing
    shop: Shop | None = None  # the bench, if a limit needs the spread of builds by hand
    signed: SignOff | None = None  # what the customer signed, if the spec names it and it is found


def check(path: Path) -> Checked:
    """All facts of a spec that are known without making anything.

    Raises SpecError if the spec, or a file it names, cannot be used.
    """
    return _checked(path, *read_whole(path))


def check_what_is_there(path: Path) -> Checked:
    """The same for a spec with paths still to be found: all but these runs and what stands on them, and that said.

    Such a header has no signature.
    """
    source, draft = read_spec(path)
    wanting = {run.name for run in draft.runs if run.to_find}
    if not wanting:
        return _checked(path, source, draft)
    there = without_runs(draft, wanting)
    checked = _checked(path, source, there)
    said = without_path([run.name for run in draft.runs if run.to_find], path.as_posix())
    known = [each for each in checked.result.findings if each.rule not in NEED_ALL_RUNS]
    return replace(checked, result=replace(checked.result, findings=sort_findings([said, *known])))


def _checked(path: Path, source: Source, draft: Draft) -> Checked:
    source, draft = with_other_headers(source, draft, path.parent)
    meshes, facts = load_meshes(path, draft)
    measured = survey(close(draft), meshes, facts)
    found = judge(measured)
    helps, findings = helps_of(found, measured, meshes), with_hints(found, measured, meshes)
    shop, said = _built_by_hand(measured)
    by_hand = None if shop is None else shop.by_hand
    findings = sort_findings([*findings, *said])
    result = Result(source, measured.header, measured, (), findings, helps=helps, by_hand=by_hand)
    return Checked(result, meshes, runs_without_solid(measured), _signature(measured.header), shop)


def _signature(header: Header) -> str:
    """Empty while runs are missing: nothing of that can be signed for."""
    there = {run.name for run in header.runs}
    bores = (bore for collector in header.draft.collectors for bore in collector.bores)
    return signature(header) if all(bore.run in there for bore in bores) else ""


def _built_by_hand(measured: Survey) -> tuple[Shop | None, list[Finding]]:
    """The bench, and the findings on what nine in ten builds keep, if a limit asks for that."""
    header = measured.header
    if header.draft.limits.nine_in_ten is None:
        return None, []
    try:
        shop = bench(header, measured.gaps)
    except PlanError as wrong:
        return None, list(not_judged(header.draft, str(wrong)))
    assert shop.by_hand is not None
    return shop, [*nine_in_ten(header.draft, shop.by_hand), *closes_rarely(shop.by_hand, header.draft.units)]


def against_signed(checked: Checked, folders: Iterable[Path]) -> Checked:
    """The check with a warning if the customer signed something else; what was signed is searched for in `folders`."""
    result = checked.result
    signed_hash = result.header.draft.job.signed
    if not signed_hash or not checked.signature:
        return checked
    signed = find_signed(signed_hash, folders)
    said = signed_findings(signed, sign_off(result, checked.signature), signed_hash, result.header.draft)
    return replace(checked, signed=signed, result=replace(result, findings=sort_findings([*result.findings, *said])))


def judge_parts(
    checked: Checked,
    parts: tuple[Part, ...],
    skins: Mapping[str, TriangleMesh],
    shared: tuple[Overlap, ...],
    failed: Sequence[tuple[str, str]] = (),
) -> Result:
    """The result with its parts and their findings.

    `skins` are the meshes of the parts that are not tubes, by name; `shared` is metal shared by two parts; `failed` has
    what could not be made or measured although it is legal, with the reason.
    """
    result = checked.result
    on_head = {part.name: part.flange for part in parts_of(result.header) if part.kind.on_head}
    gaps = tuple(made_gaps(result.header, checked.meshes, skins, on_head))
    known = {(gap.a, gap.b) for gap in result.survey.part_gaps if gap.is_too_small}
    new = (gap for gap in gaps if (gap.a, gap.b) not in known)
    said = judge_made(result.header.draft, new, shared, failed)
    return replace(result, parts=parts, part_gaps=gaps, findings=sort_findings([*result.findings, *said]))


def built_by_hand(result: Result, shop: Shop) -> Result:
    """The result with the builds by the shop's hand, and the findings on runs that close rarely."""
    if shop.by_hand is None or result.by_hand is not None:
        return replace(result, by_hand=shop.by_hand)
    findings = sort_findings([*result.findings, *closes_rarely(shop.by_hand, result.header.draft.units)])
    return replace(result, by_hand=shop.by_hand, findings=findings)


def with_builds_by_hand(checked: Checked, shop: Shop) -> Checked:
    """The check with the builds by the shop's hand on this bench."""
    return replace(checked, result=built_by_hand(checked.result, shop), shop=shop)


def bench(header: Header, gaps: Sequence[Gap] = (), gaps_too: bool = True) -> Shop:
    """Pieces, joints, stock and marks of a header, and the spread of builds by hand; `gaps` are those of its survey.

    Pieces are the same without `gaps_too`; what builds leave of the gaps, a third of the work, is then not measured.
    Raises PlanError if the solver stops before the end.
    """
    from headergen.hand.stage import by_hand
    from headergen.shop.spare import with_spare  # the solver is slow to import, and most checks do not need it
    from headergen.shop.stage import shop_of

    shop = shop_of(header)
    return with_spare(header, shop, by_hand(header, shop, gaps, gaps_too))


def evidence(path: Path, checked: Checked) -> Evidence:
    """What a report shows besides the survey.

    Raises SpecError if the spec of the mirrored bank cannot be used any more.
    """
    result = checked.result
    along = gaps_along(result.header, checked.meshes, result.survey.gaps)
    if ("mirror_of",) not in result.source.marks:
        return Evidence(along)
    name = result.source.others[0][0]  # the mirrored spec comes first
    other = settle(path.parent / name)
    return Evidence(along, Banks(Path(name).name, other, compare_banks(other, result.header)))


def with_other_headers(source: Source, draft: Draft, folder: Path) -> tuple[Source, Draft]:
    """The draft with the tubes and plates of every other header in its chassis; `folder` is that of the spec.

    The source gets all files that those headers depend on, including what they mirror. Raises SpecError if the spec of
    one of them cannot be used.
    """
    chassis, plates, others = list[ChassisItem](), list[ChassisItem](), dict(source.others)
    for item in draft.chassis:
        if isinstance(item.shape, HeaderRef):
            behind, other = read_whole(folder / item.shape.path)
            others |= {item.shape.path: behind.sha256, **dict(seen_from(behind.others, folder_of(item.shape.path)))}
            closed = close(other)
            tubes = tuple(round_tubes(closed))
            item = replace(item, shape=replace(item.shape, sha256=behind.sha256, tubes=tubes))
            plates += (replace(item, name=f"{name} of {item.name}", shape=it) for name, it in other_plates(closed))
        chassis.append(item)
    chassis += plates
    return replace(source, others=tuple(others.items())), replace(draft, chassis=tuple(chassis))


def settle(path: Path) -> Header:
    """A spec with every value found, and nothing measured. Raises SpecError if it cannot be used."""
    return close(read_whole(path)[1])


def read_whole(path: Path) -> tuple[Source, Draft]:
    """A spec in which every run has its path. Raises SpecError if it cannot be used, or a path is to be found."""
    source, draft = read_spec(path)
    wanting = [run for run in draft.runs if run.to_find]
    if wanting:
        raise SpecError([_needs_route(source, run, path) for run in wanting])
    return source, draft


def _needs_route(source: Source, run: Run, path: Path) -> Complaint:
    at = place_of_run(run)
    line, column = source.marks.get(at, (None, None))
    message = f"the path of {run.name} is still to be found"
    return Complaint(str(path), line, column, ".".join(map(str, at)), message, hint=f"run headergen route {path}")


def place_of_run(run: Run) -> SpecPath:
    """Where a spec has the path of a run."""
    if run.end.ends_run:
        return ("runs", run.end.collector)
    return ("primaries", str(run.number)) if run.is_primary else ("secondaries", run.source)


def full_text(path: Path) -> str:
    """The spec written out in full: mirrored banks as their own, fitted values as found, patterns as places.

    Raises SpecError if it cannot be used.
    """
    return spec_text(settle(path))


@dataclass(frozen=True, eq=False)
class Correcting:
    """A half-built header: its runs as the bench needs them, and what becomes of it once they are closed.

    `result`: the header with every kink, measured and judged; `was`: its gaps as planned. `text`: the spec as it then
    is, and `record` the file for the shop's own figures.
    """

    result: Result
    facts: SignOff
    was: tuple[Gap, ...]
    runs: tuple[CorrectedRun, ...]
    text: str
    record: dict[str, Any]


def correct(path: Path) -> Correcting:
    """How what is half built is closed from where it is.

    Raises SpecError if the spec, a file it names, or a reading cannot be used, and PlanError if the bench cannot be
    planned.
    """
    from headergen.built.record import record_of
    from headergen.built.stage import BuiltError, bench_of, corrections, header_as_built

    source, draft = with_other_headers(*read_whole(path), path.parent)
    if not draft.as_built:
        hint = "write as_built: which joints are welded, and where the ends are; specs/guide_as_built.yaml shows how"
        raise SpecError([Complaint(str(path), None, None, "as_built", "nothing in it is half built", hint=hint)])
    meshes, facts = load_meshes(path, draft)
    planned = survey(close(draft), meshes, facts, twice=False)
    header = planned.header
    try:
        found = list(corrections(header, bench(header, planned.gaps, gaps_too=False)))
    except BuiltError as wrong:
        raise SpecError([_of_built(source, wrong.path, str(wrong), path)]) from None
    after = survey(header_as_built(header, found, smooth=False), meshes, facts, twice=False)
    written = header_as_built(header, found, smooth=True)
    result = Result(source, after.header, after, (), sort_findings(judge(after)))
    runs = tuple(bench_of(header, each) for each in found)
    note = f"from {path.name} by headergen correct;"
    text = stamped(spec_text(written), AS_BUILT + note)
    return Correcting(result, sign_off(result, signature(written)), planned.gaps, runs, text, record_of(draft, found))


def said_of_hand(records: Sequence[tuple[str, Any]]) -> list[str]:
    """What records, each with the name of its file, say of the shop's hand. Raises ValueError for what is none.

    Of records that are the same in every figure, one counts: a copy says nothing more.
    """
    from headergen.built.estimate import RecordError, estimates
    from headergen.words.own_hand import lines_of_hand

    for name, record in records:
        try:
            estimates([record])
        except RecordError as wrong:
            raise ValueError(f"{name}: this is no record: {wrong}") from None
    once: list[tuple[str, Any]] = []
    copies = []
    for name, record in records:
        same = next((known for known, other in once if other == record), None)
        if same is None:
            once.append((name, record))
        else:
            copies.append(f"# {name} is the same record as {same}, and counts once")
    found = [
        (e.what, (e.mean, e.mean_within), (e.spread, e.spread_within), (e.joints, e.records))
        for e in estimates([record for _, record in once])
    ]
    return [*copies, *lines_of_hand(found)]


def _of_built(source: Source, place: SpecPath, message: str, path: Path) -> Complaint:
    """A complaint about a reading, at the nearest place in the file that is marked."""
    at = next((place[:k] for k in range(len(place), 0, -1) if place[:k] in source.marks), ())
    line, column = source.marks.get(at, (None, None))
    try:
        lines = path.read_text(encoding="utf-8").split("\n")
    except (OSError, UnicodeDecodeError):
        lines = []
    shown = lines[line - 1] if line is not None and line <= len(lines) else ""
    said = " ".join(str(each + 1) if isinstance(each, int) else each for each in place)
    return Complaint(str(path), line, column, said, message, source_line=shown)


def compare(first: Path, second: Path) -> Comparison:
    """Two banks compared. Raises SpecError if a spec cannot be used."""
    return compare_banks(settle(first), settle(second))


def compared(first: Path, second: Path) -> Iterator[str]:
    """The comparison of two banks, line by line. Raises SpecError if a spec cannot be used."""
    return said_of_banks((first.name, second.name), compare(first, second))


def look(file: Path, spec: Path | None) -> Look:
    """The look at one mesh file, also against the header of a spec if one is named.

    Raises SpecError if the file or the spec cannot be used.
    """
    if spec is None:
        return look_at(file)
    return look_at(file, *beside(read_spec(spec)[1], spec.parent, file))
