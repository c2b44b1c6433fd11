"""`route`: paths that are still to be found."""

from __future__ import annotations

import os
import shlex
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from headergen.commands.codes import BROKEN, FINDINGS, INTERRUPTED, WRONG_USE
from headergen.commands.group import SPEC, commands
from headergen.commands.say import complain, progress, spec_trouble, stop, write_whole

if TYPE_CHECKING:
    from headergen.jobs.outcome import NotMade
    from headergen.routing import PathsToFind

MOST_ANSWERS = 9  # to choose from
PICTURE_SHARE = 0.6  # of the seconds of a search: the most that is reserved for drawing several answers
PICTURE_SECONDS, ANSWER_SECONDS = 4.5, 0.6  # time to draw on two cores, and the extra time for each answer


def _read_rounds(_: click.Context, option: click.Parameter, given: str | None) -> tuple[tuple[int, ...], ...]:
    """For each search one number, or one for each process with commas between them; empty if none is given."""
    searches = [] if given is None else [each.split(",") for each in given.split("+")]
    parts = [part for each in searches for part in each]
    if not all(part.isascii() and part.isdigit() and len(part) < 7 and int(part) > 0 for part in parts):
        raise click.BadParameter(f"{given} is not a number of tries (25), or one for each process (13,12)")
    if len({len(each) for each in searches}) > 1:
        raise click.BadParameter(f"{given} has not as many numbers for each search")
    return tuple(tuple(map(int, each)) for each in searches)


@commands.command()
@click.argument("spec", type=SPEC)
@click.option(
    "--seconds",
    type=click.FloatRange(1, 3600),
    default=20.0,
    show_default=True,
    help="How long the search may take, in seconds by the clock. Not counted: loading the program, compiling once "
    "for each version, writing and drawing; and a step that has begun is ended, which on a busy "
    "machine takes longer.",
)
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Change it for a different search.")
@click.option(
    "--rounds",
    metavar="TRIES",
    callback=_read_rounds,
    help="Stop after this many tries, whatever the time; with --seed it repeats a run. Without --jobs, one process "
    "makes them; two numbers (30,28) are the tries of two. After a plus (30+12) are those of the searches that follow, "
    "for secondaries and runs from outlets.",
)
@click.option(
    "--jobs", type=click.IntRange(1, 64), help="Processes that search side by side; as many as there are cores."
)
@click.option(
    "--places",
    type=click.IntRange(1),
    help="Where a collector may move: try this many places; with --seed and --rounds it repeats a run.",
)
@click.option(
    "--alternatives",
    "answers",
    type=click.IntRange(1, MOST_ANSWERS),
    default=1,
    show_default=True,
    help="How many to choose from: unlike each other, not much worse than the best, with a table and a picture.",
)
@click.option(
    "--relax",
    is_flag=True,
    help="If nothing is found, spend the same time again on testing single changes (collector, length, gap, radius), "
    "and as much on the equal lengths that fit. Without it, changes are tried in what is left of --seconds.",
)
@click.option(
    "--lengths",
    is_flag=True,
    help="Spend the same time on the shortest and longest equal length that fit this collector place.",
)
@click.option(
    "--only",
    "anew",
    multiple=True,
    metavar="TUBE",
    help="Look for another path for this primary, or for the tube from this collector, which has one, while all else "
    "stays; may be given several times.",
)
@click.option(
    "--as-found",
    is_flag=True,
    help="Leave angles and lengths as they were found: no whole degrees. Repeats a search that Ctrl-C ended.",
)
@click.option(
    "--last-as-found",
    is_flag=True,
    help="The same for the last of several searches alone (--rounds 30+12). Repeats one that Ctrl-C ended.",
)
@click.option(
    "--count",
    is_flag=True,
    help="Keep to the bends on hand: of kinds that the stock list counts, none are bought. Of the others there are "
    "enough.",
)
@click.option("--overwrite", is_flag=True, help="Write over NAME_routed.yaml even where it was changed by hand.")
def route(
    spec: Path,
    overwrite: bool,
    anew: tuple[str, ...],
    rounds: tuple[tuple[int, ...], ...],
    jobs: int | None,
    count: bool,
    **options: Any,
) -> None:
    """Find the paths of tubes marked find, and write NAME_routed.yaml beside SPEC: read it, edit it, build it.

    Primaries are found together, then what comes after their collectors: equally long, clear of the chassis and of each
    other, with few bends of the radii in stock, square in their bores, in whole degrees where that can be had. `1:
    find` asks for a path from nothing, `1: {find: true, path: [...]}` takes one as a first guess; tubes with a path
    keep it.
    Under route: in the spec are radii, degrees, bore order, range of length, collectors that may move, and what counts
    as good.

    With --only 3 nothing need be marked: primary 3 gets another path, and what that costs elsewhere is said. A
    tube from an outlet is named by its collector: --only main.

    Ctrl-C keeps the best so far. The top line of the file says how to repeat the run. Where nothing is found, the
    message says in millimetres where the best try is farthest from what is required; only the straight-line bound and
    ends inside a clearance are called impossible. Alternatives are NAME_routed_2.yaml and so on,
    side by side in NAME_routed_alternatives.png, in equal frames from one camera.
    """
    begun = time.monotonic()
    from headergen.routing import paths_to_find, paths_to_find_anew
    from headergen.solve.effort import Effort

    effort = Effort(**options, **_shared(rounds, jobs), begun=begun)
    if effort.answers > 1:
        drawing = min(PICTURE_SHARE * effort.seconds, PICTURE_SECONDS + ANSWER_SECONDS * effort.answers)
        effort = replace(effort, seconds=effort.seconds - drawing)
    targets = _routed_files(spec, effort.answers, overwrite)
    with spec_trouble():
        inputs = paths_to_find_anew(spec, anew) if anew else paths_to_find(spec)
    if count:
        inputs = _from_those_on_hand(spec, inputs)
    result = _search(spec, inputs, effort)
    for finding in result.findings:
        click.echo(finding.message)
    _say_what_is_left(spec, targets[: len(result.answers)])
    if not result.answers:
        raise click.exceptions.Exit(FINDINGS)
    _write_routed(spec, targets, result, (effort, anew, count))
    _say_what_it_comes_to(inputs, result)
    _draw_answers(spec, result, inputs.meshes)
    if result.stopped:
        left = [run.name for run in result.answers[0].draft.runs if run.to_find]
        rough = f", angles of {_list(result.rough)} not yet made whole degrees" if result.rough else ""
        rest = f"; still to be found: {', '.join(left)}" if left else ""
        raise stop(INTERRUPTED, f"stopped; this is the best so far{rough}{rest}")


def _shared(rounds: tuple[tuple[int, ...], ...], jobs: int | None) -> dict[str, Any]:
    """How a search is shared by processes: with a number of tries by one, so that it is repeated on any machine."""
    if not rounds:
        return {"jobs": jobs or os.cpu_count() or 1}
    first = rounds[0]
    if len(first) == 1:
        return {"jobs": jobs or 1, "rounds": first[0], "searches": rounds}
    if jobs not in (None, len(first)):
        raise stop(WRONG_USE, f"--rounds has {len(first)} numbers for {jobs} processes; give one for each, or only one")
    return {"jobs": len(first), "rounds": sum(first), "shares": first, "searches": rounds}


def _from_those_on_hand(spec: Path, inputs: PathsToFind) -> PathsToFind:
    """What is to be found, without bends that would have to be bought."""
    from headergen.routing import from_those_on_hand

    kept = from_those_on_hand(inputs)
    if kept is None:
        raise stop(WRONG_USE, f"{spec}: --count needs a stock list that counts bends; give some of them a count")
    return kept


def _routed_files(spec: Path, answers: int, overwrite: bool) -> list[Path]:
    """The files for the answers; refused before any work if one exists that is not ours to overwrite."""
    from headergen.spec.stamp import is_unchanged

    targets = _targets(spec, answers)
    for target in targets:
        if target.exists() and not overwrite and not is_unchanged(target):
            raise stop(WRONG_USE, f"{target}: changed by hand, or not written by route; rename it, or add --overwrite")
    return targets


def _targets(spec: Path, answers: int) -> list[Path]:
    ends = ["", *(f"_{k}" for k in range(2, answers + 1))]
    return [spec.parent / f"{spec.stem}_routed{end}{spec.suffix or '.yaml'}" for end in ends]


def _say_what_is_left(spec: Path, written: Sequence[Path]) -> None:
    """Files of an earlier search that this one does not write over: they may answer another spec."""
    for earlier in _targets(spec, MOST_ANSWERS):
        if earlier not in written and earlier.exists():
            complain(f"Note: {earlier.name} is left from an earlier search; this one found nothing to write there.")


def _search(spec: Path, inputs: PathsToFind, effort: Any) -> Any:
    from rich.console import Console

    from headergen.jobs import route as search
    from headergen.jobs.outcome import WorkError
    from headergen.routing import say_so_far
    from headergen.words.say import capital

    console = Console(stderr=True)
    with console.status("Getting ready (the first time this takes half a minute)") as status:

        def watch(sofar: search.Sofar) -> None:
            of = f"{capital(sofar.of)}: " if sofar.of else ""
            said = f"{of}{sofar.rounds} tries, nothing that meets every requirement yet"
            if sofar.bends:
                best = say_so_far(sofar.bends, sofar.degrees, (sofar.spread, sofar.room), inputs.draft.units)
                said = f"{of}{sofar.rounds} tries; best so far: {best}; Ctrl-C keeps it"
            status.update(said)

        try:
            return search.find_paths(inputs.draft, inputs.meshes, effort, watch, inputs.errors)
        except WorkError as wrong:
            raise stop(BROKEN, f"{spec}: {wrong}") from wrong


def _write_routed(spec: Path, targets: list[Path], result: Any, options: tuple[Any, tuple[str, ...], bool]) -> None:
    from headergen.routing import costs_of, table_of, with_found_paths

    effort, anew, count = options
    seed = effort.seed
    rounds = result.repeated_by
    only = "".join(f"--only {shlex.quote(key)} " for key in anew) + ("--count " if count else "")
    only += f"--alternatives {effort.answers} " if effort.answers > 1 else ""  # several are sought in other ways
    for number, (target, answer) in enumerate(zip(targets, result.answers, strict=False), 1):
        again = f"{only}--seed {seed} --rounds {rounds}{f' --places {result.places}' if result.places else ''}"
        if result.answers[0].draft.routing.moves and not result.places:
            again = f"{only}--seed {seed}, ended by Ctrl-C while places were tried: angles are not whole degrees, and "
            again += "no command repeats this"
        else:
            again += _as_it_ended(effort, result)
        again += ", cut off by the clock while angles were made whole degrees" if result.cut else ""
        note = f"from {spec.name} by headergen route {again}, alternative {number};"
        write_whole(target, with_found_paths(spec, answer.draft, note, anew))
    for line in table_of([target.name for target, _ in zip(targets, result.answers, strict=False)], result.answers):
        click.echo(line)
    for line in costs_of(result.answers[: len(targets)]):
        click.echo(line)


def _as_it_ended(effort: Any, result: Any) -> str:
    """For the top line: what repeats angles that were left as they were found, and what Ctrl-C left undone."""
    runs = result.answers[0].draft.runs
    left = [run.name for run in runs if run.to_find]
    all_rough = effort.as_found or (result.rough and len(result.tries) < 2)
    again = " --as-found" if all_rough else " --last-as-found" if result.rough or effort.last_as_found else ""
    if not result.stopped:
        return again
    rough = [f"{'its angles' if all_rough else f'the angles of {_list(result.rough)}'} are not whole degrees"]
    undone = [*(rough if result.rough else ()), *([f"{_list(left)} still to be found"] if left else ())]
    return f"{again}, ended by Ctrl-C: {', '.join(undone)}"


def _list(names: Sequence[str]) -> str:
    from headergen.words.say import say_list

    return say_list(list(names))


def _say_what_it_comes_to(inputs: PathsToFind, result: Any) -> None:
    """For a header that had all its paths: what the best answer changes."""
    if inputs.known is None:
        return
    from headergen.outputs.report.helpful import help_line, help_title, say_nothing
    from headergen.outputs.report.records.help import help_record
    from headergen.routing import what_they_come_to

    units = inputs.draft.units
    for record in map(help_record, what_they_come_to(inputs, result.answers[0])):
        said = "".join(help_line(one, record, units) for one in record.suggestions) or say_nothing(record)
        click.echo(f"{help_title(record, units)}: {said}")


def _draw_answers(spec: Path, result: Any, meshes: Any) -> None:
    """Draws several answers side by side; a single one is drawn by `build`, and after Ctrl-C nothing more is done."""
    from headergen.jobs.picture import picture_answers
    from headergen.routing import captions

    target = spec.with_name(f"{spec.stem}_routed_alternatives.png")
    not_made: NotMade = ()
    if len(result.answers) > 1 and not result.stopped:
        with progress() as report:
            not_made = picture_answers(captions(result.answers), meshes, target, report)
        if not not_made:
            click.echo(f"{target.name} shows them side by side.")
            return
    for missing in not_made:
        complain(f"not made: {missing.what} ({missing.why})")
    if target.exists():
        complain(f"Note: {target.name} shows the alternatives of an earlier search.")
