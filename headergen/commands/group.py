"""The group of all commands, and their common options."""

from __future__ import annotations

from pathlib import Path

import click

from headergen import __version__

SPEC = click.Path(path_type=Path)
NO_COLOUR = click.option("--no-color", "--no-colour", "plain", is_flag=True, help="Print without colour.")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="headergen")
def commands() -> None:
    """Check and build tubular exhaust headers from a YAML spec.

    Start a job with init, check it as often as you like, and build it when it is clear.

    \b
    Exit codes:
      0    clear
      1    error findings; whatever can be made is made
      2    wrong usage
      3    spec or mesh unreadable
      4    a legal part or the fit mock could not be made (the others are),
           a result could not be written, or two ways of measuring the same
           gap disagree (nothing is made)
      130  interrupted
    """
