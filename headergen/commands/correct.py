"""`correct`: a half-built header, closed from where it is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from headergen.commands.codes import BROKEN, FINDINGS, WRONG_USE
from headergen.commands.group import SPEC, commands
from headergen.commands.say import json_text, spec_trouble, stop, write_whole

if TYPE_CHECKING:
    from headergen.pipeline import Correcting

SHOWN = 8  # gaps


@commands.command()
@click.argument("spec", type=SPEC)
@click.option("--overwrite", is_flag=True, help="Write over NAME_as_built.yaml even where it was changed by hand.")
def correct(spec: Path, overwrite: bool) -> None:
    """Close what is half built from where it is: as_built: in SPEC says what is welded, cut and measured.

    What is welded stays, what is tacked may turn where that is allowed, what is not cut is free. Prints the least work
    for each tube, in one line, and what becomes of lengths and gaps. Writes beside SPEC: NAME_as_built.yaml, the spec
    as it then is; NAME_correction.pdf, the pages of the sheets that change, with templates for cuts that are not
    square; NAME_record.json, what was planned, measured and done, for `headergen hand`.

    Where nothing left to cut can close a tube, it says which freedom is missing, and which joint cut open has it; the
    exit code is then 1.
    """
    from headergen.model import PlanError
    from headergen.pipeline import correct as run_correct

    target = _target(spec, overwrite)
    try:
        with spec_trouble():
            result = run_correct(spec)
    except PlanError as wrong:
        raise stop(BROKEN, f"{spec}: the bench cannot be planned: {wrong}") from wrong
    for line in _lines(result):
        click.echo(line)
    _write(result, target)
    worse = any(not run.correction.closes for run in result.runs)
    if worse or any(finding.level == "error" for finding in result.result.findings):
        raise click.exceptions.Exit(FINDINGS)


def _target(spec: Path, overwrite: bool) -> Path:
    """The file for the spec as it is; refused before any work if it is not ours to overwrite."""
    from headergen.spec.stamp import is_unchanged

    target = spec.parent / f"{spec.stem}_as_built{spec.suffix or '.yaml'}"
    if target.exists() and not overwrite and not is_unchanged(target):
        raise stop(WRONG_USE, f"{target}: changed by hand, or not written by correct; rename it, or add --overwrite")
    return target


def _lines(result: Correcting) -> list[str]:
    from headergen.words.correction import instruction, left_over, said_of_lengths
    from headergen.words.say import say_length

    units = result.result.header.draft.units
    lines = [instruction(run.correction, units) for run in result.runs]
    for run in result.runs:
        lines += [*left_over(run.correction, units), said_of_lengths(run, units)]
    names = {run.correction.run for run in result.runs}
    was = {(gap.a, gap.b, gap.together, gap.pose): gap.value for gap in result.was}
    gaps = [gap for gap in result.result.survey.gaps if {gap.a, gap.b} & names]
    gaps.sort(key=lambda gap: gap.value - gap.required)
    for gap in gaps[:SHOWN]:
        before = was.get((gap.a, gap.b, gap.together, gap.pose))
        planned = "" if before is None else f", planned {say_length(before, units)}"
        where = " where they converge" if gap.together else ""
        lines.append(f"{gap.a} to {gap.b}{where}: {say_length(gap.value, units)}{planned}")
    levels = ("error", "warning")
    return [*lines, *(f"{each.level}: {each.message}" for each in result.result.findings if each.level in levels)]


def _write(result: Correcting, target: Path) -> None:
    from headergen.outputs.shop.sheets.corrected import write_corrected

    stem = target.stem.removesuffix("_as_built")
    pages, record = target.with_name(f"{stem}_correction.pdf"), target.with_name(f"{stem}_record.json")
    write_whole(target, result.text)
    write_whole(record, json_text(result.record))
    beside = pages.with_name(f".{pages.name}.new")
    try:
        write_corrected(beside, result.result.header, result.runs, result.facts)
        beside.replace(pages)
    finally:
        beside.unlink(missing_ok=True)
    click.echo(f"Wrote {target.name}, {pages.name} and {record.name}.")
