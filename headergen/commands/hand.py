"""`hand`: the shop's own hand, from the records of its headers."""

from __future__ import annotations

import json
from pathlib import Path

import click

from headergen.commands.codes import UNREADABLE
from headergen.commands.group import commands
from headergen.commands.say import file_trouble, stop


@commands.command()
@click.argument("records", type=click.Path(path_type=Path), nargs=-1, required=True)
def hand(records: tuple[Path, ...]) -> None:
    """Estimate the shop's own shrinkage, pull and spreads from RECORDS, which `headergen correct` writes.

    Prints them as they go into a spec, each with the interval that holds it 95 times in 100, and says on how many
    joints it rests. Spreads hold the errors of measuring too.
    """
    from headergen.pipeline import said_of_hand

    found = []
    for path in records:
        try:
            content = json.loads(path.read_text(encoding="utf-8"))
        except OSError as wrong:
            raise stop(UNREADABLE, f"{path}: {file_trouble(wrong)}") from wrong
        except json.JSONDecodeError as wrong:
            place = f"{path}:{wrong.lineno}:{wrong.colno}"
            raise stop(UNREADABLE, f"{place}: this is no record: it is not JSON ({wrong.msg})") from wrong
        except RecursionError as wrong:
            raise stop(UNREADABLE, f"{path}: this is no record: its brackets are nested too deep") from wrong
        except UnicodeDecodeError as wrong:
            raise stop(UNREADABLE, f"{path}: byte {wrong.start}: this is no record: not UTF-8") from wrong
        found.append((str(path), content))
    try:
        lines = said_of_hand(found)
    except ValueError as wrong:
        raise stop(UNREADABLE, str(wrong)) from wrong
    click.echo("\n".join(lines))
