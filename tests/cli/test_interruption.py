"""A build stopped at any moment leaves the old result or the new one, whole; the next run mends the rest."""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from tests.cli.calls import HEARING, MAIN, PLAIN
from tests.lots import SERIES
from tests.spec.small_spec import SMALL

ROOT = Path(__file__).resolve().parents[2]
OWN = "notes.txt"  # somebody's own in the result folder
HANGS = 600  # s; nothing is expected to last so long, whatever else the machine does


def start(folder: Path, before: str = HEARING + PLAIN) -> subprocess.Popen[str]:
    """A build of job.yaml, after some code; without pictures, unless that says else."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", before + MAIN, "build", "job.yaml"]
    return subprocess.Popen(
        command, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    """The smallest job, built, and how long a build without pictures takes here."""
    folder = tmp_path_factory.mktemp("job")
    (folder / "job.yaml").write_text(SMALL, encoding="utf-8")
    begun = time.perf_counter()
    assert start(folder).wait() == 0
    return folder, time.perf_counter() - begun


def is_whole(result: Path) -> bool:
    manifest = json.loads((result / "manifest.json").read_text(encoding="utf-8"))
    found = {p.relative_to(result).as_posix() for p in result.rglob("*") if p.is_file()} - {"manifest.json", OWN}
    return found == set(manifest["files"]) and all(
        hashlib.sha256((result / name).read_bytes()).hexdigest() == digest for name, digest in manifest["files"].items()
    )


def set_revision(folder: Path, revision: int) -> str:
    text = (folder / "job.yaml").read_text(encoding="utf-8")
    job = f"job: {{title: job, revision: r{revision}, date: 2026-01-01}}"
    lines = [job if line.startswith("job:") else line for line in text.split("\n")]
    (folder / "job.yaml").write_text("\n".join(lines), encoding="utf-8")
    return hashlib.sha256((folder / "job.yaml").read_bytes()).hexdigest()


def kill_at(folder: Path, moment: float, before: str) -> None:
    process = start(folder, before)
    try:
        process.wait(timeout=moment)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


FULL = SERIES  # with pictures


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "count", "before"),
    [
        pytest.param(21, 1, HEARING + PLAIN, id="one"),
        *(pytest.param(32 + lot, 3, HEARING, id=f"lot {lot} of twelve", marks=FULL) for lot in range(4)),
    ],
)
def test_killed_at_random_moments(job: tuple[Path, float], seed: int, count: int, before: str) -> None:
    folder, lasts = job
    chance = random.Random(seed)
    states = {hashlib.sha256((folder / "job.yaml").read_bytes()).hexdigest()}
    (folder / "out" / "job" / OWN).write_text("mine", encoding="utf-8")
    for attempt in range(count):
        states.add(set_revision(folder, attempt))
        kill_at(folder, chance.uniform(0.0, 1.1 * lasts), before)
        assert is_whole(folder / "out" / "job")
        manifest = json.loads((folder / "out" / "job" / "manifest.json").read_text(encoding="utf-8"))
        assert manifest["made_from"]["job.yaml"] in states, "an old state or the new one"
        assert [path.read_text(encoding="utf-8") for path in (folder / "out").rglob(OWN)] == ["mine"]
    assert start(folder).wait() == 0
    assert [path.name for path in (folder / "out").iterdir()] == ["job"], "the next run clears what was left"
    (folder / "out" / "job" / OWN).unlink()
    assert is_whole(folder / "out" / "job")


def test_between_the_two_renames_the_next_run_puts_the_old_result_back(tmp_path: Path) -> None:
    """The one moment at which the place is empty: the old folder has stepped aside, the new one not yet in."""
    from headergen.outputs.folder import repair

    target = tmp_path / "job"
    target.mkdir()
    (target / "report.md").write_text("old", encoding="utf-8")
    files = {"report.md": hashlib.sha256(b"old").hexdigest()}
    (target / "manifest.json").write_text(json.dumps({"files": files}), encoding="utf-8")
    target.rename(tmp_path / ".job.old")
    repair(target)
    assert is_whole(target) and [path.name for path in tmp_path.iterdir()] == ["job"]


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="sends the signal of Ctrl-C")
@pytest.mark.parametrize("ignored_by_the_starter", [False, True])
def test_interrupt_is_answered_while_a_child_never_ends(
    ignored_by_the_starter: bool, job: tuple[Path, float], tmp_path: Path
) -> None:
    """A kernel call cannot be stopped; the parent answers without waiting for one, and leaves no process behind."""
    folder, _ = job
    set_in = "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN)\n" if ignored_by_the_starter else ""
    instead = (
        "from headergen.jobs import parts; from tests.cli import failing\nparts._make_parts = failing.never_ends\n"
    )
    process = start(folder, set_in + HEARING + PLAIN + instead)
    [staged] = wait_for(process, folder / "out", ".job.new-*/child")
    child = psutil.Process(int(staged.read_text()))
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=HANGS)
    assert process.returncode == 130
    assert "interrupted" in said and "Traceback" not in said
    assert not child.is_running()
    assert is_whole(folder / "out" / "job")
    assert [path.name for path in (folder / "out").iterdir()] == ["job"]


def wait_for(process: subprocess.Popen[str], folder: Path, pattern: str) -> list[Path]:
    while process.poll() is None and not list(folder.glob(pattern)):
        time.sleep(0.002)
    return list(folder.glob(pattern))


@pytest.mark.skipif(os.name != "posix", reason="sends the signal of Ctrl-C")
@pytest.mark.slow
def test_a_build_whose_starter_ignores_ctrl_c_ignores_it_too(job: tuple[Path, float]) -> None:
    """What nohup started goes on."""
    folder, _ = job
    process = start(folder, "import signal; signal.signal(signal.SIGINT, signal.SIG_IGN)\n" + PLAIN)
    wait_for(process, folder / "out", ".job.new-*")
    for _ in range(20):
        process.send_signal(signal.SIGINT)
        time.sleep(0.02)
    _, said = process.communicate(timeout=HANGS)
    assert (process.returncode, said) == (0, "")


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="sends the signal of Ctrl-C")
@pytest.mark.parametrize(
    ("seed", "count", "before"),
    [
        pytest.param(7, 1, HEARING + PLAIN, id="one"),
        *(pytest.param(8 + lot, 3, HEARING, id=f"lot {lot} of fifteen", marks=FULL) for lot in range(5)),
    ],
)
def test_interrupted_while_children_are_started(job: tuple[Path, float], seed: int, count: int, before: str) -> None:
    """Half a second of moments round the start of the children, any of which could cut one off from its work."""
    folder, _ = job
    chance = random.Random(seed)
    for _ in range(count):
        process = start(folder, before)
        wait_for(process, folder / "out", ".job.new-*")
        time.sleep(chance.uniform(0.0, 0.5))
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=HANGS)
        assert (process.returncode, said.strip()) == (130, "interrupted; nothing already made was changed")


SWALLOWING = """
import os, signal, time
from headergen.jobs import pages
real = pages.shown_meshes
def catches_everything(*arguments):
    try:
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(5.0)
    except BaseException:
        pass
    return real(*arguments)
pages.shown_meshes = catches_everything
"""


@pytest.mark.skipif(os.name != "posix", reason="sends the signal of Ctrl-C")
@pytest.mark.slow
def test_an_interrupt_that_a_library_catches_is_not_lost(job: tuple[Path, float]) -> None:
    """Some catch every exception while they load; the build must not go on to swap its result in."""
    folder, _ = job
    set_revision(folder, 99)
    before = (folder / "out" / "job" / "manifest.json").read_bytes()
    process = start(folder, HEARING + PLAIN + SWALLOWING)
    _, said = process.communicate(timeout=HANGS)
    assert (process.returncode, said.strip()) == (130, "interrupted; nothing already made was changed")
    assert (folder / "out" / "job" / "manifest.json").read_bytes() == before


def run(code: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", HEARING + code]
    return subprocess.run(command, env=environment, capture_output=True, text=True, timeout=HANGS)


@pytest.mark.skipif(os.name != "posix", reason="sends the signal of Ctrl-C")
def test_an_interrupt_that_falls_into_a_callback_is_heard_after_it() -> None:
    """The interpreter prints and drops what a finaliser raises; a wait that follows must still end, and say so."""
    done = run(
        "import sys, time\n"
        "from headergen.commands import line, main\n"
        "class Finalised:\n"
        "    def __del__(self): raise KeyboardInterrupt\n"
        "def work(**_):\n"
        "    Finalised()\n"
        "    time.sleep(30)\n"
        "line.commands.main = work\n"
        "main()\n"
    )
    assert (done.returncode, done.stderr.strip()) == (130, "interrupted; nothing already made was changed")


@pytest.mark.skipif(os.name != "posix", reason="sends the signal of Ctrl-C")
@pytest.mark.parametrize("library", ["click", "numpy"])
def test_an_interrupt_while_libraries_are_loaded_is_said_in_a_sentence(library: str) -> None:
    """The commands themselves load click; numpy comes with the check that was asked for."""
    done = run(
        "import signal, sys\n"
        "from headergen.commands import main\n"
        "class Pressed:\n"
        "    def find_spec(self, name, *_):\n"
        f"        if name == {library!r}: signal.raise_signal(signal.SIGINT)\n"
        "sys.meta_path.insert(0, Pressed())\n"
        f"sys.argv = ['headergen', 'check', {str(ROOT / 'specs' / 'bogbean.yaml')!r}]\n"
        "main()\n"
    )
    assert (done.returncode, done.stderr.strip()) == (130, "interrupted; nothing already made was changed")


@pytest.mark.skipif(os.name != "posix", reason="sends the signal of Ctrl-C")
@pytest.mark.parametrize(("pressed", "ends"), [(True, "KeyboardInterrupt"), (False, "ImportError")])
def test_another_error_that_a_library_makes_of_an_interrupt_is_one(pressed: bool, ends: str) -> None:
    done = run(
        "import signal\n"
        "from headergen.commands.interrupts import interrupts_noted\n"
        "with interrupts_noted():\n"
        "    try:\n"
        f"        {'signal.raise_signal(signal.SIGINT)' if pressed else 'raise KeyboardInterrupt'}\n"
        "    except BaseException:\n"
        "        raise ImportError('half of it is there') from None\n"
    )
    assert done.stderr.splitlines()[-1].split(":")[0] == ends


@pytest.mark.skipif(not Path("/bin/true").exists(), reason="a program that ends without reading")
def test_a_child_that_ends_before_it_has_its_work_is_no_closed_output() -> None:
    """A pipe that breaks toward a child is a failure to report; toward the reader of our output it is none."""
    done = run(
        "import multiprocessing\n"
        "from pathlib import Path\n"
        "from headergen.commands import line, main\n"
        "from headergen.jobs import picture\n"
        "multiprocessing.set_executable('/bin/true')\n"
        "def work(**_): picture.picture_mesh(b'0' * 10_000_000, 'it', Path('it.png'), print)\n"
        "line.commands.main = work\n"
        "main()\n"
    )
    assert done.returncode == 4 and "its process ended early" in done.stderr
