"""The sheets of the bench: as numbers, as a page and on paper."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from headergen.jobs.outcome import Missing, NotMade, Report, WorkError
from headergen.jobs.process import Failure, Work
from headergen.jobs.schedule import Answers, Step
from headergen.model import Header, Shop
from headergen.model.sign_off import SignOff
from headergen.show.meshes import ShownMesh

PLAN, NUMBERS, BENCH = "pieces", "numbers of the bench", "bench"  # steps: the plan, its tables and page, its sheets


def bench_steps(
    folder: Path, header: Header, version: str, child: str, said: tuple[str, str, str]
) -> tuple[Step, Step]:
    """Write the plan, the answer of the step PLAN, into `folder`, in the child that made the parts.

    `said` names the steps whose answers are the facts to sign for, the meshes to show, and the picture as JPEG. Only
    the sheets wait for the picture.
    """

    def numbers(answers: Answers) -> Work | None:
        if isinstance(answers[PLAN], Missing):
            return None
        return write_numbers, (folder, header, answers[PLAN], answers[said[0]], version)

    def sheets(answers: Answers) -> Work | None:
        if isinstance(answers[PLAN], Missing):
            return None
        facts, shown, picture = (answers[name] for name in said)
        own = tuple(replace(each) for each in shown if each.group == "header")  # without what was packed for pages
        return write_bench, (folder, header, answers[PLAN], (facts, own, picture))

    return Step(NUMBERS, numbers, child, (PLAN, said[0])), Step(BENCH, sheets, child, (NUMBERS, *said))


def unplanned(answers: Answers) -> NotMade:
    """Why there are no sheets, if there is no plan. Raises WorkError if there is a plan and the sheets failed."""
    plan = answers[PLAN]
    for made in (answers[NUMBERS], answers[BENCH]):
        if isinstance(made, Failure):
            raise WorkError(f"the sheets of the bench: {made.why}")
    return (plan,) if isinstance(plan, Missing) else ()


def write_numbers(folder: Path, header: Header, plan: Shop, facts: SignOff, version: str, _report: Report) -> None:
    """shop.json, its tables and the page of a plan; what the sheets need is loaded."""
    from headergen.outputs.shop import write_shop
    from headergen.outputs.shop.screens import FILE, write_screens
    from headergen.outputs.shop.sheets import ready_for_sheets

    write_shop(folder, header, plan, version)
    write_screens(folder / FILE, header, plan, facts, version)
    ready_for_sheets()


def write_bench(
    folder: Path,
    header: Header,
    plan: Shop,
    said: tuple[SignOff, tuple[ShownMesh, ...], bytes | None],
    _report: Report,
) -> None:
    """The sheets of a plan."""
    from headergen.outputs.shop.sheets import FILE, write_sheets

    write_sheets(folder / FILE, header, plan, *said)
