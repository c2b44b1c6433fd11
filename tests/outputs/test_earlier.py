"""What a build keeps of an earlier one: unchanged where it is still right, marked where it may not be."""

from __future__ import annotations

from pathlib import Path

import pytest

from headergen.outputs.earlier import ON_ITS_FACE, keep

NOW = {"a.yaml": "1", "frame.stl": "2"}


@pytest.fixture
def folders(tmp_path: Path) -> tuple[Path, Path]:
    """An old result with a mock, and the new one, empty."""
    old, new = tmp_path / "old", tmp_path / "new"
    (old / "mock" / "parts").mkdir(parents=True)
    new.mkdir()
    (old / "mock" / "mock.md").write_text("# Fit mock\n\nwords\n", encoding="utf-8")
    (old / "mock" / "parts" / "P1.stl").write_bytes(b"stl")
    return old, new


def manifest(made_from: object = NOW, version: str = "1", folder: str = "mock") -> dict[str, object]:
    files = {f"{folder}/mock.md": "3", f"{folder}/parts/P1.stl": "4"}
    return {"made_from": made_from, "headergen": version, "files": files}


def test_of_the_same_files_and_version_it_stays_as_it_is(folders: tuple[Path, Path]) -> None:
    old, new = folders
    kept = keep((old, manifest(), ()), new, "mock", NOW, "1")
    assert kept is not None and kept.is_current and kept.folder == "mock" and kept.made_from == NOW
    assert (new / "mock" / "mock.md").read_text(encoding="utf-8") == "# Fit mock\n\nwords\n"
    assert (new / "mock" / "parts" / "P1.stl").read_bytes() == b"stl"
    assert (old / "mock" / "mock.md").exists()


@pytest.mark.parametrize("before", [manifest({"a.yaml": "0"}), manifest(version="0"), manifest(3)])
def test_of_anything_else_it_is_marked(folders: tuple[Path, Path], before: dict[str, object]) -> None:
    old, new = folders
    kept = keep((old, before, ()), new, "mock", NOW, "1")
    assert kept is not None and not kept.is_current and kept.folder == "mock_earlier"
    sheet = (new / "mock_earlier" / "mock.md").read_text(encoding="utf-8")
    assert sheet == f"# Fit mock\n\n{ON_ITS_FACE}\n\nwords\n"
    assert not (new / "mock").exists()


def test_what_is_somebodys_own_is_left_to_be_moved(folders: tuple[Path, Path]) -> None:
    """A sheet that was written in is not ours to mark; where no manifest says what is, nothing is."""
    old, new = folders
    kept = keep((old, manifest(version="0"), ("mock/mock.md",)), new, "mock", NOW, "1")
    assert kept is not None and kept.folder == "mock_earlier"
    assert [path.name for path in (new / "mock_earlier").iterdir()] == ["parts"]
    unknown = keep((old, {}, ("mock/mock.md", "mock/parts/P1.stl")), new / "mock_earlier", "mock", NOW, "1")
    assert unknown is not None and unknown.folder == "mock_earlier" and unknown.made_from is None
    assert list((new / "mock_earlier" / "mock_earlier").iterdir()) == []


def test_a_folder_of_that_name_that_no_run_made_is_no_earlier_mock(folders: tuple[Path, Path]) -> None:
    old, new = folders
    assert keep((old, {**manifest(), "files": {"report.md": "5"}}, ()), new, "mock", NOW, "1") is None


def test_it_stays_through_further_builds_until_a_new_one_is_made(folders: tuple[Path, Path], tmp_path: Path) -> None:
    old, new = folders
    first = keep((old, manifest({"a.yaml": "0"}), ()), new, "mock", NOW, "1")
    assert first is not None
    third = tmp_path / "third"
    third.mkdir()
    written = {**manifest(folder=first.folder), "kept": {"folder": first.folder, "made_from": {"a.yaml": "0"}}}
    again = keep((new, written, ()), third, "mock", NOW, "1")
    assert again is not None and again.made_from == {"a.yaml": "0"} and not again.is_current
    assert (third / "mock_earlier" / "mock.md").read_text(encoding="utf-8").count(ON_ITS_FACE) == 1
    (third / "mock").mkdir()
    assert keep((new, written, ()), third, "mock", NOW, "1") is None


def test_without_an_old_one_nothing_is_kept(tmp_path: Path) -> None:
    assert keep((tmp_path / "none", {}, ()), tmp_path, "mock", NOW, "1") is None
