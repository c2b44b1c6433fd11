"""The result folder: made beside the old one, swapped in as a whole, and described by its manifest.

At any moment `out/NAME` is the old result or the new one. Only if the run is killed between two renames is it absent,
with the old result beside it; the next run puts that back. Only files that are listed in the old result's manifest and
unchanged since are ever deleted. All other files in the folder are the user's own, and are moved into the new one.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any

MANIFEST = "manifest.json"
_NEW, _OLD = ".new-", ".old"
_PAUSES = (0.05, 0.1, 0.2, 0.4, 0.8)  # s; a virus scanner holds new files for a moment


class FolderError(Exception):
    """A result folder that cannot be put in place; the message says why, and what is there now."""


class NoFolderError(FolderError):
    """The result folder cannot exist, because a file is in its place."""


def stage(target: Path) -> Path:
    """An empty folder beside `target` for a new result, after repairing what an interrupted run left there.

    Raises NoFolderError if a file is in its way, OSError if nothing can be written there.
    """
    refuse_file(target)
    target.parent.mkdir(parents=True, exist_ok=True)
    repair(target)
    staged = target.parent / f".{target.name}{_NEW}{os.getpid()}"
    shutil.rmtree(staged, ignore_errors=True)
    staged.mkdir()
    return staged


def refuse_file(target: Path) -> None:
    """Raises NoFolderError if `target`, or a folder above it, is a file."""
    for place in (target, *target.parents):
        if place.exists():
            if not place.is_dir():
                raise NoFolderError(f"{place}: this is a file, and results need a folder; rename it, or choose another")
            return


def swap_in(staged: Path, target: Path) -> tuple[tuple[str, str], ...]:
    """Put a finished folder in the place of the old one; return the user's own files that had to be renamed.

    Each is given by its old place and its new place. Raises FolderError if the old folder cannot be moved aside; it is
    then complete and in its place. Raises OSError if the file system refuses anything else.
    """
    old = _aside(target)
    if target.exists():
        try:
            _rename(target, old)
        except OSError as refused:
            raise FolderError(
                f"{target}: this result cannot be replaced ({refused.strerror}): another program may hold a file in it "
                "open; close viewers and slicers and build again; the old result is there as it was"
            ) from refused
    try:
        _rename(staged, target)
    except OSError:
        if old.exists():
            old.rename(target)
        raise
    return _retire(old, target) if old.exists() else ()


def _rename(source: Path, target: Path) -> None:
    for pause in _PAUSES:
        try:
            source.rename(target)
            return
        except PermissionError:
            time.sleep(pause)
    source.rename(target)


def discard(staged: Path) -> None:
    shutil.rmtree(staged, ignore_errors=True)


def repair(target: Path) -> None:
    """Undo what a killed run left: put the old result back if the new one is missing, and delete the rest."""
    olds = _olds(target)
    if olds and not target.exists():
        olds.pop().rename(target)
    for old in olds:
        _retire(old, target)
    for left in target.parent.iterdir():
        made_by = left.name.removeprefix(f".{target.name}{_NEW}")
        if made_by.isdigit() and made_by != left.name and not _is_running(int(made_by)):
            shutil.rmtree(left, ignore_errors=True)


def _retire(old: Path, target: Path) -> tuple[tuple[str, str], ...]:
    """Delete an old result that was moved aside, after moving the user's own files; returns what swap_in does.

    Files that cannot be moved stay where they are. The manifest is deleted last, so that a killed run can be resumed.
    """
    own, elsewhere = own_files(old), []
    kept = read_manifest(target).get("kept")
    names_there = {name: _beside_kept(name, kept.get("folder") if isinstance(kept, dict) else None) for name in own}
    # first those whose place is free, so that none of them loses it to a file that has to be renamed
    for name, name_there in sorted(names_there.items(), key=lambda each: os.path.lexists(target / each[1])):
        now = _moved(old / name, target, name_there)
        if now != target / name:
            elsewhere.append((name, now.as_posix()))
    for name in _everything(old):
        if name not in own and name != MANIFEST:
            with suppress(OSError):
                (old / name).unlink(missing_ok=True)
    _drop_empty(old)
    return tuple(elsewhere)


def _moved(source: Path, target: Path, name: str) -> Path:
    """Move a user's own file to `name` in `target`, or beside what has that name there; return its new place."""
    place = target / name
    try:
        if source.is_dir() and not source.is_symlink():
            place.mkdir(parents=True, exist_ok=True)
            source.rmdir()
            return place
        place.parent.mkdir(parents=True, exist_ok=True)
        stem, suffix = place.stem, place.suffix
        names = (f"{stem}_own{'' if k == 1 else f'_{k}'}{suffix}" for k in count(1))
        while os.path.lexists(place):
            place = place.with_name(next(names))
        source.rename(place)
    except OSError:
        return source
    return place


def own_files(folder: Path) -> tuple[str, ...]:
    """The user's own files in a result folder, by their place in it.

    These are files that the manifest does not list, or that have changed since, and folders without any file.
    """
    manifest = read_manifest(folder)
    listed = manifest.get("files")
    listed = listed if isinstance(listed, dict) else {}
    known = {MANIFEST} if manifest else set()
    return tuple(
        name
        for name in _everything(folder)
        if name not in known and (name not in listed or _digest(folder / name) != listed[name])
    )


def _digest(path: Path) -> str:
    """The digest; empty for a link or an unreadable file, which always count as the user's own."""
    try:
        return "" if path.is_symlink() else sha256_of(path)
    except OSError:
        return ""


def _everything(folder: Path) -> Iterator[str]:
    """Files, links, and empty folders."""
    for place, folders, files in os.walk(folder):
        here = Path(place)
        links = [name for name in folders if (here / name).is_symlink()]
        if not folders and not files and here != folder:
            yield here.relative_to(folder).as_posix()
        yield from sorted((here / name).relative_to(folder).as_posix() for name in (*files, *links))


def _beside_kept(name: str, kept: str | None) -> str:
    """The user's own files in a folder that is kept under another name go into that folder."""
    first, _, rest = name.partition("/")
    return f"{kept}/{rest}" if rest and kept and kept.startswith(f"{first}_") else name


def _drop_empty(old: Path) -> None:
    """Delete a folder from which all own files were moved; if any is left, the folder and its manifest stay."""
    for place, _, _ in os.walk(old, topdown=False):
        if Path(place) != old:
            with suppress(OSError):
                Path(place).rmdir()
    if [path.name for path in old.iterdir()] == [MANIFEST]:
        (old / MANIFEST).unlink()
    with suppress(OSError):
        old.rmdir()


def _olds(target: Path) -> list[Path]:
    """Old results beside `target`; the last is the one moved aside last."""
    first = f".{target.name}{_OLD}"
    after = {path: path.name.removeprefix(f"{first}-") for path in target.parent.iterdir() if path.is_dir()}
    numbered = {path: int(end) for path, end in after.items() if end.isdigit() and end != path.name}
    return [*(path for path in after if path.name == first), *sorted(numbered, key=lambda path: numbered[path])]


def _aside(target: Path) -> Path:
    """The place to which an old result is moved; one with files that could not be moved may still be there."""
    left = _olds(target)
    return target.parent / f".{target.name}{_OLD}{f'-{len(left) + 1}' if left else ''}"


def _is_running(pid: int) -> bool:
    import psutil  # imported here: reading does not need it

    return pid != os.getpid() and psutil.pid_exists(pid)


@dataclass(frozen=True)
class Manifest:
    """The content of a manifest besides its files.

    `inputs`: file → SHA-256 of what the result was made from. `kept`: a folder kept from an earlier run, with its
    inputs if they are known.
    """

    inputs: Mapping[str, str]
    not_made: Sequence[tuple[str, str]]
    version: str
    verdict: str
    kept: tuple[str, Mapping[str, str] | None] | None = None


def write_manifest(folder: Path, manifest: Manifest) -> None:
    """List every file of `folder` except the manifest, with its hash, and the hashes of the inputs."""
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != MANIFEST)
    content = {
        "format": 1,
        "headergen": manifest.version,
        "verdict": manifest.verdict,
        "made_from": dict(sorted(manifest.inputs.items())),
        "files": {path.relative_to(folder).as_posix(): sha256_of(path) for path in files},
        "not_made": [{"what": what, "why": why} for what, why in manifest.not_made],
    }
    if manifest.kept is not None:
        name, made_from = manifest.kept
        content["kept"] = {"folder": name, "made_from": None if made_from is None else dict(sorted(made_from.items()))}
    text = json.dumps(content, indent=2, ensure_ascii=False) + "\n"
    (folder / MANIFEST).write_text(text, encoding="utf-8", newline="\n")


def read_inputs(target: Path) -> dict[str, str] | None:
    """The inputs of the result in `target` (file → SHA-256); None if there is no readable manifest."""
    made_from = read_manifest(target).get("made_from")
    return made_from if isinstance(made_from, dict) else None


def read_manifest(target: Path) -> dict[str, Any]:
    """The manifest of the result in `target`; empty if there is no readable one."""
    try:
        content = json.loads((target / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return content if isinstance(content, dict) else {}


def sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
