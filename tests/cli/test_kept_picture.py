"""A picture is kept under all that it is made of: taken whole, made anew where anything differs or is damaged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from headergen.build import is_as_before
from headergen.geometry.frames import WORLD
from headergen.geometry.mesh.boxes import box_mesh
from headergen.geometry.mesh.index import index_of
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.jobs import picture
from headergen.jobs.picture import PICTURE_FILE, picture_steps
from headergen.jobs.process import Failure
from headergen.model import Box
from headergen.model.finding import Finding
from headergen.outputs.folder import sha256_of
from tests.checks.small_header import draft, measured

DRAWN = picture.PNG + b"as it was drawn"
SPEC = b"format: 1\n"


def box(size: float) -> TriangleMesh:
    return box_mesh(Box(WORLD, (size, 20.0, 20.0)))


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """What a picture is made of, a folder for it and one for what is kept; what is drawn are the bytes above."""
    monkeypatch.setattr(picture, "users_folder", lambda name: tmp_path / "cache" / name)
    monkeypatch.setattr("headergen.outputs.picture.render_header", lambda path, *_: path.write_bytes(DRAWN))
    header = measured(draft()).header
    (tmp_path / "out").mkdir()
    return SimpleNamespace(header=header, findings=(), chassis={}, skins={"flange": box(60.0)}, folder=tmp_path / "out")


def begun(scene: SimpleNamespace) -> Any:
    """The work that is to be done for a picture, None where it is there."""
    answers = dict.fromkeys((picture.FIRST_JUDGED, picture.JUDGED, picture.BODIES, picture.SKINS), scene)
    first, again = picture_steps(scene.chassis, frozenset(), scene.folder, lambda *_: None)
    return first.begin(answers) or again.begin({**answers, picture.PICTURE: None})


def drawn(scene: SimpleNamespace) -> bytes:
    """The picture as it comes without what is kept; it is kept."""
    function, arguments = begun(scene)
    np.savez(scene.folder / picture.PARTS_SCRATCH, *(box(60.0).vertices, box(60.0).faces))
    function(*arguments, None, lambda *_: None)
    return (scene.folder / PICTURE_FILE).read_bytes()


def kept(scene: SimpleNamespace) -> list[Path]:
    return list((scene.folder.parent / "cache" / "pictures").glob("*.npz"))


def test_a_picture_of_the_same_is_taken_as_it_was(scene: SimpleNamespace) -> None:
    assert drawn(scene) == DRAWN
    (scene.folder / PICTURE_FILE).unlink()
    assert begun(scene) is None
    assert (scene.folder / PICTURE_FILE).read_bytes() == DRAWN


def titled(scene: SimpleNamespace) -> None:
    told = replace(scene.header.draft, job=replace(scene.header.draft.job, revision="B"))
    scene.header = replace(scene.header, draft=told)


def found(scene: SimpleNamespace) -> None:
    scene.findings = (Finding("gap", "error", "primary 1", 3.0, 6.0, "mm", "too near", against="rail"),)


def grown(scene: SimpleNamespace) -> None:
    scene.skins = {"flange": box(60.0 + 1e-9)}


def beside(scene: SimpleNamespace) -> None:
    scene.chassis = {"rail": index_of(box(300.0))}


@pytest.mark.parametrize("change", [titled, found, grown, beside])
def test_whatever_it_shows_is_in_its_key(change: Callable[[SimpleNamespace], None], scene: SimpleNamespace) -> None:
    drawn(scene)
    change(scene)
    assert begun(scene) is not None


@pytest.mark.parametrize("other", ["renderer", "makers"])
def test_what_draws_is_in_its_key(other: str, scene: SimpleNamespace, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn(scene)
    where = picture if other == "renderer" else "headergen.store.keys"
    if other == "renderer":
        monkeypatch.setattr(where, other, lambda: ("another driver",))
    else:
        monkeypatch.setattr(f"{where}.{other}", lambda _: "another version")
    assert begun(scene) is not None


def test_what_is_found_of_common_metal_is_drawn_once_more(scene: SimpleNamespace) -> None:
    drawn(scene)
    first = SimpleNamespace(**vars(scene))
    _, again = picture_steps(scene.chassis, frozenset(), scene.folder, lambda *_: None)
    answers = {picture.FIRST_JUDGED: first, picture.JUDGED: scene, picture.SKINS: scene, picture.PICTURE: None}
    assert again.begin(answers) is None, "nothing was found"
    found(scene)
    assert again.begin(answers) is not None
    assert again.begin({**answers, picture.PICTURE: Failure("it draws nothing")}) is None


def test_a_header_with_errors_waits_for_what_else_is_found(scene: SimpleNamespace) -> None:
    found(scene)
    first, _ = picture_steps(scene.chassis, frozenset(), scene.folder, lambda *_: None)
    assert first.begin({picture.FIRST_JUDGED: scene, picture.BODIES: scene}) is None
    assert begun(scene) is not None


@pytest.mark.parametrize("harm", ["cut", "turned", "empty", "another"])
def test_a_damaged_picture_is_removed_and_made_anew(harm: str, scene: SimpleNamespace) -> None:
    drawn(scene)
    [path] = kept(scene)
    content = bytearray(path.read_bytes())
    if harm == "another":  # whole as a file, and not what was kept
        with np.load(path) as arrays:
            np.savez(path, **{**arrays, "png": arrays["png"][:-1]})
    else:
        content[content.index(b"as it was")] ^= 1
        path.write_bytes({"cut": content[:-20], "turned": content, "empty": b""}[harm])
    assert begun(scene) is not None and not path.exists()
    assert drawn(scene) == DRAWN


def test_a_folder_that_cannot_be_written_is_not_missed(scene: SimpleNamespace) -> None:
    (scene.folder.parent / "cache").write_bytes(b"")
    assert drawn(scene) == DRAWN
    assert begun(scene) is not None


def test_a_result_of_the_same_spec_is_told_before_it_is_read(tmp_path: Path) -> None:
    from headergen import __version__

    spec = tmp_path / "job.yaml"
    assert not is_as_before(spec, tmp_path), "there is no spec"
    spec.write_bytes(SPEC)
    assert not is_as_before(spec, tmp_path), "there is no result"
    text = f'{{"headergen": "{__version__}", "made_from": {{"job.yaml": "{sha256_of(spec)}"}}}}'
    (tmp_path / "manifest.json").write_text(text, encoding="utf-8")
    assert is_as_before(spec, tmp_path)
    spec.write_bytes(SPEC + b"#")
    assert not is_as_before(spec, tmp_path)
