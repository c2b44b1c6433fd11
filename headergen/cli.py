"""The commands. The only place that prints and chooses exit codes; everything that takes time to import comes late."""

from __future__ import annotations

import errno
import gc
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from headergen import __version__

if TYPE_CHECKING:
    from headergen.model import Result
    from headergen.outputs.earlier import Kept
    from headergen.pipeline import Checked
    from headergen.worker import NotMade

CLEAN, FINDINGS, WRONG_USE, UNREADABLE, BROKEN, INTERRUPTED = 0, 1, 2, 3, 4, 130

PICTURE_SHARE, PICTURE_SECONDS = 0.15, 4.0  # of the seconds of a search, kept for drawing several answers

SPEC = click.Path(path_type=Path)
NO_COLOUR = click.option("--no-color", "--no-colour", "plain", is_flag=True, help="Print without colour.")


def main() -> None:
    """The command line as a process: UTF-8 on every pipe, and one place where trouble becomes an exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")  # names of files may be no text
    sys.unraisablehook = _hear_again
    gc.set_threshold(100_000)  # a command lives for seconds; collecting while modules load costs a tenth of that
    with _trouble_as_exit_code():
        sys.exit(commands.main(standalone_mode=False))


@contextmanager
def _trouble_as_exit_code() -> Iterator[None]:
    try:
        yield
    except click.ClickException as wrong:
        wrong.show()
        sys.exit(wrong.exit_code)
    except (KeyboardInterrupt, click.Abort):
        _complain("interrupted; nothing already made was changed")
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        sys.stderr.close()  # whoever read the output has gone; say nothing more
        sys.exit(CLEAN)
    except ImportError as wrong:
        _complain(f"a library cannot be loaded ({wrong}); install headergen anew as the README says")
        sys.exit(BROKEN)
    except OSError as wrong:
        _complain(f"{wrong.filename2 or wrong.filename or 'file system'}: {_file_trouble(wrong)}")
        sys.exit(UNREADABLE)
    except Exception as wrong:
        if os.environ.get("HEADERGEN_TRACEBACK"):
            raise
        _complain(f"headergen itself is at fault here ({type(wrong).__name__}: {wrong}); nothing was changed.")
        _complain("Please report it with the spec; HEADERGEN_TRACEBACK=1 shows where.")
        sys.exit(BROKEN)


def _hear_again(lost: Any) -> None:
    """A Ctrl-C that fell into a callback of the interpreter's own, as importing has them, is printed and lost there."""
    if lost.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(lost)
        return
    import signal
    import threading

    main_thread = threading.main_thread().ident
    again = signal.pthread_kill if hasattr(signal, "pthread_kill") else lambda _, number: signal.raise_signal(number)
    threading.Timer(0.02, again, (main_thread, signal.SIGINT)).start()  # by then the callback is over


def _file_trouble(wrong: OSError) -> str:
    """What the file system refuses, and what to do about it where that is known."""
    said = wrong.strerror or str(wrong)
    if wrong.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return f"the disk takes no more ({said}); make room, or choose a folder on another disk"
    if isinstance(wrong, PermissionError):
        return f"this may not be written ({said}); another program may hold it open, or the folder is not yours"
    return said


def _complain(message: str) -> None:
    click.echo(message, err=True)


def _stop(code: int, message: str) -> click.exceptions.Exit:
    _complain(message)
    return click.exceptions.Exit(code)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="headergen")
def commands() -> None:
    """Check and build tubular exhaust headers from a YAML spec.

    Exit codes: 0 clean, 1 error findings, 2 wrong usage, 3 spec or mesh unreadable, 4 something that should have
    worked did not, 130 interrupted.
    """


@commands.command()
@click.argument("spec", type=SPEC)
@click.option("--report", "folder", type=SPEC, help="Also write report.json and report.md into this folder.")
@click.option("--out", type=SPEC, default=Path("out"), show_default=True, help="Where results of `build` are kept.")
@NO_COLOUR
def check(spec: Path, folder: Path | None, out: Path, plain: bool) -> None:
    """Check SPEC: where every tube runs, what touches what, what is wrong. Makes nothing."""
    if folder is not None:
        _refuse_file(folder)
    result = _checked(spec).result
    _print_summary(result, plain)
    if folder is not None:
        from headergen.outputs.report import write_reports

        folder.mkdir(parents=True, exist_ok=True)
        write_reports(folder, result, __version__)
    _warn_of_old_result(out / spec.stem, spec, result)
    raise click.exceptions.Exit(_exit_code(result))


@commands.command()
@click.argument("spec", type=SPEC)
@click.option("--out", type=SPEC, default=Path("out"), show_default=True, help="Results go to OUT/<spec name>/.")
@click.option("--mock", "mock", is_flag=True, help="Also make the fit mock to print, as a spec with mock: always does.")
@NO_COLOUR
def build(spec: Path, out: Path, mock: bool, plain: bool) -> None:
    """Check SPEC and make everything: STEP, STL, GLB, picture and reports, in OUT/<spec name>/."""
    from headergen.outputs.folder import discard, stage, swap_in
    from headergen.spec.files import is_a_device

    if is_a_device(spec.name):
        raise _stop(WRONG_USE, f"{spec}: Windows keeps the name {spec.stem} for a device; give the spec another")
    target = out / spec.stem
    if target.is_symlink():
        target = target.resolve()
    _refuse_file(target)
    checked = _checked(spec)
    with _folder_trouble(target):
        staged = stage(target)
        try:
            result, not_made, kept = _fill(staged, target, spec, checked, mock)
            moved = swap_in(staged, target)
        except BaseException:
            discard(staged)
            raise
    _print_summary(result, plain)
    for missing in not_made:
        _complain(f"not made: {missing.what} ({missing.why})")
    if kept is not None and not kept.is_current:
        _complain(f"Note: {kept.folder}/ is kept from an earlier build, of another state of this spec or version.")
    for name, now in moved:
        _complain(f"Note: {name} was not made here, or was changed since; it is kept as {now}.")
    click.echo(f"Results are in {target.as_posix()}/.")
    raise click.exceptions.Exit(BROKEN if any(missing.failed for missing in not_made) else _exit_code(result))


def _refuse_file(folder: Path) -> None:
    from headergen.outputs.folder import NoFolder, refuse_file

    try:
        refuse_file(folder)
    except NoFolder as wrong:
        raise _stop(WRONG_USE, str(wrong)) from wrong


def _refuse_name(path: Path) -> None:
    from headergen.spec.files import unfit_name

    if why := unfit_name(path.stem if path.stem.endswith((".", " ")) else path.name):
        raise _stop(WRONG_USE, f"{path}: {why}; choose another name")


@contextmanager
def _folder_trouble(target: Path) -> Iterator[None]:
    """A result that cannot be written or put in place: named with its folder, and with what there is of it now."""
    from headergen.outputs.folder import FolderError

    try:
        yield
    except FolderError as wrong:
        raise _stop(BROKEN, str(wrong)) from wrong
    except OSError as wrong:
        file = f" ({Path(wrong.filename).name})" if wrong.filename else ""
        left = "the earlier result there is as it was" if target.is_dir() else "nothing is there"
        raise _stop(BROKEN, f"{target}: {_file_trouble(wrong)}{file}; {left}") from wrong


def _fill(folder: Path, target: Path, spec: Path, checked: Checked, mock: bool) -> tuple[Result, NotMade, Kept | None]:
    """Make every file of a result in `folder`: the result with its parts, what could not be made and why, and what is
    kept of the old result in `target`."""
    from headergen import worker
    from headergen.model import MockSettings
    from headergen.outputs.earlier import keep
    from headergen.outputs.folder import Manifest, own_files, read_manifest, write_manifest
    from headergen.outputs.report import write_reports
    from headergen.pipeline import judge_parts

    without, settings = checked.without_solid, checked.result.header.draft.mock or (MockSettings() if mock else None)
    with _progress() as report:
        try:
            made = worker.make_solids(checked.result.header, without, folder, report)
            failed = [(missing.what, missing.why) for missing in made.not_made if missing.failed]
            result = judge_parts(checked, made.parts, made.skins, made.overlaps, failed)
            no_picture = worker.make_picture(result, checked.meshes, made, without, folder, report)
            not_made = made.not_made + no_picture
            if settings is not None:
                not_made += worker.make_mock(result, settings, without, folder, report, not no_picture)
        except worker.WorkError as wrong:
            raise _stop(BROKEN, f"{spec}: {wrong}") from wrong
    write_reports(folder, result, __version__)
    verdict = "error findings" if _exit_code(result) else "clean"
    inputs = _inputs(spec, result)
    kept = keep((target, read_manifest(target), own_files(target)), folder, worker.MOCK, inputs, __version__)
    kept_entry = None if kept is None else (kept.folder, kept.made_from)
    missing = [(each.what, each.why) for each in not_made]
    write_manifest(folder, Manifest(inputs, missing, __version__, verdict, kept_entry))
    return result, not_made, kept


@contextmanager
def _spec_trouble() -> Iterator[None]:
    from headergen.spec.complaint import SpecError

    try:
        yield
    except SpecError as wrong:
        raise _stop(UNREADABLE, str(wrong)) from wrong


def _checked(spec: Path) -> Checked:
    from headergen.pipeline import check as run_check

    with _spec_trouble():
        checked = run_check(spec)
    apart = [opinion for opinion in checked.result.survey.second_opinions if not opinion.agrees]
    if apart:
        lines = [
            f"{spec}: two ways of measuring the same gap disagree; nothing is made. Please report this with the spec:"
        ]
        for o in apart:
            lines.append(
                f"    {o.a} to {o.b}: {o.exact:.3f} mm and {o.other_method:.3f} mm, "
                f"which may be {o.allowed:.3f} mm apart"
            )
        raise _stop(BROKEN, "\n".join(lines))
    return checked


def _exit_code(result: Result) -> int:
    from headergen.model.finding import worst_level

    return FINDINGS if worst_level(result.findings) == "error" else CLEAN


def _inputs(spec: Path, result: Result) -> dict[str, str]:
    """What a result was made from: file as the spec names it → SHA-256."""
    from headergen.model import MeshRef

    meshes = {i.shape.path: i.shape.sha256 for i in result.header.draft.chassis if isinstance(i.shape, MeshRef)}
    return {spec.name: result.source.sha256, **dict(result.source.others), **meshes}


def _warn_of_old_result(target: Path, spec: Path, result: Result) -> None:
    from headergen.outputs.folder import read_inputs

    made_from = read_inputs(target)
    if made_from is not None and made_from != _inputs(spec, result):
        _complain(f"Note: {target.as_posix()}/ was made from another state of this spec; build it again.")


def _print_summary(result: Result, plain: bool) -> None:
    from rich.console import Console

    from headergen.outputs.report.terminal import summary

    console = Console(no_color=plain or None, highlight=False)
    console.print(summary(result))


@contextmanager
def _progress() -> Iterator[Any]:
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


@commands.command()
@click.argument("spec", type=SPEC)
@click.option(
    "--seconds", type=click.FloatRange(1, 3600), default=20.0, show_default=True, help="How long all of it may take."
)
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Another seed, another search.")
@click.option("--rounds", type=click.IntRange(1), help="Stop after so many tries, whatever the time: repeats a run.")
@click.option("--places", type=click.IntRange(1), help="Where a collector may move: try so many places; repeats a run.")
@click.option("--answers", type=click.IntRange(1, 9), default=1, show_default=True, help="How many to choose from.")
@click.option("--relax", is_flag=True, help="Where none are found, try as long again which one change would help.")
@click.option("--lengths", is_flag=True, help="Look as long again for the shortest and longest equal length that fit.")
@click.option("--overwrite", is_flag=True, help="Write over NAME_routed.yaml even where it was changed by hand.")
def route(spec: Path, overwrite: bool, **options: Any) -> None:
    """Find the paths of primaries marked find, and write NAME_routed.yaml beside SPEC.

    Equally long, clear of the chassis and of each other, of few bends. Ctrl-C keeps the best so far.
    """
    begun = time.monotonic()
    from headergen.pipeline import wanted_paths
    from headergen.worker import Effort

    effort = Effort(**options, begun=begun)
    if effort.answers > 1:
        effort = replace(effort, seconds=effort.seconds - min(PICTURE_SHARE * effort.seconds, PICTURE_SECONDS))
    targets = _routed_files(spec, effort.answers, overwrite)
    with _spec_trouble():
        draft, meshes = wanted_paths(spec)
    found = _search(spec, (draft, meshes), effort)
    for finding in found.findings:
        click.echo(finding.message)
    if not found.answers:
        raise click.exceptions.Exit(FINDINGS)
    _write_routed(spec, targets, found, effort.seed)
    _draw_answers(spec, found, meshes)
    if found.stopped:
        raise _stop(INTERRUPTED, "stopped; this is the best so far, its degrees not yet made whole")


def _routed_files(spec: Path, answers: int, overwrite: bool) -> list[Path]:
    """Where answers go, refused before any work where one there is not ours to write over."""
    from headergen.spec.routed import is_unchanged

    ends = ["", *(f"_{k}" for k in range(2, answers + 1))]
    targets = [spec.parent / f"{spec.stem}_routed{end}{spec.suffix or '.yaml'}" for end in ends]
    for target in targets:
        if target.exists() and not overwrite and not is_unchanged(target):
            raise _stop(WRONG_USE, f"{target}: changed by hand, or not written by route; rename it, or add --overwrite")
    return targets


def _search(spec: Path, job: tuple[Any, Any], effort: Any) -> Any:
    from rich.console import Console

    from headergen import worker
    from headergen.pipeline import say_so_far

    console = Console(stderr=True)
    with console.status("Getting ready (the first time this takes half a minute)") as status:

        def watch(sofar: worker.Sofar) -> None:
            said = f"{sofar.rounds} tries, nothing that holds yet"
            if sofar.bends:
                best = say_so_far(sofar.bends, sofar.degrees, (sofar.spread, sofar.room), job[0].units)
                said = f"{sofar.rounds} tries; best so far: {best}; Ctrl-C keeps it"
            status.update(said)

        try:
            return worker.find_paths(*job, effort, watch)
        except worker.WorkError as wrong:
            raise _stop(BROKEN, f"{spec}: {wrong}") from wrong


def _write_routed(spec: Path, targets: list[Path], found: Any, seed: int) -> None:
    from headergen.pipeline import table_of, with_found_paths

    for number, (target, answer) in enumerate(zip(targets, found.answers, strict=False), 1):
        again = f"--seed {seed} --rounds {found.rounds}{f' --places {found.places}' if found.places else ''}"
        if found.answers[0].draft.routing.moves and not found.places:
            again = f"--seed {seed}, stopped while places were tried"
        again += ", cut off by the clock while degrees were made whole" if found.cut else ""
        note = f"from {spec.name} by headergen route {again}, answer {number};"
        _write_whole(target, with_found_paths(spec, answer.draft, note))
    for line in table_of([target.name for target, _ in zip(targets, found.answers, strict=False)], found.answers):
        click.echo(line)


def _draw_answers(spec: Path, found: Any, meshes: Any) -> None:
    """Several answers side by side; one has `build` to draw it, and where Ctrl-C was pressed nothing more is done."""
    from headergen import worker
    from headergen.pipeline import captions

    target = spec.with_name(f"{spec.stem}_routed_answers.png")
    not_made: NotMade = ()
    if len(found.answers) > 1 and not found.stopped:
        with _progress() as report:
            not_made = worker.picture_answers(captions(found.answers), meshes, target, report)
        if not not_made:
            click.echo(f"{target.name} shows them side by side.")
            return
    for missing in not_made:
        _complain(f"not made: {missing.what} ({missing.why})")
    if target.exists():
        _complain(f"Note: {target.name} shows the answers of an earlier search.")


def _write_whole(target: Path, text: str) -> None:
    """A file in one step: the old one or the new one, never half of it."""
    beside = target.with_name(f".{target.name}.new")
    try:
        with beside.open("w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)


@commands.command()
@click.argument("what", type=click.Choice(["spec", "report"]), default="spec")
def schema(what: str) -> None:
    """Print the JSON Schema of the spec (for editors) or of report.json."""
    if what == "spec":
        content = _spec_schema()
    else:
        from headergen.outputs.report import report_schema

        content = report_schema()
    click.echo(_json(content), nl=False)


@commands.command()
@click.argument("name")
def init(name: str) -> None:
    """Write NAME.yaml, a commented starter spec laid out as a measuring sheet. Never overwrites.

    Beside it goes the schema by which an editor explains every key, unless one is at hand.
    """
    from headergen.spec.starter import schema_beside, starter_text

    path = Path(name if name.endswith((".yaml", ".yml")) else f"{name}.yaml")
    if name.endswith(("/", "\\")) or not path.stem.strip("."):
        raise _stop(WRONG_USE, f"{name}: a folder; add a name for the job: {(Path(name) / 'my_job').as_posix()}")
    if not path.parent.is_dir():
        raise _stop(WRONG_USE, f"{path}: there is no folder {path.parent}; make it first, or write another name")
    _refuse_name(path)
    schema, is_new = schema_beside(path.parent)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(starter_text(path.stem, schema, date.today().isoformat()))
    except FileExistsError as wrong:
        raise _stop(WRONG_USE, f"{path}: already there; choose another name") from wrong
    if is_new:
        _write_whole(path.parent / schema, _json(_spec_schema()))
    beside = f", and {schema} beside it, by which an editor explains every key" if is_new else ""
    click.echo(f"Wrote {path}{beside}. It builds as it is: headergen build {path}")


@commands.command()
@click.argument("spec", type=SPEC)
@click.option("--to", "target", type=SPEC, help="Write into this new file (beside SPEC) instead of printing.")
def resolve(spec: Path, target: Path | None) -> None:
    """Write SPEC out in full: fitted values as found, the other bank as a spec of its own."""
    from headergen.pipeline import full_text

    with _spec_trouble():
        text = full_text(spec)
    if target is None:
        click.echo(text, nl=False)
        return
    _refuse_name(target)
    if not target.parent.is_dir():
        raise _stop(WRONG_USE, f"{target}: there is no folder {target.parent}; make it first, or write another name")
    try:
        with target.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError as wrong:
        raise _stop(WRONG_USE, f"{target}: already there; choose another name") from wrong
    click.echo(f"Wrote {target}.")


@commands.command()
@click.argument("first", type=SPEC)
@click.argument("second", type=SPEC)
def banks(first: Path, second: Path) -> None:
    """Compare two banks: lengths, collectors, gaps, and how far each strays from the other's mirror image."""
    from headergen.pipeline import compared

    with _spec_trouble():
        click.echo("\n".join(compared(first, second)))


@commands.command()
@click.argument("file", type=SPEC)
@click.option("--beside", "spec", type=SPEC, help="Say how far it would lie from the header of this spec.")
@click.option("--picture", type=SPEC, help="Also write a picture (PNG) of it.")
def mesh(file: Path, spec: Path | None, picture: Path | None) -> None:
    """Look at a mesh or scan: what FILE holds, whether it closes, how large it is in which unit, where it lies."""
    from headergen.pipeline import look
    from headergen.spec.mesh.look import said_of

    if picture is not None:
        _refuse_name(picture)
        if not picture.parent.is_dir() or picture.is_dir():
            what = "this is a folder" if picture.is_dir() else f"there is no folder {picture.parent}"
            raise _stop(WRONG_USE, f"{picture}: {what}; name a file for the picture in a folder that is there")
        if picture.suffix.lower() != ".png":
            raise _stop(WRONG_USE, f"{picture}: the picture is a PNG; give the file the ending .png")
    with _spec_trouble():
        seen = look(file, spec)
    click.echo("\n".join(said_of(file, seen)))
    if picture is None:
        return
    from headergen import worker

    with _progress() as report:
        try:
            worker.picture_mesh(seen.index, file.name, picture, report)
        except worker.WorkError as wrong:
            raise _stop(BROKEN, f"{picture}: {wrong}") from wrong
    click.echo(f"Wrote {picture}.")


def _spec_schema() -> dict[str, Any]:
    from headergen.spec.schema import json_schema

    return json_schema()


def _json(content: Any) -> str:
    import json

    return json.dumps(content, indent=2, ensure_ascii=False) + "\n"
