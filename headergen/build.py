"""One whole result: every file of it, what could not be made, and what it was made from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from headergen import __version__
from headergen.model.finding import worst_level

if TYPE_CHECKING:
    from headergen.jobs.outcome import NotMade, Report
    from headergen.model import Header, Result
    from headergen.model.sign_off import SignOff
    from headergen.outputs.earlier import Kept
    from headergen.pipeline import Checked
    from headergen.show.meshes import ShownMesh


def fill(
    folder: Path, target: Path, spec: Path, checked: Checked, mock: bool, report: Report
) -> tuple[Result, NotMade, Kept | None]:
    """Make every file of a result in `folder`: the result with its parts, what could not be made and why, and what is
    kept of the old result in `target`. Raises WorkError when no part could be made, OSError where the disk
    is full."""
    from headergen.checks.sign_off import sign_off
    from headergen.jobs import mock as mock_job
    from headergen.jobs import pages, parts, picture
    from headergen.model import MockSettings
    from headergen.outputs.earlier import keep
    from headergen.outputs.folder import Manifest, own_files, read_manifest, write_manifest
    from headergen.outputs.report import write_reports
    from headergen.outputs.report.facts import weight
    from headergen.pipeline import evidence, judge_parts
    from headergen.show.meshes import size_of

    without, settings = checked.without_solid, checked.result.header.draft.mock or (MockSettings() if mock else None)
    made = parts.make_solids(checked.result.header, without, folder, report)
    failed = [(missing.what, missing.why) for missing in made.not_made if missing.failed]
    result = judge_parts(checked, made.parts, made.skins, made.overlaps, failed)
    no_picture = picture.make_picture(result, checked.meshes, made, without, folder, report)
    not_made = made.not_made + no_picture
    if settings is not None:
        not_made += mock_job.make_mock(result, settings, without, folder, report, not no_picture)
    total, shown = weight(result), pages.shown_meshes(result, checked.meshes, made)
    facts = sign_off(result, checked.signature, None if total is None else total.grams, size_of(shown))
    not_made += pages.make_pages(folder, (facts, checked.signed), shown, result.header, __version__)
    not_made += pages.make_report_page(folder, result, evidence(spec, checked), shown, __version__)
    write_reports(folder, result, __version__)
    not_made += _make_bench(folder, result.header, (facts, shown), report)
    verdict = "error findings" if worst_level(result.findings) == "error" else "clear"
    inputs = inputs_of(spec, result)
    kept = keep((target, read_manifest(target), own_files(target)), folder, mock_job.MOCK, inputs, __version__)
    kept_entry = None if kept is None else (kept.folder, kept.made_from)
    missing = [(each.what, each.why) for each in not_made]
    write_manifest(folder, Manifest(inputs, missing, __version__, verdict, kept_entry))
    return result, not_made, kept


def _make_bench(folder: Path, header: Header, said: tuple[SignOff, tuple[ShownMesh, ...]], report: Report) -> NotMade:
    """shop.json, its tables and the sheets; a plan that the solver cannot finish is not made, and all else is."""
    from headergen.jobs.outcome import Missing
    from headergen.jobs.pages import jpeg_of
    from headergen.jobs.picture import PICTURE_FILE
    from headergen.model import PlanError
    from headergen.outputs.shop import write_shop
    from headergen.outputs.shop.sheets import FILE, write_sheets
    from headergen.pipeline import bench

    report("pieces", 0, 1)
    try:
        shop = bench(header)
        write_shop(folder, header, shop, __version__)
        write_sheets(folder / FILE, header, shop, *said, jpeg_of(folder / PICTURE_FILE))
    except PlanError as wrong:
        return (Missing("shop.json", str(wrong), True),)
    report("pieces", 1, 1)
    return ()


def inputs_of(spec: Path, result: Result) -> dict[str, str]:
    """What a result was made from: file as the spec names it → SHA-256."""
    from headergen.model import MeshRef

    meshes = {i.shape.path: i.shape.sha256 for i in result.header.draft.chassis if isinstance(i.shape, MeshRef)}
    return {spec.name: result.source.sha256, **dict(result.source.others), **meshes}
