"""`init`: a starter spec."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from headergen.commands.codes import WRONG_USE
from headergen.commands.group import commands
from headergen.commands.say import json_text, refuse_name, spec_schema, stop, write_whole


@commands.command()
@click.argument("name")
def init(name: str) -> None:
    """Write NAME.yaml, a commented starter spec laid out as a measuring sheet. Never overwrites.

    The sheet says what to measure with tape, square, caliper and angle finder, in which order, and where each figure
    goes. It builds as it is; put your own figures in, then check and build it.

    Beside it goes the schema by which an editor explains every key, unless one is at hand.
    """
    from headergen.spec.starter import schema_beside, starter_text

    path = Path(name if name.endswith((".yaml", ".yml")) else f"{name}.yaml")
    if name.endswith(("/", "\\")) or not path.stem.strip("."):
        raise stop(WRONG_USE, f"{name}: a folder; add a name for the job: {(Path(name) / 'my_job').as_posix()}")
    if not path.parent.is_dir():
        raise stop(WRONG_USE, f"{path}: there is no folder {path.parent}; make it first, or write another name")
    refuse_name(path)
    schema, is_new = schema_beside(path.parent)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(starter_text(path.stem, schema, date.today().isoformat()))
    except FileExistsError as wrong:
        raise stop(WRONG_USE, f"{path}: already there; choose another name") from wrong
    if is_new:
        write_whole(path.parent / schema, json_text(spec_schema()))
    beside = f", and {schema} beside it, by which an editor explains every key" if is_new else ""
    click.echo(f"Wrote {path}{beside}. It builds as it is: headergen build {path}")
