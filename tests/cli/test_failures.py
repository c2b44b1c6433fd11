"""What fails while things are made is named, takes nothing else with it, and leaves the earlier result alone."""

from __future__ import annotations

import errno
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from headergen import build as whole
from headergen.commands.line import commands
from headergen.jobs import mock, outcome, parts, picture, process
from headergen.outputs.folder import sha256_of
from tests.cli import failing
from tests.cli.calls import without_pictures

ROOT = Path(__file__).resolve().parents[2]


def build(folder: Path, *more: str) -> Result:
    return CliRunner().invoke(commands, ["build", str(folder / "job.yaml"), "--out", str(folder / "out"), *more])


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A folder with a starter spec and an earlier result of it, by hand."""
    assert CliRunner().invoke(commands, ["init", str(tmp_path / "job.yaml")]).exit_code == 0
    earlier = tmp_path / "out" / "job"
    earlier.mkdir(parents=True)
    (earlier / "report.md").write_text("earlier", encoding="utf-8")
    files = {"report.md": sha256_of(earlier / "report.md")}
    (earlier / "manifest.json").write_text(json.dumps({"files": files, "made_from": {}}), encoding="utf-8")
    return tmp_path


def is_as_it_was(job: Path) -> bool:
    names = sorted(path.name for path in (job / "out").iterdir())
    return names == ["job"] and (job / "out" / "job" / "report.md").read_text(encoding="utf-8") == "earlier"


@pytest.mark.slow
def test_a_part_and_a_mock_that_fail_take_nothing_else_with_them(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The kernel ends its process at the flange; the mock fails half way. All else is there, and both are named."""
    monkeypatch.setattr(parts, "_make_parts", failing.die_at_the_flange)
    monkeypatch.setattr(mock, "_make_mock", failing.no_mock)
    without_pictures(monkeypatch.setattr)
    done = build(job, "--mock")
    assert done.exit_code == 4, done.output
    made = job / "out" / "job"
    assert (made / "primary_1.step").is_file() and (made / "header.step").is_file()
    assert not (made / "flange.step").exists() and not (made / "mock").exists()
    assert "not made: flange (its process ended early (exit code 9))" in done.stderr
    assert "not made: fit mock (AssertionError: two holes cross)" in done.stderr
    manifest = json.loads((made / "manifest.json").read_text(encoding="utf-8"))
    assert {"flange", "fit mock"} <= {each["what"] for each in manifest["not_made"]}
    report = json.loads((made / "report.json").read_text(encoding="utf-8"))
    said = [
        each["rule"] for each in report["findings"] if each["rule"] != "closes-rarely"
    ]  # of the bench, not of parts
    assert said == ["not-made"], "nothing is clear of what was not made"
    assert "NOT CLEARED" in (made / "report.md").read_text(encoding="utf-8").split("\n## ")[0]


@pytest.mark.slow
def test_a_full_disk_names_the_folder_and_what_is_kept(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    without_pictures(monkeypatch.setattr)
    monkeypatch.setattr(parts, "_make_parts", failing.full_disk)
    done = build(job)
    assert done.exit_code == 4
    assert f"{job / 'out' / 'job'}: the disk is full (No space left on device)" in done.stderr
    assert "the earlier result there is as it was" in done.stderr and "primary_1.step" in done.stderr
    assert is_as_it_was(job)


def test_a_disk_that_is_full_at_the_end_too(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The reports, written by the parent itself; nothing has been made there before."""
    import headergen.outputs.report as report

    def full(folder: Path, *_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", str(folder / "report.json"))

    monkeypatch.setattr(whole, "make_side_by_side", lambda _, of, *__: (of[1].result, ()))
    monkeypatch.setattr(report, "write_reports", full)
    (job / "fresh.yaml").write_text((job / "job.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    done = CliRunner().invoke(commands, ["build", str(job / "fresh.yaml"), "--out", str(job / "out")])
    assert done.exit_code == 4 and "nothing is there" in done.stderr and "report.json" in done.stderr
    assert is_as_it_was(job)


@pytest.mark.parametrize("at", ["a folder", "none/it.png"])
def test_a_picture_that_cannot_be_written_is_no_fault_of_the_renderer(at: str, tmp_path: Path) -> None:
    (tmp_path / "a folder").mkdir()
    scan = ROOT / "shared" / "chassis" / "glasswort_scan.stl"
    done = CliRunner().invoke(commands, ["mesh", str(scan), "--picture", str(tmp_path / at)])
    assert done.exit_code == 2 and "folder" in done.stderr and "render" not in done.stderr
    failure = process._failure(FileNotFoundError(errno.ENOENT, "No such file or directory", "none/it.png"))
    assert isinstance(failure.error, FileNotFoundError) and failure.error.filename == "none/it.png"


def test_a_report_folder_that_is_a_file_is_named(job: Path) -> None:
    done = CliRunner().invoke(commands, ["check", str(job / "job.yaml"), "--report", str(job / "job.yaml" / "here")])
    assert done.exit_code == 2 and "job.yaml: this is a file, and results need a folder" in done.stderr


@pytest.mark.slow
def test_a_missing_library_is_named_with_the_words_of_the_readme(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    without_pictures(monkeypatch.setattr)
    monkeypatch.setattr(parts, "_make_parts", failing.no_library)
    done = build(job)
    assert done.exit_code == 4 and "libGL.so.1" in done.stderr and outcome.FOR_SOLIDS in done.stderr
    assert is_as_it_was(job)
    monkeypatch.setattr(picture, "_make_mesh_picture", failing.no_library)
    with pytest.raises(outcome.WorkError, match=outcome.FOR_PICTURE):
        picture.picture_mesh(None, "it", job / "it.png", print)
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert outcome.FOR_SOLIDS in readme and outcome.FOR_PICTURE.removeprefix("apt-get install ") in readme


def test_a_child_that_ends_without_a_word_is_told_by_its_exit_code() -> None:
    failure = process.run((failing.ends_without_a_word, ()), print)
    assert failure == process.Failure("its process ended early (exit code 5)", ended=True)


def test_a_child_that_never_ends_is_not_waited_for() -> None:
    """Who stops listening has the process ended; nothing waits for its work."""
    import psutil

    before = set(psutil.Process().children())
    heard = process.talk((failing.never_ends, ()))
    assert next(heard) == ("progress", ("begun", 0, 1, "it"))
    [child] = [each for each in set(psutil.Process().children()) - before if "spawn_main" in " ".join(each.cmdline())]
    heard.close()
    assert not child.is_running()


@pytest.mark.slow
def test_a_result_that_a_viewer_holds_open_is_named_and_stays(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target, honest = job / "out" / "job", Path.rename

    def rename(self: Path, to: Path) -> Path:
        if self == target:
            raise PermissionError(13, "The process cannot access the file", str(self))
        return honest(self, to)

    monkeypatch.setattr(whole, "make_side_by_side", lambda _, of, *__: (of[1].result, ()))
    monkeypatch.setattr(Path, "rename", rename)
    done = build(job)
    assert done.exit_code == 4, done.output
    assert f"{target}: this result cannot be replaced" in done.stderr and "close viewers" in done.stderr
    assert is_as_it_was(job)


@pytest.mark.parametrize("place", ["out", "out/job"])
def test_out_that_is_a_file_is_named_before_any_work(place: str, job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import shutil

    monkeypatch.setattr("headergen.pipeline.check", lambda _: pytest.fail("no work is begun"))
    shutil.rmtree(job / place)
    (job / place).write_text("in the way", encoding="utf-8")
    done = build(job)
    assert done.exit_code == 2 and f"{job / place}: this is a file, and results need a folder" in done.stderr
    assert (job / place).read_text(encoding="utf-8") == "in the way"
