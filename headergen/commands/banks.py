"""`banks`: two banks side by side."""

from __future__ import annotations

from pathlib import Path

import click

from headergen.commands.group import SPEC, commands
from headergen.commands.say import spec_trouble


@commands.command()
@click.argument("first", type=SPEC)
@click.argument("second", type=SPEC)
def banks(first: Path, second: Path) -> None:
    """Compare two banks: lengths, collectors, gaps, and how far each deviates from the other's mirror image.

    FIRST and SECOND are the specs of the two banks. Lengths are in the unit of the first one.
    """
    from headergen.pipeline import compared

    with spec_trouble():
        click.echo("\n".join(compared(first, second)))
