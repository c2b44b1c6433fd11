"""The result folder: what is somebody's own in it is never deleted, and an old result stays whole until a new one is
there."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from headergen.outputs import folder
from headergen.outputs.earlier import keep
from headergen.outputs.folder import (
    FolderError,
    Manifest,
    discard,
    own_files,
    read_manifest,
    repair,
    stage,
    swap_in,
    write_manifest,
)

NOW = {"job.yaml": "1"}
MOCK = {"mock/mock.md": "m\n", "mock/P1.stl": "p"}


def put(place: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_text(text, encoding="utf-8")


def make(target: Path, files: dict[str, str], inputs: dict[str, str] = NOW) -> tuple[tuple[str, str], ...]:
    """A result of these files, as a build makes it, keeping an earlier mock."""
    staged = stage(target)
    put(staged, files)
    kept = keep((target, read_manifest(target), own_files(target)), staged, "mock", inputs, "1")
    write_manifest(staged, Manifest(inputs, (), "1", "clear", kept and (kept.folder, kept.made_from)))
    return swap_in(staged, target)


def texts(place: Path) -> dict[str, str]:
    names = (path for path in place.rglob("*") if path.is_file() and path.name != "manifest.json")
    return {path.relative_to(place).as_posix(): path.read_text(encoding="utf-8") for path in names}


@pytest.fixture
def target(tmp_path: Path) -> Path:
    """A result of four files."""
    make(tmp_path / "job", {"report.md": "old", "gone.step": "g", **MOCK})
    return tmp_path / "job"


def test_what_nobody_changed_is_replaced(target: Path) -> None:
    assert make(target, {"report.md": "new", "mock/mock.md": "n"}) == ()
    assert texts(target) == {"report.md": "new", "mock/mock.md": "n"}
    assert [path.name for path in target.parent.iterdir()] == ["job"]


def test_files_that_no_manifest_lists_go_over_into_every_new_result(target: Path) -> None:
    own = {"notes.txt": "mine", "photos/a/1.jpg": "x", "mock/fit.txt": "tight", ".hidden": "h"}
    put(target, own)
    (target / "empty" / "deeper").mkdir(parents=True)
    for _ in range(3):
        assert make(target, {"report.md": "new", "mock/mock.md": "n"}) == ()
        assert texts(target) == {"report.md": "new", "mock/mock.md": "n", **own}
        assert (target / "empty" / "deeper").is_dir()
        assert not set(own) & set(read_manifest(target)["files"])
    assert [path.name for path in target.parent.iterdir()] == ["job"]


def test_a_file_that_was_changed_by_hand_is_kept_beside_the_new_one(target: Path) -> None:
    put(target, {"report.md": "my words"})
    assert make(target, {"report.md": "new"}) == (("report.md", (target / "report_own.md").as_posix()),)
    put(target, {"report.md": "more words"})
    assert make(target, {"report.md": "newer"}) == (("report.md", (target / "report_own_2.md").as_posix()),)
    assert {k: v for k, v in texts(target).items() if k.startswith("report")} == {
        "report.md": "newer",
        "report_own.md": "my words",
        "report_own_2.md": "more words",
    }


def test_own_files_in_a_mock_stay_with_it_when_it_is_kept(target: Path) -> None:
    put(target, {"mock/fit.txt": "tight", "mock/mock.md": "my words"})
    make(target, {"report.md": "new"}, {"job.yaml": "2"})
    assert texts(target) == {
        "report.md": "new",
        "mock_earlier/P1.stl": "p",
        "mock_earlier/fit.txt": "tight",
        "mock_earlier/mock.md": "my words",
    }
    assert set(read_manifest(target)["files"]) == {"report.md", "mock_earlier/P1.stl"}
    make(target, {"report.md": "new", "mock/mock.md": "n"}, {"job.yaml": "3"})
    assert texts(target) == {
        "report.md": "new",
        "mock/mock.md": "n",
        "mock_earlier/fit.txt": "tight",
        "mock_earlier/mock.md": "my words",
    }


def test_a_folder_without_a_manifest_is_all_somebodys_own(tmp_path: Path) -> None:
    put(tmp_path / "job", {"report.md": "mine", "manifest.json": "{ broken", "mock/mock.md": "unknown"})
    make(tmp_path / "job", {"report.md": "new"})
    assert texts(tmp_path / "job") == {
        "report.md": "new",
        "report_own.md": "mine",
        "manifest_own.json": "{ broken",
        "mock_earlier/mock.md": "unknown",
    }


def test_a_link_goes_over_as_a_link(target: Path, tmp_path: Path) -> None:
    put(tmp_path, {"elsewhere/big.stl": "x"})
    try:
        (target / "scans").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    except OSError:
        pytest.skip("no links here")
    make(target, {"report.md": "new"})
    assert (target / "scans").is_symlink() and texts(tmp_path / "elsewhere") == {"big.stl": "x"}


def test_a_manifest_cannot_reach_out_of_its_folder(target: Path, tmp_path: Path) -> None:
    put(tmp_path, {"precious.txt": "p"})
    manifest = read_manifest(target)
    manifest["files"] |= {"../precious.txt": folder.sha256_of(tmp_path / "precious.txt")}
    manifest["files"] |= {"mock/../../precious.txt": folder.sha256_of(tmp_path / "precious.txt")}
    put(target, {"manifest.json": json.dumps(manifest)})
    make(target, {"report.md": "new"})
    assert (tmp_path / "precious.txt").read_text(encoding="utf-8") == "p"
    assert not (tmp_path / "job" / "precious.txt").exists()


@pytest.mark.parametrize("deleted", [0, 1, 3])
def test_a_run_killed_while_it_cleared_up_is_taken_up_again(target: Path, deleted: int) -> None:
    """The new result is in; of the old one some files are gone already, an own one not yet moved."""
    put(target, {"notes.txt": "mine"})
    old = target.rename(target.parent / ".job.old")
    put(target, {"report.md": "new"})
    write_manifest(target, Manifest(NOW, (), "1", "clear"))
    for name in list(read_manifest(old)["files"])[:deleted]:
        (old / name).unlink()
    repair(target)
    assert texts(target) == {"report.md": "new", "notes.txt": "mine"}
    assert [path.name for path in target.parent.iterdir()] == ["job"]


def refused(source: Path) -> object:
    """A rename that the system refuses for one folder, as Windows does while a viewer has a file in it open."""
    honest = Path.rename

    def rename(self: Path, to: Path) -> Path:
        if self == source:
            raise PermissionError(13, "The process cannot access the file", str(self))
        return honest(self, to)

    return rename


def test_a_result_that_is_held_open_stays_whole_and_is_named(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = texts(target)
    staged = stage(target)
    put(staged, {"report.md": "new"})
    monkeypatch.setattr(folder, "_PAUSES", (0.0,))
    monkeypatch.setattr(Path, "rename", refused(target))
    with pytest.raises(FolderError, match=r"job: this result cannot be replaced .* close viewers"):
        swap_in(staged, target)
    discard(staged)
    assert texts(target) == before and [path.name for path in target.parent.iterdir()] == ["job"]


def test_a_new_result_that_cannot_step_in_lets_the_old_one_back(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = texts(target)
    staged = stage(target)
    monkeypatch.setattr(folder, "_PAUSES", (0.0,))
    monkeypatch.setattr(Path, "rename", refused(staged))
    with pytest.raises(PermissionError):
        swap_in(staged, target)
    assert texts(target) == before


def test_an_own_file_that_cannot_be_moved_stays_and_is_named(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The old folder stays with it, through further builds, until it can be."""
    put(target, {"notes.txt": "mine"})
    stuck = target.parent / ".job.old" / "notes.txt"
    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", refused(stuck))
        assert make(target, {"report.md": "new"}) == (("notes.txt", stuck.as_posix()),)
        make(target, {"report.md": "newer"})
        assert stuck.read_text(encoding="utf-8") == "mine" and texts(target) == {"report.md": "newer", **MOCK}
    make(target, {"report.md": "newest"})
    assert texts(target) == {"report.md": "newest", "notes.txt": "mine", **MOCK}
    assert [path.name for path in target.parent.iterdir()] == ["job"]


@pytest.mark.parametrize("at", ["job", "out", "out/job"])
def test_a_file_where_the_folder_should_be_is_named(at: str, tmp_path: Path) -> None:
    put(tmp_path, {at: "a file"})
    target = tmp_path / "job" if at == "job" else tmp_path / "out" / "job"
    with pytest.raises(FolderError, match=rf"{at}: this is a file"):
        stage(target)
    assert (tmp_path / at).read_text(encoding="utf-8") == "a file"


def test_jobs_with_like_names_leave_each_other_alone(tmp_path: Path) -> None:
    """Also where a name means something in a pattern, or looks like what is left of another job."""
    for name in ("job", "job.old", "job [1]", "job.new-3"):
        make(tmp_path / name, {"report.md": name})
    ended = tmp_path / f".job [1].new-{2**22 + 5}"  # more than any process is numbered
    running = tmp_path / f".job.new-{os.getppid()}"
    for left in (ended, running):
        left.mkdir()
    for name in ("job", "job [1]"):
        repair(tmp_path / name)
    assert not ended.exists() and running.is_dir()
    for name in ("job", "job.old", "job [1]", "job.new-3"):
        assert texts(tmp_path / name) == {"report.md": name}


def test_asking_for_a_process_ends_none() -> None:
    """On Windows the signal 0 is an order to end; only a look is wanted."""
    import subprocess
    import sys

    child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    try:
        assert folder._is_running(child.pid) and child.poll() is None
    finally:
        child.communicate(b"\n")
    assert child.returncode == 0 and not folder._is_running(child.pid) and not folder._is_running(os.getpid())
