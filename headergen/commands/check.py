"""`check`: what touches what, and what is wrong; makes nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from headergen import __version__
from headergen.build import inputs_of
from headergen.commands.codes import BROKEN
from headergen.commands.group import NO_COLOUR, SPEC, commands
from headergen.commands.say import (
    checked_spec,
    complain,
    exit_code,
    print_summary,
    print_tables,
    refuse_file_for_folder,
    stop,
)
from headergen.model import Result

if TYPE_CHECKING:
    from headergen.pipeline import Checked


@commands.command()
@click.argument("spec", type=SPEC)
@click.option(
    "--report", "folder", type=SPEC, help="Also write report.html, report.md and report.json into this folder."
)
@click.option(
    "--out",
    type=SPEC,
    default=Path("out"),
    show_default=True,
    help="Where `build` keeps results; a note says if they are from another state of the spec.",
)
@click.option("--table", is_flag=True, help="Also print steps, lengths, pieces and clocking of every tube.")
@NO_COLOUR
def check(spec: Path, folder: Path | None, out: Path, table: bool, plain: bool) -> None:
    """Check SPEC: where every tube runs, what touches what, what is wrong. It takes a second or so and makes nothing.

    Findings come first, worst first, then lengths and ends of all tubes, then the tightest clearances. Flange, sleeves,
    merges and outlets are measured as simple envelopes, which read a little nearer than the parts are; `build`
    measures every made part by its own mesh as well. Whether each tube can be closed by hand is checked by `build`, and
    here with --table. Tubes whose paths are still to be found are left out, which is an error among the findings.
    """
    if folder is not None:
        refuse_file_for_folder(folder)
    checked = checked_spec(spec, out / spec.stem, unfinished=True)
    if table:
        checked = with_bench(checked, spec, plain)
    result = checked.result
    print_summary(result, plain, spec)
    print_tables(f"\nNot checked here: {said_of_rest(result)}.", plain)
    if table:
        print_bench(checked, plain)
    if folder is not None:
        write_report(folder, spec, checked)
    warn_of_old_result(out / spec.stem, spec, result)
    raise click.exceptions.Exit(exit_code(result))


def with_bench(checked: Checked, spec: Path, plain: bool) -> Checked:
    """The check with its bench and the builds by hand.

    Where the bench cannot be planned, what was checked is printed before the command stops.
    """
    from headergen.model import PlanError
    from headergen.pipeline import bench, with_builds_by_hand

    result = checked.result
    try:
        return with_builds_by_hand(checked, checked.shop or bench(result.header, result.survey.gaps))
    except PlanError as wrong:
        print_summary(result, plain, spec)
        raise stop(BROKEN, f"{result.source.file}: {wrong}") from wrong


def print_bench(checked: Checked, plain: bool) -> None:
    from headergen.outputs.shop.terminal import bench_tables

    assert checked.shop is not None, "it is planned"
    print_tables(bench_tables(checked.result.header, checked.shop), plain)


def said_of_rest(result: Result) -> str:
    """What `build` checks and a check did not."""
    meshes = "parts by their own meshes (build it for that)"
    if result.by_hand is not None:
        return meshes
    return f"how often each tube closes by hand (add --table), and {meshes}"


def write_report(folder: Path, spec: Path, checked: Checked) -> None:
    """The report in all its forms; if a page cannot be made, says why."""
    from headergen.jobs.pages import jpeg_of, make_report_page, measured_meshes
    from headergen.jobs.picture import PICTURE_FILE
    from headergen.outputs.report import write_reports
    from headergen.pipeline import evidence

    folder.mkdir(parents=True, exist_ok=True)
    write_reports(folder, checked.result, __version__)
    seen = (measured_meshes(checked.result, checked.meshes), jpeg_of(folder / PICTURE_FILE), __version__)
    for missing in make_report_page(folder, checked.result, evidence(spec, checked), seen):
        complain(f"not made: {missing.what} ({missing.why})")


def warn_of_old_result(target: Path, spec: Path, result: Result) -> None:
    from headergen.outputs.folder import read_inputs

    made_from = read_inputs(target)
    if made_from is not None and made_from != inputs_of(spec, result):
        complain(f"Note: {target.as_posix()}/ was made from another state of this spec; build it again.")
