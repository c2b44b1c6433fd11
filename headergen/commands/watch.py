"""`watch`: checks again on every save, on the terminal and in an open page."""

from __future__ import annotations

import hashlib
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headergen import __version__
from headergen.commands.codes import INTERRUPTED, WRONG_USE
from headergen.commands.group import NO_COLOUR, SPEC, commands
from headergen.commands.say import complain, file_trouble, print_summary, stop

if TYPE_CHECKING:
    from headergen.jobs.watched import Board
    from headergen.outputs.report.records.report import Report
    from headergen.pipeline import Checked

EVERY, SETTLES = 0.02, 0.01  # seconds between looks at the files, and while they are being written
State = tuple[tuple[Path, object], ...]


@commands.command()
@click.argument("spec", type=SPEC)
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port of the page; a free one if none is given.")
@NO_COLOUR
def watch(spec: Path, port: int, plain: bool) -> None:
    """Check SPEC again on every save: figures here, and the report in a page that follows. Ctrl-C ends it.

    The page is served to this machine alone. If a saved spec cannot be read, the complaint is shown and the last good
    state stays. The state before it can be opened beside it.
    """
    from headergen.jobs.watched import HOST, Board, served

    if not spec.is_file():
        raise stop(WRONG_USE, f"{spec}: there is no such file")
    board = Board()
    try:
        server = served(board, port)
    except OSError as wrong:
        raise stop(WRONG_USE, f"port {port} cannot be had ({file_trouble(wrong)}); choose another") from wrong
    click.echo(f"Report page: http://{HOST}:{server.server_port}/ (Ctrl-C ends it)")
    try:
        follow(spec, board, plain)
    except KeyboardInterrupt:
        complain("watch ended; nothing was written")
        sys.stdout.flush()
        os._exit(INTERRUPTED)  # there is nothing to tidy up, and unloading libraries takes a second


def follow(spec: Path, board: Board, plain: bool) -> None:
    """Check whenever a file that the last check depended on has changed; never returns."""
    files, seen, last = [spec], None, None
    while True:
        state = look(files)
        if state == seen:
            time.sleep(EVERY)
            continue
        seen = state = _settled(files, state)
        checked = _checked(spec, board)
        if checked is None:
            continue
        files = depends_on(spec, checked)
        seen = (*state[:1], *look(files[1:]))  # a file saved during the check is a new state
        last = show(spec, checked, (board, last), plain)


def _settled(files: list[Path], state: State) -> State:
    """The state once two looks agree: many editors empty a file before they fill it."""
    while True:
        time.sleep(SETTLES)
        now = look(files)
        if now == state:
            return now
        state = now


def look(files: list[Path]) -> State:
    """The state of each file: size and time for a mesh, the content for all others."""
    return tuple((path, _content(path)) for path in files)


MOST_READ = 500_000  # bytes; a larger file is a scan, and is not read fifty times a second


def _content(path: Path) -> object:
    try:
        about = path.stat()
        if about.st_size > MOST_READ:
            return about.st_size, about.st_mtime_ns
        return hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        return None  # an editor may be about to put the new file in place of the old one


def depends_on(spec: Path, checked: Checked) -> list[Path]:
    """The spec, then all files that it names."""
    from headergen.build import inputs_of

    names = [name for name in inputs_of(spec, checked.result) if name != spec.name]
    return [spec, *(spec.parent / name for name in names)]


def _checked(spec: Path, board: Board) -> Checked | None:
    """A check, or None if it has complaints; these are printed and put on the board."""
    from headergen.pipeline import check_what_is_there
    from headergen.spec.complaint import SpecError

    try:
        checked = check_what_is_there(spec)
    except SpecError as wrong:
        said = str(wrong)
    except Exception as wrong:  # one bad save must not end the watch
        said = f"headergen itself is at fault here ({type(wrong).__name__}: {wrong}). Please report it with the spec."
    else:
        if all(opinion.agrees for opinion in checked.result.survey.second_opinions):
            return checked
        said = f"{spec}: two ways of measuring the same gap disagree; `headergen check` says which."
    board.complaint = said
    complain(said)
    return None


def show(spec: Path, checked: Checked, of: tuple[Board, Report | None], plain: bool) -> Report:
    """Figures to the terminal and the board; the page is made on request. Returns its report."""
    from headergen.jobs.watched import WatchedState
    from headergen.outputs.report.changed import changes
    from headergen.outputs.report.records.report import report_of

    board, last = of
    report = report_of(checked.result, __version__)
    said = () if last is None else tuple(changes(last, report)) or ("Nothing in the report has changed.",)
    number = 1 if board.now is None else board.now.number + 1
    board.show(WatchedState(number, said, lambda: page_of(spec, checked, number, said)))
    print_summary(checked.result, plain, spec)
    for line in said:
        click.echo(line)
    return report


def page_of(spec: Path, checked: Checked, number: int, said: tuple[str, ...]) -> str:
    """The report page of a state. Raises ViewerError if three.js is not available."""
    from headergen.jobs.pages import watched_page
    from headergen.pipeline import evidence

    return watched_page(checked.result, (evidence(spec, checked), checked.meshes), (number, said), __version__)
