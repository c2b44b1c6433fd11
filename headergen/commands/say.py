"""What commands share: complaints, errors turned into either, progress, and whole files."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from headergen.commands.codes import BROKEN, CLEAN, FINDINGS, UNREADABLE, WRONG_USE

if TYPE_CHECKING:
    from rich.console import RenderableType

    from headergen.model import Result
    from headergen.pipeline import Checked


def file_trouble(wrong: OSError) -> str:
    """The message for an error of the file system, with advice if it is known."""
    said = wrong.strerror or str(wrong)
    if wrong.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return f"the disk is full ({said}); make room, or choose a folder on another disk"
    if isinstance(wrong, PermissionError):
        return f"writing here is not allowed ({said}); another program may hold it open, or the folder is not yours"
    return said


def complain(message: str) -> None:
    click.echo(message, err=True)


def stop(code: int, message: str) -> click.exceptions.Exit:
    complain(message)
    return click.exceptions.Exit(code)


def refuse_file_for_folder(folder: Path) -> None:
    from headergen.outputs.folder import NoFolderError, refuse_file

    try:
        refuse_file(folder)
    except NoFolderError as wrong:
        raise stop(WRONG_USE, str(wrong)) from wrong


def refuse_name(path: Path) -> None:
    from headergen.spec.files import unfit_name

    if why := unfit_name(path.stem if path.stem.endswith((".", " ")) else path.name):
        raise stop(WRONG_USE, f"{path}: {why}; choose another name")


@contextmanager
def folder_trouble(target: Path) -> Iterator[None]:
    """Reports a result that cannot be written or put in place, with its folder and what is there now."""
    from headergen.outputs.folder import FolderError

    try:
        yield
    except FolderError as wrong:
        raise stop(BROKEN, str(wrong)) from wrong
    except OSError as wrong:
        file = f" ({Path(wrong.filename).name})" if wrong.filename else ""
        left = "the earlier result there is as it was" if target.is_dir() else "nothing is there"
        raise stop(BROKEN, f"{target}: {file_trouble(wrong)}{file}; {left}") from wrong


@contextmanager
def spec_trouble() -> Iterator[None]:
    from headergen.spec.complaint import SpecError

    try:
        yield
    except SpecError as wrong:
        raise stop(UNREADABLE, str(wrong)) from wrong


def checked_spec(spec: Path, target: Path, unfinished: bool = False) -> Checked:
    """A spec that was read and measured; `target` is its result folder, where what was signed may be.

    `unfinished`: it may have paths that are still to be found, which are then left out.
    """
    from headergen.pipeline import against_signed, check_what_is_there
    from headergen.pipeline import check as run_check
    from headergen.words.say import say_apart

    with spec_trouble():
        checked = against_signed((check_what_is_there if unfinished else run_check)(spec), (target, spec.parent))
    apart = [opinion for opinion in checked.result.survey.second_opinions if not opinion.agrees]
    if apart:
        lines = [
            f"{spec}: two ways of measuring the same gap disagree; nothing is made. Please report this with the spec:"
        ]
        units = checked.result.header.draft.units
        lines += [f"    {say_apart(opinion, units)}" for opinion in apart]
        raise stop(BROKEN, "\n".join(lines))
    return checked


def exit_code(result: Result) -> int:
    from headergen.model.finding import worst_level

    return FINDINGS if worst_level(result.findings) == "error" else CLEAN


def print_summary(result: Result, plain: bool, spec: Path) -> None:
    from headergen.outputs.report.terminal import summary

    print_tables(summary(result, spec.as_posix()), plain)


MOST = 400  # characters in a line of what goes to no terminal


def print_tables(tables: RenderableType, plain: bool) -> None:
    """As wide as the terminal; in a file or a pipe, which has no width, as wide as the widest table needs."""
    from rich.console import Console
    from rich.measure import Measurement

    console = Console(no_color=plain or None, highlight=False)
    if not console.is_terminal:
        least = Measurement.get(console, console.options.update(width=MOST), tables).minimum
        console.width = max(console.width, least)
    console.print(tables)


@contextmanager
def progress() -> Iterator[Any]:
    """A bar for every stage on a terminal, nothing in a pipe."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bars:
        tasks: dict[str, Any] = {}

        def report(stage: str, done: int, total: int) -> None:
            if stage not in tasks:
                tasks[stage] = bars.add_task(stage)
            bars.update(tasks[stage], completed=done, total=total)

        yield report


def write_whole(target: Path, text: str) -> None:
    """Writes a file in one step: it is the old one or the new one, never half of it."""
    beside = target.with_name(f".{target.name}.new")
    try:
        with beside.open("w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)


def spec_schema() -> dict[str, Any]:
    from headergen.spec.schema import json_schema

    return json_schema()


def json_text(content: Any) -> str:
    import json

    return json.dumps(content, indent=2, ensure_ascii=False) + "\n"
