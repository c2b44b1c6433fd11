"""Files as bytes, and why one cannot be had."""

from __future__ import annotations

import os
from pathlib import Path

from headergen.spec.scalars import Refused


def read_file(path: Path, most: int | None = None) -> bytes:
    """The content of a file of at most `most` bytes. Raises Refused, in words, for whatever prevents it."""
    name = shown_path(path)
    try:
        if not path.exists():
            raise Refused(f"there is no file {name}", _near(path))
        if path.is_dir():
            raise Refused(f"{name} is a folder, not a file")
        if not path.is_file():
            raise Refused(f"{name} is not an ordinary file")
        if most is not None and (size := path.stat().st_size) > most:
            raise Refused(f"{name} has {size} bytes; none of its kind needs more than {most}")
        return path.read_bytes()
    except PermissionError:
        raise Refused(f"{name} may not be read", "check the rights of the file and its folder") from None
    except (OSError, ValueError):  # a name no file can have, a loop of links, a failing disk
        raise Refused(f"{name} cannot be read") from None


def shown_path(path: Path) -> str:
    """A path for a sentence: without the detours that `..` makes."""
    return os.path.normpath(path)


def _near(path: Path) -> str:
    if not path.parent.is_dir():
        return f"there is no folder {shown_path(path.parent)} either"
    alike = [other.name for other in path.parent.iterdir() if other.stem.casefold() == path.stem.casefold()]
    return f"the folder has {', '.join(sorted(alike)[:3])}" if alike else ""
