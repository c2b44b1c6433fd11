"""`study`: what it searches, what it accepts, how it goes on, and that no machine's answer is believed."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from headergen.jobs import study as job
from headergen.jobs.process import Failure
from headergen.model.study import CaseFigures, CaseResult, SpecChange, StudyCase
from headergen.spec.keys import with_values
from headergen.spec.reader import read_spec
from headergen.store.keys import own_source
from headergen.store.lines import KnownLine, add_line, known_lines
from headergen.study import with_best
from tests.cli.calls import ROOT, called, run
from tests.cli.watching import HANGS

sys.path.insert(0, str(Path(__file__).parents[1] / "solve" / "route"))
from test_stages import PAIR

SEDGE = ROOT / "specs" / "sedge.yaml"
STUDY = """\
format: 1
spec: sedge.yaml
rounds: 3
vary:
  hose: {key: chassis.fuel hose.clearance, values: [45, 50]}
"""
GRID = f"{STUDY}  between: {{key: limits.between_tubes, values: [7, 8]}}\n"
FOUR = ["hose_45_between_7", "hose_45_between_8", "hose_50_between_7", "hose_50_between_8"]
TWO = ["hose_45", "hose_50"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A study of the Sedge with its paths taken out, as a job of its own."""
    text = SEDGE.read_text(encoding="utf-8").replace("../shared", (ROOT / "shared").as_posix())
    for number in (1, 2):
        text = with_values(text, [SpecChange(f"primaries.{number}", "find")])
    (tmp_path / "sedge.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "s.yaml").write_text(STUDY, encoding="utf-8")
    return tmp_path


class Searches:
    """Stands in for the search: answers each case with the paths of the Sedge, and notes what was asked."""

    def __init__(self) -> None:
        self.asked: list[int] = []
        self.stop_after = 99
        self.spoilt = False

    def answers(self, works: Iterator[job.CaseWork], _: object) -> job.Answers:
        runs = {run.name: run for run in read_spec(SEDGE)[1].runs}
        count = 0
        for work in works:
            if count == self.stop_after:
                raise KeyboardInterrupt
            count += 1
            found = work.draft.with_primaries(runs[run.name] for run in work.draft.primaries)
            if self.spoilt:
                first, *rest = found.primaries
                found = found.with_primaries([_turned(first), *rest])
            yield work.key, job.CaseAnswer(found, (), "3", 0, own_source())
        self.asked.append(count)


def _turned(run: Any) -> Any:
    from dataclasses import replace

    straight, bend, *rest = run.steps
    return replace(run, steps=(straight, replace(bend, rotation=bend.rotation + 0.3), *rest))


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> Searches:
    made = Searches()
    monkeypatch.setattr(job, "answers_here", made.answers)
    return made


def rows(folder: Path) -> list[dict[str, str]]:
    with (folder / "out" / "s" / "study.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.slow
def test_each_case_is_a_spec_that_builds_and_a_row(folder: Path, searches: Searches) -> None:
    (folder / "s.yaml").write_text(GRID, encoding="utf-8")
    done = called("study", "s.yaml", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert [row["case"] for row in rows(folder)] == FOUR
    assert {row["hose"] for row in rows(folder)} == {"45", "50"}
    for name in FOUR:
        assert read_spec(folder / "out" / "s" / f"{name}.yaml")[1].limits.between_tubes == int(name[-1])
    assert called("check", f"out/s/{FOUR[0]}_routed.yaml", cwd=folder).returncode == 0
    # by hand: the two primaries of specs/sedge.yaml have 2 and 3 bends
    assert [row["number of bends"] for row in rows(folder)] == ["5"] * 4
    assert all(abs(float(row["bends in all (deg)"]) - (120.116 + 43 + 93 + 80 + 11)) < 0.06 for row in rows(folder))
    assert "4 of 4 cases routed" in done.stdout


@pytest.mark.slow
def test_it_goes_on_where_it_was_stopped(folder: Path, searches: Searches) -> None:
    searches.stop_after = 1
    stopped = called("study", "s.yaml", cwd=folder)
    assert stopped.returncode == 130 and "1 of 2 cases wait" in stopped.stderr
    assert [row["case"] for row in rows(folder)] == TWO[:1]
    searches.stop_after = 99
    assert called("study", "s.yaml", cwd=folder).returncode == 0
    assert called("study", "s.yaml", cwd=folder).returncode == 0
    assert searches.asked == [1, 0]
    lines = (folder / "out" / "s" / "cases.jsonl").read_text(encoding="utf-8").splitlines()
    assert sorted(json.loads(line)["case"] for line in lines) == TWO


@pytest.mark.slow
def test_only_what_changes_is_searched_again(folder: Path, searches: Searches) -> None:
    called("study", "s.yaml", cwd=folder)
    (folder / "s.yaml").write_text(STUDY.replace("[45, 50]", "[45, 48]"), encoding="utf-8")
    assert called("study", "s.yaml", cwd=folder).returncode == 0
    assert searches.asked == [2, 1]
    (folder / "s.yaml").write_text(STUDY.replace("rounds: 3", "rounds: 4"), encoding="utf-8")
    assert called("study", "s.yaml", cwd=folder).returncode == 0
    assert searches.asked == [2, 1, 2]


@pytest.mark.slow
def test_an_answer_that_fails_the_checks_here_does_not_count(folder: Path, searches: Searches) -> None:
    searches.spoilt = True
    done = called("study", "s.yaml", cwd=folder)
    assert done.returncode == 1
    assert done.stdout.count("the answer given for it fails the checks here") == 2
    assert not list((folder / "out" / "s").glob("*_routed.yaml"))
    searches.spoilt = False
    assert called("study", "s.yaml", cwd=folder).returncode == 0
    assert called("study", "s.yaml", cwd=folder).returncode == 0
    assert searches.asked == [2, 2, 0], "it is searched again, once"


@pytest.mark.slow
def test_results_of_another_machine_are_joined_and_checked(folder: Path, searches: Searches) -> None:
    (folder / "s.yaml").write_text(GRID, encoding="utf-8")
    called("study", "s.yaml", "--out", "there", cwd=folder)
    lines, _ = known_lines([folder / "there" / "s" / "cases.jsonl"])
    texts = [line.text for line in lines.values()]
    for k, line in enumerate(lines.values()):  # the last two have each other's answers
        add_line(folder / "mixed.jsonl", KnownLine(line.key, line.case, texts[{2: 3, 3: 2}.get(k, k)], ()))
    done = called("study", "s.yaml", "--with", "mixed.jsonl", cwd=folder)
    assert done.returncode == 0 and searches.asked == [4, 2]
    assert called("study", "s.yaml", cwd=folder).returncode == 0
    assert searches.asked == [4, 2, 0], "what was joined is kept"
    (folder / "s.yaml").write_text(GRID.replace("rounds: 3", "rounds: 4"), encoding="utf-8")
    done = called("study", "s.yaml", "--with", "mixed.jsonl", cwd=folder)
    assert searches.asked == [4, 2, 0, 4]
    assert "mixed.jsonl: 4 of 4 results are not of this study as it is now" in done.stderr


@pytest.mark.slow
def test_a_line_cut_off_by_a_kill_is_told_and_searched_again(folder: Path, searches: Searches) -> None:
    called("study", "s.yaml", cwd=folder)
    file = folder / "out" / "s" / "cases.jsonl"
    file.write_bytes(file.read_bytes()[:-40])
    done = called("study", "s.yaml", cwd=folder)
    assert done.returncode == 0 and "cases.jsonl:2: not a whole line" in done.stderr
    assert searches.asked == [2, 1]
    assert len(known_lines([file])[0]) == 2, "the new line is whole, behind the torn one"


@pytest.mark.slow
def test_a_case_changed_by_hand_is_left_alone(folder: Path, searches: Searches) -> None:
    called("study", "s.yaml", cwd=folder)
    routed = folder / "out" / "s" / f"{TWO[0]}_routed.yaml"
    routed.write_text(routed.read_text(encoding="utf-8") + "# mine\n", encoding="utf-8")
    done = called("study", "s.yaml", cwd=folder)
    assert done.returncode == 2 and f"{TWO[0]}_routed.yaml: changed by hand" in done.stderr
    assert routed.read_text(encoding="utf-8").endswith("# mine\n")


def test_a_search_that_fails_leaves_the_others(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(works: Iterator[job.CaseWork], _: object) -> job.Answers:
        yield from ((work.key, Failure("no memory")) for work in works)

    monkeypatch.setattr(job, "answers_here", fails)
    done = called("study", "s.yaml", cwd=folder)
    assert done.returncode == 4 and done.stderr.count("no memory") == 2
    assert "the same command tries them again" in done.stderr


@pytest.mark.parametrize(
    ("study", "code", "said"),
    [
        (STUDY.replace("spec: sedge.yaml", "spec: hedge.yaml"), 3, "s.yaml:2:7 spec: there is no file"),
        (STUDY.replace("chassis.fuel hose.", "chassis.fuel pipe."), 3, "s.yaml:5:"),
        (STUDY.replace("[45, 50]", "[-5, 45]"), 3, "hose_-5 makes a spec that cannot be used"),
        ("format: 1\nspec: s.yaml\ncases: {a: {format: 1}}\n", 3, "s.yaml:"),
    ],
    ids=["no spec", "no item", "a wrong value", "itself"],
)
def test_what_cannot_be_is_told_in_words(folder: Path, searches: Searches, study: str, code: int, said: str) -> None:
    (folder / "s.yaml").write_text(study, encoding="utf-8")
    done = called("study", "s.yaml", cwd=folder)
    assert done.returncode == code, done.stdout + done.stderr
    assert said in done.stderr and "Traceback" not in done.stderr and "at fault" not in done.stderr


def test_what_no_other_case_beats_is_marked() -> None:
    def case(name: str, degrees: float, joints: int | None, gap: float) -> CaseResult:
        return CaseResult(StudyCase(name, (), ()), CaseFigures(600, degrees, 4, joints, gap, (0, 0, 0)))

    given = [
        case("fewest degrees", 200, 9, 6),
        case("fewest joints", 220, 7, 6),
        case("largest gap", 240, 9, 9),
        case("worse than the first", 200, 9, 5),
        case("the first again", 200, 9, 6.04),  # prints the same
        case("joints unknown", 230, None, 6),
        CaseResult(StudyCase("not found", (), ()), why=("no",)),
    ]
    marked = with_best(given, (("degrees", True), ("joints", True), ("gap", False)))
    assert [each.case.name for each in marked if each.best] == [
        "fewest degrees",
        "fewest joints",
        "largest gap",
        "the first again",
    ]


def test_no_scheduler_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(job, "CONNECTING", 1.0)
    done = called("study", "s.yaml", "--scheduler", "tcp://127.0.0.1:9", cwd=folder)
    assert done.returncode == 2 and "no scheduler answers at tcp://127.0.0.1:9" in done.stderr


FINDS = "format: 1\nspec: {spec}\nrounds: 3\nvary:\n  length: {{key: length.target, values: [600, 610, 620, 630]}}\n"


@pytest.mark.slow
def test_processes_repeat_the_same_bytes(tmp_path: Path) -> None:
    (tmp_path / "s.yaml").write_text(FINDS.format(spec=(ROOT / "specs" / "guide_find.yaml").as_posix()))
    for jobs in ("1", "2"):
        assert run("study", "s.yaml", "--jobs", jobs, "--out", jobs, cwd=tmp_path).returncode == 0
    one, two = (
        {file.name: file.read_bytes() for file in (tmp_path / jobs / "s").iterdir() if file.suffix != ".jsonl"}
        for jobs in "12"
    )
    assert len(one) > 8 and one == two


@pytest.mark.slow
def test_a_lost_machine_loses_no_case_and_doubles_none(tmp_path: Path) -> None:
    """A scheduler and two workers on this machine; one of them is killed while it works."""
    (tmp_path / "s.yaml").write_text(FINDS.format(spec=(ROOT / "specs" / "guide_find.yaml").as_posix()))
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    dask = [sys.executable, "-m", "dask"]
    file = tmp_path / "at.json"
    scheduler = subprocess.Popen(
        [*dask, "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", file],
        env=environment,
        stderr=subprocess.DEVNULL,
    )
    workers: list[subprocess.Popen[bytes]] = []
    try:
        _until(lambda: file.exists() and file.read_text().rstrip().endswith("}"))  # it is written bit by bit
        address = json.loads(file.read_text())["address"]
        worker = [*dask, "worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
        workers = [subprocess.Popen(worker, env=environment, cwd=tmp_path, stderr=subprocess.DEVNULL) for _ in "12"]
        _until(lambda: _count(address) == 2)
        command = [sys.executable, "-c", "from headergen.commands import main; main()"]
        studied = subprocess.Popen(
            [*command, "study", "s.yaml", "--scheduler", address], env=environment, cwd=tmp_path, stdout=subprocess.PIPE
        )
        _until(lambda: (tmp_path / "out" / "s" / "cases.jsonl").exists())
        workers[0].send_signal(signal.SIGKILL)
        said = studied.communicate(timeout=HANGS)[0].decode()
    finally:
        for process in (*workers, scheduler):
            process.kill()
            process.wait()
    assert studied.returncode == 0 and "4 of 4 cases routed" in said
    lines = (tmp_path / "out" / "s" / "cases.jsonl").read_text(encoding="utf-8").splitlines()
    assert sorted(json.loads(line)["case"] for line in lines) == [f"length_{each}" for each in (600, 610, 620, 630)]


def _count(address: str) -> int:
    from distributed import Client

    with Client(address, timeout=HANGS, set_as_default=False) as client:
        return len(client.scheduler_info(n_workers=-1)["workers"])


def _until(there: Any) -> None:
    for _ in range(10 * HANGS):
        if there():
            return
        time.sleep(0.1)
    raise AssertionError("it did not come, however long this waited")


SECONDARY = """\
format: 1
spec: pair.yaml
rounds: 10
vary:
  between: {key: limits.between_tubes, values: [6, 7]}
"""


@pytest.mark.slow
def test_a_secondary_is_found_in_every_case(tmp_path: Path) -> None:
    """Primaries first, then the tube after their collector; each routed file says the rounds of both searches."""
    (tmp_path / "pair.yaml").write_text(PAIR, encoding="utf-8")
    (tmp_path / "s.yaml").write_text(SECONDARY, encoding="utf-8")
    done = called("study", "s.yaml", "--jobs", "1", cwd=tmp_path)
    assert done.returncode == 0 and "2 of 2 cases routed" in done.stdout, done.stdout + done.stderr
    for between in (6, 7):
        routed = tmp_path / "out" / "s" / f"between_{between}_routed.yaml"
        draft = read_spec(routed)[1]
        assert draft.limits.between_tubes == between and not any(run.to_find for run in draft.runs)
        assert any(not run.is_primary and len(run.steps) > 2 for run in draft.runs)
        assert "--rounds 10+10" in routed.read_text(encoding="utf-8").split("\n", 1)[0]
        assert called("check", routed).returncode == 0


@pytest.mark.parametrize(
    ("given_up", "comes_home"), [(0, True), (1, True), (job.SENT_AGAIN, True), (job.SENT_AGAIN + 1, False)]
)
def test_a_case_that_the_scheduler_gives_up_is_sent_again(
    given_up: int, comes_home: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer, sent = job.CaseAnswer(None, ("none",), "1", 0, own_source()), list[str]()

    def submit(_: Any, work: job.CaseWork, key: str, pure: bool) -> Any:
        sent.append(key)
        gone = len(sent) <= given_up
        return SimpleNamespace(
            key=key,
            cancelled=lambda: gone,
            status="cancelled" if gone else "finished",
            result=lambda: answer,
            exception=lambda: None,
        )

    workers = SimpleNamespace(
        loop=None, submit=submit, scheduler_info=lambda n_workers: {"workers": {"one": {"nthreads": 1}}}
    )
    monkeypatch.setattr("distributed.as_completed", lambda loop: Ended())
    case: Any = SimpleNamespace(key="a")
    [(key, found)] = job._from_workers(workers, iter([case]))
    assert key == "a" and (found is answer) is comes_home
    assert len(sent) == len(set(sent)) == min(given_up, job.SENT_AGAIN) + 1


class Ended(list[Any]):
    """Futures in the order in which they were sent."""

    add = list.append

    def __next__(self) -> Any:
        return self.pop(0)
