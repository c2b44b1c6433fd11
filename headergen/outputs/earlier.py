"""Folders of an earlier run that this run did not make again: they are kept and marked as earlier.

A folder keeps its name only if it was made from exactly the same files by the same version. Otherwise it is renamed,
and its sheets say so on their face, so that nothing old looks new.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SUFFIX = "_earlier"
ON_ITS_FACE = (
    "**EARLIER: made from another state of the spec, or by another version. It need not agree with the other files "
    "here.**"
)


@dataclass(frozen=True)
class Kept:
    """A folder kept from an earlier run. `made_from`: file → SHA-256; None if unknown."""

    folder: str
    made_from: Mapping[str, str] | None
    is_current: bool


def keep(
    old: tuple[Path, Mapping[str, Any], Collection[str]],
    staged: Path,
    name: str,
    inputs: Mapping[str, str],
    version: str,
) -> Kept | None:
    """Copy folder `name` of the old result into the new one, unless the new one has it; None if neither has.

    `old`: the folder of the old result, its manifest, and the user's own files in it, which are not copied: they are
    moved when the results are swapped. `inputs` and `version` are those of the new result.

    Raises OSError if it cannot be read or written.
    """
    if (staged / name).exists():
        return None
    target, manifest, own = old
    made_from = _inputs(manifest.get("made_from"))
    if _was_made(target, manifest, name):
        is_current = made_from == dict(inputs) and manifest.get("headergen") == version
        kept = Kept(name if is_current else f"{name}{SUFFIX}", made_from, is_current)
        _copy(target, name, [each for each in _listed(manifest, name) if each not in own], staged / kept.folder)
    elif _was_made(target, manifest, f"{name}{SUFFIX}"):
        before = manifest.get("kept")
        kept = Kept(f"{name}{SUFFIX}", _inputs(before.get("made_from") if isinstance(before, dict) else None), False)
        listed = [each for each in _listed(manifest, kept.folder) if each not in own]
        _copy(target, kept.folder, listed, staged / kept.folder)
    else:
        return None
    if not kept.is_current:
        for sheet in sorted((staged / kept.folder).glob("*.md")):
            _mark(sheet)
    return kept


def _was_made(target: Path, manifest: Mapping[str, Any], name: str) -> bool:
    """Whether a folder of the old result was made by an earlier run; without a manifest, it may have been."""
    return (target / name).is_dir() and (not manifest or bool(_listed(manifest, name)))


def _listed(manifest: Mapping[str, Any], name: str) -> list[str]:
    files = manifest.get("files")
    inside = files if isinstance(files, dict) else {}
    return sorted(file for file in inside if file.startswith(f"{name}/") and ".." not in re.split(r"[/\\]", file))


def _copy(target: Path, name: str, files: Collection[str], folder: Path) -> None:
    folder.mkdir()
    for file in files:
        to = folder / file.removeprefix(f"{name}/")
        to.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(target / file, to)


def _inputs(manifest: object) -> dict[str, str] | None:
    return {str(file): str(digest) for file, digest in manifest.items()} if isinstance(manifest, dict) else None


def _mark(sheet: Path) -> None:
    """Put ON_ITS_FACE under the title, once."""
    title, _, rest = sheet.read_text(encoding="utf-8").partition("\n")
    if ON_ITS_FACE not in rest:
        sheet.write_text(f"{title}\n\n{ON_ITS_FACE}\n{rest}", encoding="utf-8", newline="\n")
