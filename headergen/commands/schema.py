"""`schema`: what editors and readers of the report know keys by."""

from __future__ import annotations

import click

from headergen.commands.group import commands
from headergen.commands.say import json_text, spec_schema


@commands.command()
@click.argument("what", type=click.Choice(["spec", "report", "study"]), default="spec")
def schema(what: str) -> None:
    """Print the JSON Schema of the spec, of the file of a study (both for editors), or of report.json."""
    if what == "spec":
        content = spec_schema()
    elif what == "study":
        from headergen.spec.schema import study_schema

        content = study_schema()
    else:
        from headergen.outputs.report import report_schema

        content = report_schema()
    click.echo(json_text(content), nl=False)
