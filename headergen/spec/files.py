"""Files as bytes, and the reasons why one cannot be read."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from headergen.spec.scalars import ScalarError
from headergen.spec.units import shown

DEVICES = frozenset(
    [
        "con",
        "prn",
        "aux",
        "nul",
        "conin$",
        "conout$",
        *(f"{port}{k}" for port in ("com", "lpt") for k in "123456789¹²³"),
    ]
)


def read_file(path: Path, most: int | None = None) -> bytes:
    """The content of a file of at most `most` bytes. Raises ScalarError, in words, for any failure."""
    name = shown_path(path)
    try:
        if not path.exists():
            raise ScalarError(f"there is no file {name}", _near(path))
        if path.is_dir():
            raise ScalarError(f"{name} is a folder, not a file")
        if not path.is_file():
            raise ScalarError(f"{name} is not an ordinary file")
        if most is not None and (size := path.stat().st_size) > most:
            raise ScalarError(f"{name} has {size} bytes; none of its kind needs more than {most}")
        return path.read_bytes()
    except PermissionError:
        raise ScalarError(f"{name} may not be read", "check the rights of the file and its folder") from None
    except (OSError, ValueError):  # a name that no file can have, a loop of links, a failing disk
        raise ScalarError(f"{name} cannot be read") from None


def is_same_file(one: Path, two: Path) -> bool:
    """Whether two paths lead to one file, through links; False if one of them leads nowhere."""
    try:
        return one.samefile(two)
    except (OSError, ValueError):
        return False


def is_a_device(name: str) -> bool:
    """Whether Windows takes a file or folder with this name, with any suffix, for a device."""
    return name.split(".")[0].rstrip(" ").casefold() in DEVICES


def unfit_name(name: str) -> str:
    """Why a file cannot have this name on every system a job may go to; empty if it can."""
    if is_a_device(name):
        return f"Windows keeps the name {name.split('.')[0]} for a device"
    if wrong := [char for char in name if char in '<>:"|?*' or ord(char) < 32]:
        return f"Windows has no {shown(wrong[0])} in the names of files"
    return "Windows drops a dot or blank at the end of a name" if name != name.rstrip(". ") else ""


def shown_path(path: Path) -> str:
    """A path for a sentence, with `..` resolved."""
    return os.path.normpath(path)


def folder_of(named: str) -> str:
    """The folder of a file as a spec names it: "." if it is beside the spec."""
    return PurePosixPath(named.replace("\\", "/")).parent.as_posix()


def path_from_here(path: str, folder: str) -> str:
    """The path, from this spec, of a file that a spec in `folder` calls `path`."""
    return posixpath.normpath(PurePosixPath(folder, path.replace("\\", "/")).as_posix())


def seen_from(others: Iterable[tuple[str, str]], folder: str) -> tuple[tuple[str, str], ...]:
    """The files (with hashes) that a spec in `folder` names, by their paths from this spec."""
    return tuple((path_from_here(path, folder), sha256) for path, sha256 in others)


def _near(path: Path) -> str:
    if not path.parent.is_dir():
        return f"there is no folder {shown_path(path.parent)} either"
    alike = [other.name for other in path.parent.iterdir() if other.stem.casefold() == path.stem.casefold()]
    return f"the folder has {', '.join(sorted(alike)[:3])}" if alike else ""
