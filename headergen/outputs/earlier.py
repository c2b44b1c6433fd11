"""What an earlier run left in the result folder and this one did not make anew: kept, and marked as earlier.

It stays under its name only where it was made from the very same files by the same version; else its folder is renamed
and its sheets say so on their face, so that nothing old looks new.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
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
    """A folder kept from an earlier run. `made_from`: file → SHA-256, None where nobody knows any more."""

    folder: str
    made_from: Mapping[str, str] | None
    is_current: bool


def keep(
    old: tuple[Path, Mapping[str, Any]], staged: Path, name: str, inputs: Mapping[str, str], version: str
) -> Kept | None:
    """Copy folder `name` of the old result into the new one, where the new one has none; None where neither has.

    `old`: the folder of the old result and its manifest. `inputs` and `version` are those of the new one.

    Raises OSError when it cannot be read or written.
    """
    if (staged / name).exists():
        return None
    target, manifest = old
    made_from = _inputs(manifest.get("made_from"))
    if (target / name).is_dir():
        is_current = made_from == dict(inputs) and manifest.get("headergen") == version
        kept = Kept(name if is_current else f"{name}{SUFFIX}", made_from, is_current)
        shutil.copytree(target / name, staged / kept.folder)
    elif (target / f"{name}{SUFFIX}").is_dir():
        before = manifest.get("kept")
        kept = Kept(f"{name}{SUFFIX}", _inputs(before.get("made_from") if isinstance(before, dict) else None), False)
        shutil.copytree(target / kept.folder, staged / kept.folder)
    else:
        return None
    if not kept.is_current:
        for sheet in sorted((staged / kept.folder).glob("*.md")):
            _mark(sheet)
    return kept


def _inputs(found: object) -> dict[str, str] | None:
    return {str(file): str(digest) for file, digest in found.items()} if isinstance(found, dict) else None


def _mark(sheet: Path) -> None:
    """Put ON_ITS_FACE under the title, once."""
    title, _, rest = sheet.read_text(encoding="utf-8").partition("\n")
    if ON_ITS_FACE not in rest:
        sheet.write_text(f"{title}\n\n{ON_ITS_FACE}\n{rest}", encoding="utf-8", newline="\n")
