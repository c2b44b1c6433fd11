"""A contract with the installed trimesh: its viewer page has three.js in it, as pages need it."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from headergen.show.three import TRIED_WITH, ViewerError, revision, three_js

USED = (
    "WebGLRenderer",
    "PerspectiveCamera",
    "MeshMatcapMaterial",
    "MeshBasicMaterial",
    "BufferGeometry",
    "CanvasTexture",
)


def test_the_installed_trimesh_has_the_three_js_that_pages_were_tried_with() -> None:
    script = three_js()
    assert f"r{revision(script)}" in TRIED_WITH, f"pages were tried with {TRIED_WITH}; look at them with this one"
    assert "SPDX-License-Identifier: MIT" in script.split("\n!function", 1)[0], "the licence stands at its head"
    assert "</script" not in script
    assert [name for name in USED if f".{name}=" not in script] == []


@pytest.mark.parametrize(
    "page", ["<html></html>", "<script>/** @license\nSPDX-License-Identifier: MIT\n*/ var A;\n(function(){</script>"]
)
def test_a_viewer_page_without_it_is_told_in_words(page: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    archive = tmp_path / "viewer.zip"
    with zipfile.ZipFile(archive, "w") as file:
        file.writestr("viewer.html.template", page)
    monkeypatch.setattr("headergen.show.three.viewer_archive", lambda: archive)
    with pytest.raises(ViewerError, match=r"three\.js is not where it was in the installed trimesh"):
        three_js()


def test_a_trimesh_without_a_viewer_page_is_told_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = tmp_path / "broken.zip"
    broken.write_bytes(b"no archive")
    for archive in (broken, tmp_path / "none.zip"):
        monkeypatch.setattr("headergen.show.three.viewer_archive", lambda archive=archive: archive)
        with pytest.raises(ViewerError, match="its viewer page is not where it was"):
            three_js()
