"""The result folder: made beside the old one, swapped in whole, and described by its manifest.

At any moment `out/NAME` is the old result, the new one, or (between two renames, if the run is killed just there)
absent with the old one beside it, which the next run puts back.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

MANIFEST = "manifest.json"
_NEW, _OLD = ".new-", ".old"


def stage(target: Path) -> Path:
    """An empty folder beside `target` to make a result in, after mending what an interrupted run left there.

    Raises OSError when nothing can be written there.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    mend(target)
    staged = target.parent / f".{target.name}{_NEW}{os.getpid()}"
    shutil.rmtree(staged, ignore_errors=True)
    staged.mkdir()
    return staged


def swap_in(staged: Path, target: Path) -> None:
    """Put a finished folder in the place of the old one. Raises OSError when the file system refuses."""
    old = _old(target)
    if target.exists():
        target.rename(old)
    staged.rename(target)
    shutil.rmtree(old, ignore_errors=True)


def discard(staged: Path) -> None:
    shutil.rmtree(staged, ignore_errors=True)


def mend(target: Path) -> None:
    """Undo what a killed run left: put the old result back if the new one never came, and clear the rest away."""
    old = _old(target)
    if old.exists():
        if target.exists():
            shutil.rmtree(old, ignore_errors=True)
        else:
            old.rename(target)
    for left in target.parent.glob(f".{target.name}{_NEW}*"):
        if not _is_running(left.name.rpartition("-")[2]):
            shutil.rmtree(left, ignore_errors=True)


def _old(target: Path) -> Path:
    return target.parent / f".{target.name}{_OLD}"


def _is_running(pid: str) -> bool:
    if not pid.isdigit():
        return False
    try:
        os.kill(int(pid), 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return int(pid) != os.getpid()


@dataclass(frozen=True)
class Account:
    """What a manifest says beside its files.

    `inputs`: file → SHA-256 of what the result was made from. `kept`: a folder kept from an earlier run, and its inputs
    where those are known.
    """

    inputs: Mapping[str, str]
    not_made: Sequence[tuple[str, str]]
    version: str
    verdict: str
    kept: tuple[str, Mapping[str, str] | None] | None = None


def write_manifest(folder: Path, account: Account) -> None:
    """List every file of `folder` but the manifest, with its hash, beside the hashes of what it was made from."""
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != MANIFEST)
    content = {
        "format": 1,
        "headergen": account.version,
        "verdict": account.verdict,
        "made_from": dict(sorted(account.inputs.items())),
        "files": {path.relative_to(folder).as_posix(): sha256_of(path) for path in files},
        "not_made": [{"what": what, "why": why} for what, why in account.not_made],
    }
    if account.kept is not None:
        name, made_from = account.kept
        content["kept"] = {"folder": name, "made_from": None if made_from is None else dict(sorted(made_from.items()))}
    text = json.dumps(content, indent=2, ensure_ascii=False) + "\n"
    (folder / MANIFEST).write_text(text, encoding="utf-8", newline="\n")


def read_inputs(target: Path) -> dict[str, str] | None:
    """What the result in `target` was made from (file → SHA-256), or None where there is no readable manifest."""
    made_from = read_manifest(target).get("made_from")
    return made_from if isinstance(made_from, dict) else None


def read_manifest(target: Path) -> dict[str, Any]:
    """The manifest of the result in `target`; empty where there is none that can be read."""
    try:
        content = json.loads((target / MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return content if isinstance(content, dict) else {}


def sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
