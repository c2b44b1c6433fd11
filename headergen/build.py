"""One whole result: every file of it, what could not be made, and what it was made from."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from headergen import __version__
from headergen.model.finding import worst_level

if TYPE_CHECKING:
    from headergen.jobs.outcome import Missing, NotMade, Report
    from headergen.jobs.schedule import Crew
    from headergen.model import Header, MockSettings, Result, Shop
    from headergen.model.sign_off import SignOff
    from headergen.outputs.earlier import Kept
    from headergen.pipeline import Checked
    from headergen.show.meshes import ShownMesh


def crew(mock: bool) -> AbstractContextManager[Crew]:
    """The children that make a result, which load what they need while the spec is checked; all end with it."""
    from headergen.jobs import mock as mock_job
    from headergen.jobs import parts, picture
    from headergen.jobs.schedule import crew_of

    begins = {
        parts.KERNEL: parts.begin_kernel,
        picture.RENDERER: picture.begin_pictures,
        mock_job.MOCK: mock_job.begin_mock,
    }
    return crew_of(begins, [name for name in begins if mock or name != mock_job.MOCK])


def fill(
    folder: Path,
    target: Path,
    spec: Path,
    checked: Checked,
    settings: MockSettings | None,
    work: tuple[Crew, Report],
    with_chassis: bool = False,
) -> tuple[Result, NotMade, Kept | None]:
    """Make every file of a result in `folder`: the result with its parts, what could not be made and why, and what is
    kept of the old result in `target`. `settings` are those of a fit mock, None for no mock; `with_chassis` puts the
    chassis into header.glb. Raises WorkError when no part could be made, OSError where the disk is full."""
    from headergen.checks.sign_off import sign_off
    from headergen.jobs import pages
    from headergen.jobs.mock import MOCK
    from headergen.jobs.outcome import Missing
    from headergen.outputs.earlier import keep
    from headergen.outputs.folder import Manifest, own_files, read_manifest, write_manifest
    from headergen.outputs.report import write_reports
    from headergen.outputs.report.facts import weight
    from headergen.pipeline import evidence
    from headergen.show.meshes import size_of

    result, not_made, shown, plan = make_side_by_side(folder, checked, settings, work, with_chassis)
    if not isinstance(plan, Missing):
        result = replace(result, by_hand=plan.by_hand)
    total = weight(result)
    facts = sign_off(result, checked.signature, None if total is None else total.grams, size_of(shown))
    not_made += pages.make_pages(folder, (facts, checked.signed), shown, result.header, __version__)
    seen = replace(evidence(spec, checked), shop=None if isinstance(plan, Missing) else plan)
    not_made += pages.make_report_page(folder, result, seen, shown, __version__)
    write_reports(folder, result, __version__)
    not_made += _make_bench(folder, result.header, plan, (facts, shown))
    verdict = "error findings" if worst_level(result.findings) == "error" else "clear"
    inputs = inputs_of(spec, result)
    kept = keep((target, read_manifest(target), own_files(target)), folder, MOCK, inputs, __version__)
    kept_entry = None if kept is None else (kept.folder, kept.made_from)
    missing = [(each.what, each.why) for each in not_made]
    write_manifest(folder, Manifest(inputs, missing, __version__, verdict, kept_entry))
    return result, not_made, kept


def make_side_by_side(
    folder: Path, checked: Checked, settings: MockSettings | None, work: tuple[Crew, Report], with_chassis: bool
) -> tuple[Result, NotMade, tuple[ShownMesh, ...], Shop | Missing]:
    """What takes long: parts, picture, fit mock, the meshes of the pages, the plan of the bench.

    Once all bodies are there, what is found of them is said, and the picture is begun while the kernel's child goes on
    with their files. Raises as `fill`."""
    from headergen.jobs import mock as mock_job
    from headergen.jobs import pages, parts, picture
    from headergen.jobs.outcome import buildable
    from headergen.jobs.schedule import Answers, Step, carry_out
    from headergen.pipeline import judge_parts

    (crew, report), without, header = work, checked.without_solid, checked.result.header

    def judged(answers: Answers) -> Result:
        made = answers[parts.SKINS]
        failed = [(missing.what, missing.why) for missing in made.not_made if missing.failed]
        return judge_parts(checked, made.parts, made.skins, made.overlaps, failed)

    def shown(answers: Answers) -> tuple[ShownMesh, ...]:
        return pages.shown_meshes(answers[picture.JUDGED], checked.meshes, answers[parts.SKINS])

    around = {each.name: each.mesh for each in pages.chassis_meshes(header, checked.meshes)} if with_chassis else {}
    judge = Step(picture.JUDGED, judged, after=(parts.SKINS,))
    show = Step("shown", shown, after=(picture.JUDGED,))
    plan = Step("pieces", lambda _: _planned(checked, report), after=(show.name,))
    if not buildable(header, without).primaries:
        none = Step(parts.SKINS, lambda _: parts.none_to_make(without))
        answers = carry_out((none, judge, show, plan), crew)
        return answers[judge.name], answers[parts.SKINS].not_made, answers[show.name], answers[plan.name]
    steps = [
        parts.parts_step(header, without, folder, report, around),
        judge,
        picture.picture_step(checked.meshes, without, folder, report),
        *(() if settings is None else mock_job.mock_steps(checked.result, settings, without, folder, report)),
        show,
        plan,
    ]
    try:
        answers = carry_out(steps, crew)
    finally:
        crew.dismiss()  # before anybody clears the folder away
    (folder / parts.SCRATCH).unlink(missing_ok=True)
    not_made = answers[parts.SKINS].not_made + picture.not_pictured(answers[picture.PICTURE], folder)
    if settings is not None:
        not_made += mock_job.finish_mock(answers, folder)
    result = replace(answers[judge.name], parts=answers[parts.PARTS])
    return result, not_made, answers[show.name], answers[plan.name]


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


def _make_bench(
    folder: Path, header: Header, plan: Shop | Missing, said: tuple[SignOff, tuple[ShownMesh, ...]]
) -> NotMade:
    """shop.json, its tables, the page and the sheets of a plan."""
    from headergen.jobs.outcome import Missing
    from headergen.jobs.pages import jpeg_of
    from headergen.jobs.picture import PICTURE_FILE
    from headergen.outputs.shop import write_shop
    from headergen.outputs.shop.screens import FILE as SCREENS
    from headergen.outputs.shop.screens import write_screens
    from headergen.outputs.shop.sheets import FILE, write_sheets

    if isinstance(plan, Missing):
        return (plan,)
    write_shop(folder, header, plan, __version__)
    write_screens(folder / SCREENS, header, plan, said[0], __version__)
    write_sheets(folder / FILE, header, plan, *said, jpeg_of(folder / PICTURE_FILE))
    return ()


def inputs_of(spec: Path, result: Result) -> dict[str, str]:
    """What a result was made from: file as the spec names it → SHA-256."""
    from headergen.model import MeshRef

    meshes = {i.shape.path: i.shape.sha256 for i in result.header.draft.chassis if isinstance(i.shape, MeshRef)}
    return {spec.name: result.source.sha256, **dict(result.source.others), **meshes}
