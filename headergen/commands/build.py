"""`build`: everything, in a folder of its own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from headergen.commands.codes import BROKEN, WRONG_USE
from headergen.commands.group import NO_COLOUR, SPEC, commands
from headergen.commands.interrupts import interrupts_noted
from headergen.commands.say import (
    checked_spec,
    complain,
    exit_code,
    folder_trouble,
    print_summary,
    progress,
    refuse_file_for_folder,
    stop,
)


@commands.command()
@click.argument("spec", type=SPEC)
@click.option("--out", type=SPEC, default=Path("out"), show_default=True, help="Results go to OUT/<spec name>/.")
@click.option(
    "--mock",
    "mock",
    is_flag=True,
    help="Also make the fit mock, the full-size print; a spec with mock: always gets it.",
)
@click.option("--chassis", "chassis", is_flag=True, help="Also put the chassis, thinned for show, into header.glb.")
@NO_COLOUR
def build(spec: Path, out: Path, mock: bool, chassis: bool, plain: bool) -> None:
    """Check SPEC and make everything in OUT/<spec name>/: STEP, STL, GLB, DXF, a CAD script, picture and reports.

    The same spec gives the same bytes. A run that fails or is stopped leaves the last good result as it was. Your own
    files in that folder, and results that you changed, are never deleted: they are kept, under another name where a new
    file has theirs. A header with errors is made as far as it can be, and says NOT CLEARED on picture and reports.
    manifest.json lists every file with its hash, what it was made from, and what could not be made.
    """
    from headergen.build import crew, fill, is_as_before
    from headergen.jobs.outcome import WorkError
    from headergen.model import MockSettings
    from headergen.outputs.folder import discard, stage, swap_in
    from headergen.spec.files import is_a_device

    if is_a_device(spec.name):
        raise stop(WRONG_USE, f"{spec}: Windows keeps the name {spec.stem} for a device; give the spec another")
    target = out / spec.stem
    if target.is_symlink():
        target = target.resolve()
    refuse_file_for_folder(target)
    with interrupts_noted() as raise_if_pressed, crew(mock, is_as_before(spec, target)) as hands:
        checked = checked_spec(spec, target)
        settings = checked.result.header.draft.mock or (MockSettings() if mock else None)
        with folder_trouble(target):
            staged = stage(target)
            try:
                with progress() as report:

                    def heeding(*said: Any) -> None:
                        raise_if_pressed()
                        report(*said)

                    result, not_made, kept = fill(staged, target, spec, checked, settings, (hands, heeding), chassis)
                raise_if_pressed()
                moved = swap_in(staged, target)
            except WorkError as wrong:
                discard(staged)
                raise stop(BROKEN, f"{spec}: {wrong}") from wrong
            except BaseException:
                discard(staged)
                raise
    print_summary(result, plain, spec)
    for missing in not_made:
        complain(f"not made: {missing.what} ({missing.why})")
    if kept is not None and not kept.is_current:
        complain(
            f"Note: {kept.folder}/ is from an earlier build, made from another state of the spec or by another version."
        )
    for name, now in moved:
        complain(f"Note: {name} was not made here, or was changed since; it is kept as {now}.")
    click.echo(f"Results are in {target.as_posix()}/.")
    raise click.exceptions.Exit(BROKEN if any(missing.failed for missing in not_made) else exit_code(result))
