"""The sheets of the bench: as numbers, as a page and on paper."""

from __future__ import annotations

from pathlib import Path

from headergen.jobs.outcome import Missing, NotMade, Report, WorkError
from headergen.jobs.process import Failure, Work
from headergen.jobs.schedule import Answers, Step
from headergen.model import Header, Shop
from headergen.model.sign_off import SignOff
from headergen.show.meshes import ShownMesh

PLAN, BENCH = "pieces", "bench"  # steps: the plan, and its sheets


def bench_step(folder: Path, header: Header, version: str, child: str, said: tuple[str, str, str]) -> Step:
    """Write the plan, the answer of the step PLAN, into `folder`, in the child that made the parts.

    `said` names the steps whose answers are the facts to sign for, the meshes to show, and the picture as JPEG.
    """

    def work(answers: Answers) -> Work | None:
        if isinstance(answers[PLAN], Missing):
            return None
        facts, shown, picture = (answers[name] for name in said)
        own = tuple(each for each in shown if each.group == "header")
        return write_bench, (folder, header, answers[PLAN], (facts, own, picture), version)

    return Step(BENCH, work, child, (PLAN, *said))


def unplanned(answers: Answers) -> NotMade:
    """Why there are no sheets, if there is no plan. Raises WorkError if there is a plan and the sheets failed."""
    plan, made = answers[PLAN], answers[BENCH]
    if isinstance(made, Failure):
        raise WorkError(f"the sheets of the bench: {made.why}")
    return (plan,) if isinstance(plan, Missing) else ()


def write_bench(
    folder: Path,
    header: Header,
    plan: Shop,
    said: tuple[SignOff, tuple[ShownMesh, ...], bytes | None],
    version: str,
    _report: Report,
) -> None:
    """shop.json, its tables, the page and the sheets of a plan."""
    from headergen.outputs.shop import write_shop
    from headergen.outputs.shop.screens import FILE as SCREENS
    from headergen.outputs.shop.screens import write_screens
    from headergen.outputs.shop.sheets import FILE, write_sheets

    write_shop(folder, header, plan, version)
    write_screens(folder / SCREENS, header, plan, said[0], version)
    write_sheets(folder / FILE, header, plan, *said)
