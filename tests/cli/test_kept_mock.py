"""A mock is kept with its pictures and its sheet: taken whole, made anew where anything differs or is damaged."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from headergen.jobs import mock
from headergen.jobs.mock import GUIDE, MOCK, MOCK_AGAIN, finish_mock, mock_steps
from headergen.jobs.picture import JUDGED, PICTURE, PICTURE_AGAIN
from headergen.jobs.process import Failure
from headergen.model import MockSettings
from headergen.model.finding import Finding
from headergen.outputs.mock_sheet import MockFacts
from tests.checks.small_header import draft, measured

ERROR = Finding("gap", "error", "primary 1", 3.0, 6.0, "mm", "too near", against="rail")
PICTURES = ("together.png", (("primary 1", "P1", "primary_1.png"),))


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """A header without findings, a folder for its mock, and one for what is kept."""
    monkeypatch.setattr(mock, "users_folder", lambda name: tmp_path / "cache" / name)
    result = SimpleNamespace(header=measured(draft()).header, findings=())
    return SimpleNamespace(result=result, settings=MockSettings(), folder=tmp_path / "out")


def steps(job: SimpleNamespace) -> Any:
    return mock_steps(job.result, job.settings, frozenset(), job.folder, lambda *_: None)


def begun(job: SimpleNamespace) -> Any:
    """The work that is to be done for a mock, None where it is there."""
    return steps(job)[0].begin({})


def finish(job: SimpleNamespace, failed: tuple[tuple[str, str], ...] = (), drawn: Any = PICTURES) -> dict[str, bytes]:
    """The files of a mock whose parts were made in its folder, with its sheet."""
    (job.folder / MOCK / "parts").mkdir(parents=True, exist_ok=True)
    (job.folder / MOCK / "parts" / "P1-1.stl").write_bytes(b"solid")
    (job.folder / MOCK / "together.png").write_bytes(b"picture")
    header = job.result.header
    facts = MockFacts(header.draft.job, 0, job.settings, (), 1, (), failed=failed)
    finish_mock({MOCK: facts, MOCK_AGAIN: None, GUIDE: drawn}, job.folder, (header, job.settings))
    return files(job)


def files(job: SimpleNamespace) -> dict[str, bytes]:
    paths = (path for path in (job.folder / MOCK).rglob("*") if path.is_file())
    return {path.relative_to(job.folder / MOCK).as_posix(): path.read_bytes() for path in paths}


def moved(job: SimpleNamespace) -> SimpleNamespace:
    """The same job in a folder without a mock."""
    return SimpleNamespace(**{**vars(job), "folder": job.folder.with_name("again")})


def test_a_mock_of_the_same_is_taken_with_all_its_files(job: SimpleNamespace) -> None:
    made = finish(job)
    assert set(made) == {"parts/P1-1.stl", "together.png", "mock.md"}
    again = moved(job)
    assert begun(again) is None and files(again) == made
    answers = {MOCK: None, MOCK_AGAIN: None, JUDGED: job.result, PICTURE: None, PICTURE_AGAIN: None}
    assert [step.begin(answers) for step in steps(again)[1:]] == [None, None], "nothing is made or drawn again"
    assert (
        finish_mock({MOCK: None, MOCK_AGAIN: None, GUIDE: None}, again.folder, (job.result.header, job.settings)) == ()
    )
    assert files(again) == made


def test_whatever_it_is_made_from_is_in_its_key(job: SimpleNamespace, monkeypatch: pytest.MonkeyPatch) -> None:
    finish(job)
    assert begun(moved(job)) is None
    plain = job.result.header
    told = replace(plain, draft=replace(plain.draft, job=replace(plain.draft.job, revision="B")))
    changes: dict[str, Any] = {"settings": replace(job.settings, density=1.3)}
    changes = {"density": changes, "revision": {"result": SimpleNamespace(header=told, findings=())}}
    changes["errors"] = {"result": SimpleNamespace(header=plain, findings=(ERROR,))}
    for what, change in changes.items():
        assert begun(SimpleNamespace(**{**vars(moved(job)), **change})) is not None, what
    monkeypatch.setattr("headergen.store.keys.makers", lambda _: "another version")
    assert begun(moved(job)) is not None


def test_errors_of_made_parts_have_it_made_anew(job: SimpleNamespace) -> None:
    finish(job)
    again = moved(job)
    assert begun(again) is None
    worse = SimpleNamespace(header=job.result.header, findings=(ERROR,))
    assert steps(again)[1].begin({MOCK: None, JUDGED: worse}) is not None
    assert not (again.folder / MOCK).exists()


def test_a_mock_of_which_a_part_failed_is_not_kept(job: SimpleNamespace) -> None:
    finish(job, failed=(("P1-2", "why"),))
    assert begun(moved(job)) is not None


@pytest.mark.parametrize("drawn", [None, Failure("it draws nothing")])
def test_a_mock_without_pictures_is_not_kept(drawn: Failure | None, job: SimpleNamespace) -> None:
    finish(job, drawn=drawn)
    assert begun(moved(job)) is not None


@pytest.mark.parametrize("harm", ["turned", "empty", "named"])
def test_a_damaged_mock_is_removed_and_made_anew(harm: str, job: SimpleNamespace) -> None:
    finish(job)
    [path] = (job.folder.parent / "cache" / "mocks").glob("*.npz")
    content = bytearray(path.read_bytes())
    content[content.index(b"solid")] ^= 1
    path.write_bytes(b"" if harm == "empty" else content)
    if harm == "named":
        mock.keep(path.parent, path.stem, {"../mine.md": np.frombuffer(b"not mine", np.uint8)})
    again = moved(job)
    assert begun(again) is not None and not path.exists()
    assert not again.folder.exists() and not (job.folder.parent / "mine.md").exists()


def test_a_folder_that_cannot_be_written_is_not_missed(job: SimpleNamespace) -> None:
    (job.folder.parent / "cache").write_bytes(b"")
    assert "mock.md" in finish(job)
    assert begun(moved(job)) is not None
