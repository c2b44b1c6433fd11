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
from pathlib import Path

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


def write_manifest(
    folder: Path, inputs: Mapping[str, str], not_made: Sequence[tuple[str, str]], version: str, verdict: str
) -> None:
    """List every file of `folder` but the manifest, with its hash, beside the hashes of what it was made from."""
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != MANIFEST)
    content = {
        "format": 1,
        "headergen": version,
        "verdict": verdict,
        "made_from": dict(sorted(inputs.items())),
        "files": {path.relative_to(folder).as_posix(): sha256_of(path) for path in files},
        "not_made": [{"what": what, "why": why} for what, why in not_made],
    }
    text = json.dumps(content, indent=2, ensure_ascii=False) + "\n"
    (folder / MANIFEST).write_text(text, encoding="utf-8", newline="\n")


def read_inputs(target: Path) -> dict[str, str] | None:
    """What the result in `target` was made from (file → SHA-256), or None where there is no readable manifest."""
    try:
        made_from = json.loads((target / MANIFEST).read_text(encoding="utf-8"))["made_from"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return made_from if isinstance(made_from, dict) else None


def sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
