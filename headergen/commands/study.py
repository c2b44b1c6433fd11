"""`study`: one spec with some of its values varied, each case routed, and what trades off against what."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headergen.commands.codes import BROKEN, FINDINGS, INTERRUPTED, WRONG_USE
from headergen.commands.group import NO_COLOUR, SPEC, commands
from headergen.commands.say import complain, progress, refuse_file_for_folder, spec_trouble, stop

if TYPE_CHECKING:
    from headergen.jobs.study import CaseWork
    from headergen.model.study import CaseResult, Study
    from headergen.store.lines import KnownLine
    from headergen.study import PlannedCase


@commands.command()
@click.argument("study", type=SPEC)
@click.option("--out", type=SPEC, default=Path("out"), show_default=True, help="Results go to OUT/<study name>/.")
@click.option(
    "--jobs", type=click.IntRange(1), help="Cases searched at once on this machine; one for each core if none is given."
)
@click.option("--scheduler", metavar="ADDRESS", help="Search on the machines of this Dask scheduler: tcp://host:8786.")
@click.option(
    "--with",
    "others",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    multiple=True,
    metavar="FILE",
    help="Also use the results in this cases.jsonl, of the same study on another machine; may be given several times.",
)
@NO_COLOUR
def study(
    study: Path, out: Path, jobs: int | None, others: tuple[Path, ...], scheduler: str | None, plain: bool
) -> None:
    """Route every case of STUDY, a small file that names a spec and what varies in it, and compare what is found.

    Values of any key may vary: places of collectors, lengths, radii, tube sizes, orders of bores, the chassis. The
    folder OUT/STUDY gets each case as a spec, each routed case as NAME_routed.yaml (build it), study.csv with the
    figures of all, and study.png, where each figure stands against each other. Cases that no other case beats are
    marked.

    Results are written to cases.jsonl as they end. The same command goes on where it was stopped, and searches only
    what has changed. Every answer, whoever found it, is checked exactly on this machine before it counts.
    """
    folder = out / study.stem
    refuse_file_for_folder(folder)
    inputs, cases = _planned(study, folder)
    own = folder / "cases.jsonl"
    missing: list[PlannedCase] = []
    results: list[CaseResult] = []
    known = _known(own, others, {each.key for each in cases})
    for each in cases:
        result = _known_of(each, own, known)
        missing.append(each) if result is None else results.append(result)
    failed: list[str] = []
    searched = _searched(inputs, missing, own, (jobs or os.cpu_count() or 1, scheduler), failed)
    stopped = _with_progress(searched, results, len(cases))
    _say(folder, inputs, _in_order(cases, results), cases[0].units, plain)
    if stopped:
        waiting = len(cases) - len(results)
        raise stop(INTERRUPTED, f"stopped; {waiting} of {len(cases)} cases wait, and the same command goes on")
    if failed:
        raise stop(BROKEN, f"{len(failed)} of {len(cases)} cases have no result; the same command tries them again")
    if not any(result.figures for result in results):
        raise click.exceptions.Exit(FINDINGS)


def _known(own: Path, others: Sequence[Path], keys: set[str]) -> tuple[dict[str, KnownLine], dict[str, KnownLine]]:
    """The results in the study's own file, and those of other machines; what cannot be used of them is told."""
    from headergen.store.lines import known_lines

    mine, troubles = known_lines([own] if own.exists() else [])
    theirs: dict[str, KnownLine] = {}
    for file in others:
        lines, more = known_lines([file])
        troubles += more
        strange = len(lines.keys() - keys)
        if strange:
            what = f"{file}: {strange} of {len(lines)} results are not of this study as it is now"
            troubles += (f"{what}: another spec, effort or version of headergen made them",)
        theirs |= lines
    for trouble in troubles:
        complain(trouble)
    return mine, theirs


def _known_of(
    case: PlannedCase, own: Path, known: tuple[dict[str, KnownLine], dict[str, KnownLine]]
) -> CaseResult | None:
    """The result of a case that needs no search; one of another machine is then kept in the study's own file."""
    from headergen.store.lines import add_line
    from headergen.study import known_result

    mine, theirs = (lines.get(case.key) for lines in known)
    result = known_result(case, mine)
    if result is None and theirs is not None and (result := known_result(case, theirs)) is not None:
        add_line(own, theirs)
    return result


def _planned(study: Path, folder: Path) -> tuple[Study, tuple[PlannedCase, ...]]:
    from headergen.study import HandWrittenError, planned

    folder.mkdir(parents=True, exist_ok=True)
    with spec_trouble():
        try:
            return planned(study, folder)
        except HandWrittenError as wrong:
            raise stop(WRONG_USE, str(wrong)) from wrong


def _with_progress(searched: Iterator[CaseResult], results: list[CaseResult], count: int) -> bool:
    """Adds the results as they end; whether Ctrl-C came before the last."""
    with progress() as report:
        try:
            report("cases", len(results), count)
            for result in searched:
                results.append(result)
                report("cases", len(results), count)
        except KeyboardInterrupt:
            return True
    return False


def _searched(
    inputs: Study, missing: list[PlannedCase], lines: Path, how: tuple[int, str | None], failed: list[str]
) -> Iterator[CaseResult]:
    """The results of cases as they end, each written to the file of lines first.

    `how`: the number of processes here, and the scheduler if there is one. What failed is told, and left for next time.
    """
    from headergen.jobs.outcome import WorkError
    from headergen.jobs.process import Failure
    from headergen.jobs.study import answers_here, answers_there
    from headergen.store.lines import add_line
    from headergen.study import accepted, line_of

    alike: dict[str, list[PlannedCase]] = {}
    for planned in missing:
        alike.setdefault(planned.key, []).append(planned)
    works = _works(inputs, [same[0] for same in alike.values()])
    jobs, scheduler = how
    try:
        with closing(answers_there(works, scheduler) if scheduler else answers_here(works, jobs)) as answers:
            for key, answer in answers:
                for planned in alike[key]:
                    if isinstance(answer, Failure):
                        failed.append(planned.case.name)
                        complain(f"{planned.case.name}: {answer.why}")
                        continue
                    line = line_of(inputs, planned, answer)
                    add_line(lines, line)
                    yield accepted(planned, line)
    except WorkError as wrong:
        raise stop(WRONG_USE, str(wrong)) from wrong


def _works(inputs: Study, cases: list[PlannedCase]) -> Iterator[CaseWork]:
    """Cases for the search, each read when its turn comes: their meshes may be large."""
    from headergen.study import work_of

    for planned in cases:
        with spec_trouble():
            yield work_of(inputs, planned)


def _in_order(cases: tuple[PlannedCase, ...], results: list[CaseResult]) -> list[CaseResult]:
    by_name = {result.case.name: result for result in results}
    return [by_name[each.case.name] for each in cases if each.case.name in by_name]


def _say(folder: Path, inputs: Study, results: list[CaseResult], units: str, plain: bool) -> None:
    """Files and table of what is known so far."""
    from rich.console import Console

    from headergen.outputs.study import PICTURE_FILE, write_study
    from headergen.outputs.study.picture import draw_study
    from headergen.outputs.study.terminal import study_summary
    from headergen.study import with_best

    if not results:
        return
    results = list(with_best(results, inputs.better))
    write_study(folder, results, units)
    drawn = draw_study(folder / PICTURE_FILE, results, [name for name, _ in inputs.better], units)
    Console(no_color=plain or None, highlight=False).print(study_summary(results, units))
    solved = sum(result.figures is not None for result in results)
    click.echo(f"{solved} of {len(results)} cases routed; specs and tables are in {folder.as_posix()}.")
    if not drawn:
        (folder / PICTURE_FILE).unlink(missing_ok=True)
        click.echo("No picture: fewer than two figures differ between the cases found.")
