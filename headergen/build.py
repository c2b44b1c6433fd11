"""One whole result: all its files, what could not be made, and what it was made from."""

from __future__ import annotations

import hashlib
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from headergen import __version__
from headergen.model.finding import worst_level

if TYPE_CHECKING:
    from headergen.jobs.outcome import Missing, NotMade, Report
    from headergen.jobs.parts import Made
    from headergen.jobs.schedule import Crew, Step
    from headergen.model import Header, MockSettings, Result, Shop
    from headergen.model.sign_off import SignOff
    from headergen.outputs.earlier import Kept
    from headergen.pipeline import Checked
    from headergen.show.meshes import ShownMesh

# steps
RESULT, FACTS, SHOWN, ALONG, READY, JPEG, PAGES = "result", "facts", "shown", "along", "ready", "jpeg", "pages"


def crew(mock: bool, as_before: bool = False) -> AbstractContextManager[Crew]:
    """The child processes for a result; they load their libraries during the check, and all end with the context.

    `as_before`: the slow parts are probably kept from an earlier build, so their children start when they are needed.
    """
    from headergen.jobs import mock as mock_job
    from headergen.jobs import parts, picture
    from headergen.jobs.schedule import crew_of

    begins = {
        parts.KERNEL: parts.begin_kernel,
        picture.RENDERER: picture.begin_pictures,
        mock_job.MOCK: mock_job.begin_mock,
    }
    needed = [parts.KERNEL] if as_before else [name for name in begins if mock or name != mock_job.MOCK]
    return crew_of(begins, needed)


def is_as_before(spec: Path, target: Path) -> bool:
    """Whether this version made the result in `target` from a spec of the same bytes, judged before it is read."""
    from headergen.outputs.folder import read_manifest

    manifest = read_manifest(target)
    made_from = manifest.get("made_from")
    try:
        now = hashlib.sha256(spec.read_bytes()).hexdigest()
    except OSError:
        return False
    return manifest.get("headergen") == __version__ and isinstance(made_from, dict) and made_from.get(spec.name) == now


def fill(
    folder: Path,
    target: Path,
    spec: Path,
    checked: Checked,
    settings: MockSettings | None,
    work: tuple[Crew, Report],
    with_chassis: bool = False,
) -> tuple[Result, NotMade, Kept | None]:
    """Make every file of a result in `folder`: the result with its parts, what could not be made, and what is kept.

    What is kept comes from the old result in `target`. `settings` are those of a fit mock, None for no mock;
    `with_chassis` puts the chassis into header.glb. Raises WorkError if no part could be made, OSError if the disk is
    full.
    """
    from headergen.jobs.mock import MOCK
    from headergen.outputs.earlier import keep
    from headergen.outputs.folder import Manifest, own_files, read_manifest, write_manifest
    from headergen.outputs.report import write_reports

    result, not_made = make_side_by_side(folder, (spec, checked), settings, work, with_chassis)
    write_reports(folder, result, __version__)
    verdict = "error findings" if worst_level(result.findings) == "error" else "clear"
    inputs = inputs_of(spec, result)
    kept = keep((target, read_manifest(target), own_files(target)), folder, MOCK, inputs, __version__)
    kept_entry = None if kept is None else (kept.folder, kept.made_from)
    missing = [(each.what, each.why) for each in not_made]
    write_manifest(folder, Manifest(inputs, missing, __version__, verdict, kept_entry))
    return result, not_made, kept


def make_side_by_side(
    folder: Path, of: tuple[Path, Checked], settings: MockSettings | None, work: tuple[Crew, Report], with_chassis: bool
) -> tuple[Result, NotMade]:
    """The slow steps: parts, picture, fit mock, the bench, pages. `of`: the spec, and what its check found.

    Once all bodies exist, their findings are reported, and the picture is started while the kernel's child looks for
    parts that share metal and writes the files. When both are done, that child makes the sheets of the bench while the
    pages are made here. Raises the errors of `fill`.
    """
    from headergen.jobs import bench, pages, parts, picture
    from headergen.jobs import mock as mock_job
    from headergen.jobs.outcome import buildable
    from headergen.jobs.schedule import carry_out

    (crew, report), checked = work, of[1]
    without, header = checked.without_solid, checked.result.header
    around = {each.name: each.mesh for each in pages.chassis_meshes(header, checked.meshes)} if with_chassis else {}
    if buildable(header, without).primaries:
        steps = [
            parts.parts_step(header, without, folder, report, around),
            *(() if settings is None else mock_job.mock_steps(checked.result, settings, without, folder, report)),
            *picture.picture_steps(checked.meshes, without, folder, report),
        ]
        after = parts.KERNEL
    else:
        after = mock_job.MOCK  # it needs neither kernel nor renderer
        settings, steps = None, [*parts.none_to_make(without), *picture.none_to_draw()]
    steps += [*_bench_steps(folder, header, after), *_found_steps(*of, report), *_page_steps(folder, checked)]
    try:
        answers = carry_out(steps, crew)  # where several may begin, the first: a child is not kept waiting for a page
    finally:
        crew.dismiss()  # before anybody deletes the folder
    (folder / parts.SCRATCH).unlink(missing_ok=True)
    not_made = answers[parts.SKINS].not_made + picture.not_pictured(picture.drawn_at_last(answers), folder)
    if settings is not None:
        not_made += mock_job.finish_mock(answers, folder, (buildable(header, without), settings))
    return answers[RESULT], not_made + answers[PAGES] + bench.unplanned(answers)


def _found_steps(spec: Path, checked: Checked, report: Report) -> tuple[Step, ...]:
    """The findings on a header and on its parts. Those that need no part are made while the kernel works."""
    from headergen.checks.sign_off import sign_off
    from headergen.jobs import bench, pages, parts, picture
    from headergen.jobs.outcome import Missing
    from headergen.jobs.schedule import Answers, Step
    from headergen.outputs.report.facts import weight
    from headergen.pipeline import built_by_hand, evidence, judge_parts
    from headergen.show.meshes import size_of

    def of(made: Made, plan: Shop | Missing) -> Result:
        failed = [(missing.what, missing.why) for missing in made.not_made if missing.failed]
        result = judge_parts(checked, made.parts, made.skins, made.overlaps, failed)
        return result if isinstance(plan, Missing) else built_by_hand(result, plan)

    def first(answers: Answers) -> Result:
        return of(answers[parts.BODIES], answers[bench.PLAN])

    def judged(answers: Answers) -> Result:
        before, made = answers[parts.BODIES], answers[parts.SKINS]
        if (before.overlaps, before.not_made) == (made.overlaps, made.not_made):
            known: Result = answers[picture.FIRST_JUDGED]
            return known
        return of(made, answers[bench.PLAN])

    def shown(answers: Answers) -> tuple[ShownMesh, ...]:
        return pages.shown_meshes(answers[picture.FIRST_JUDGED], checked.meshes, answers[parts.BODIES])

    def facts(answers: Answers) -> SignOff:
        result = answers[picture.JUDGED]
        total = weight(result)
        grams = None if total is None else total.grams
        return sign_off(result, checked.signature, grams, size_of(answers[SHOWN]))

    def with_files(answers: Answers) -> Result:
        result: Result = answers[picture.JUDGED]
        return replace(result, parts=answers[parts.PARTS])

    return (
        Step(bench.PLAN, lambda _: _planned(checked, report)),
        Step(ALONG, lambda _: evidence(spec, checked)),
        Step(picture.FIRST_JUDGED, first, after=(parts.BODIES, bench.PLAN)),
        Step(SHOWN, shown, after=(picture.FIRST_JUDGED,)),
        Step(picture.JUDGED, judged, after=(parts.SKINS, picture.FIRST_JUDGED)),
        Step(FACTS, facts, after=(SHOWN, picture.JUDGED)),
        Step(RESULT, with_files, after=(parts.PARTS, picture.JUDGED)),
    )


def _bench_steps(folder: Path, header: Header, child: str) -> tuple[Step, Step]:
    from headergen.jobs import bench

    return bench.bench_steps(folder, header, __version__, child, (FACTS, SHOWN, JPEG))


def _page_steps(folder: Path, checked: Checked) -> tuple[Step, ...]:
    """The pages and the sheet to sign, once there is a picture or it has failed."""
    from headergen.jobs import bench, pages, picture
    from headergen.jobs.outcome import Missing
    from headergen.jobs.process import Failure
    from headergen.jobs.schedule import Answers, Step

    def jpeg(answers: Answers) -> bytes | None:
        is_there = not isinstance(picture.drawn_at_last(answers), Failure)
        return pages.jpeg_of(folder / picture.PICTURE_FILE) if is_there else None

    def made(answers: Answers) -> NotMade:
        plan, seen = answers[bench.PLAN], (answers[SHOWN], answers[JPEG], __version__)
        evidence = replace(answers[ALONG], shop=None if isinstance(plan, Missing) else plan)
        not_made = pages.make_pages(folder, (answers[FACTS], checked.signed), answers[RESULT], seen)
        return not_made + pages.make_report_page(folder, answers[RESULT], evidence, seen)

    return (
        Step(JPEG, jpeg, after=(picture.PICTURE_AGAIN,)),
        Step(PAGES, made, after=(RESULT, ALONG, bench.PLAN, FACTS, READY, JPEG)),
        Step(READY, lambda answers: pages.ready_for_pages(answers[SHOWN]), after=(SHOWN,)),
    )


def _planned(checked: Checked, report: Report) -> Shop | Missing:
    """The plan of the bench, or why there is none: the solver may not finish it."""
    from headergen.jobs.outcome import Missing
    from headergen.model import PlanError
    from headergen.pipeline import bench

    report("pieces", 0, 1)
    try:
        planned = checked.shop or bench(checked.result.header, checked.result.survey.gaps)
    except PlanError as wrong:
        return Missing("shop.json", str(wrong), True)
    report("pieces", 1, 1)
    return planned


def inputs_of(spec: Path, result: Result) -> dict[str, str]:
    """The inputs of a result: file as the spec names it → SHA-256."""
    from headergen.model import MeshRef

    meshes = {i.shape.path: i.shape.sha256 for i in result.header.draft.chassis if isinstance(i.shape, MeshRef)}
    return {spec.name: result.source.sha256, **dict(result.source.others), **meshes}
