"""`resolve`: a spec written out in full."""

from __future__ import annotations

from pathlib import Path

import click

from headergen.commands.codes import WRONG_USE
from headergen.commands.group import SPEC, commands
from headergen.commands.say import refuse_name, spec_trouble, stop


@commands.command()
@click.argument("spec", type=SPEC)
@click.option("--to", "target", type=SPEC, help="Write into this new file (beside SPEC) instead of printing.")
def resolve(spec: Path, target: Path | None) -> None:
    """Write SPEC out in full: fitted values as found, the other bank as a spec of its own, patterns as places."""
    from headergen.pipeline import full_text

    with spec_trouble():
        text = full_text(spec)
    if target is None:
        click.echo(text, nl=False)
        return
    refuse_name(target)
    if not target.parent.is_dir():
        raise stop(WRONG_USE, f"{target}: there is no folder {target.parent}; make it first, or write another name")
    try:
        with target.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError as wrong:
        raise stop(WRONG_USE, f"{target}: already there; choose another name") from wrong
    click.echo(f"Wrote {target}.")
