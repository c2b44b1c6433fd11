"""Arrays in files of a cache folder: read and written completely or not at all, with the oldest removed."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

PART = ".part"  # suffix of a file that is being written, after the number of the process that writes it
AN_HOUR = 3600.0  # seconds; no write takes this long
DIGEST = "digest"  # the array that holds the checksum of all others

Content = TypeVar("Content")


def users_folder(name: str) -> Path:
    """A folder of the user's cache; it need not exist."""
    import platformdirs

    return platformdirs.user_cache_path("headergen") / name


def taken(folder: Path, key: str, read: Callable[[Mapping[str, Any]], Content], sealed: bool = True) -> Content | None:
    """The result of `read` for the arrays kept under a key, if they are there and complete; damaged ones are removed.

    `read` may raise any exception for damaged arrays. Arrays that are not `sealed` have only the file's own checksum:
    for large arrays, another one takes longer than reading.
    """
    path = _path(folder, key)
    try:
        if not path.is_file():
            return None
        with np.load(path, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
        if sealed and str(arrays.pop(DIGEST)) != digest(arrays):
            raise ValueError("not as it was kept")
        found = read(arrays)
    except Exception:  # damage may raise anything in the zip, array and other readers
        with suppress(OSError):
            path.unlink(missing_ok=True)
        return None
    with suppress(OSError):
        os.utime(path)  # marks it as used now
    return found


def keep(folder: Path, key: str, arrays: Mapping[str, Any], sealed: bool = True) -> None:
    """Keep arrays under a key. A full disk or a read-only folder changes nothing."""
    if not folder.is_absolute():  # a user without a home
        return
    stored: dict[str, Any] = {**arrays, **({DIGEST: np.array(digest(arrays))} if sealed else {})}
    path = _path(folder, key)
    beside = path.with_name(f"{path.name}.{os.getpid()}{PART}")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with beside.open("wb") as file:
            np.savez(file, **stored)
        beside.replace(path)
    except OSError:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


def tidy(folder: Path, most: float, size: Callable[[Path], float] = lambda path: path.stat().st_size) -> None:
    """Remove the least recently used files beyond `most` in `size` (default: bytes), and unfinished files."""
    with suppress(OSError):
        for beside in folder.glob(f"*{PART}"):
            if not _is_being_written(beside):
                beside.unlink(missing_ok=True)
        room = most
        for path in sorted(folder.glob("*.npz"), key=lambda path: path.stat().st_mtime, reverse=True):
            room -= size(path)
            if room < 0:
                path.unlink(missing_ok=True)


def _path(folder: Path, key: str) -> Path:
    return folder / f"{key}.npz"


def _is_being_written(beside: Path) -> bool:
    """Whether its writer is alive; its process number may be reused, so only for an hour."""
    import psutil  # imported only where there is such a file

    writer = beside.name.removesuffix(PART).rpartition(".")[2]
    lives = writer.isdecimal() and len(writer) < 10 and psutil.pid_exists(int(writer))
    return lives and time.time() - beside.stat().st_mtime < AN_HOUR


def digest(arrays: Mapping[str, Any]) -> str:
    """The checksum of arrays, independent of their order."""
    made = hashlib.sha256()
    for name, array in sorted(arrays.items()):
        array = np.asarray(array)
        made.update(f"{name} {array.dtype} {array.shape}".encode())
        made.update(np.ascontiguousarray(array).tobytes())
    return made.hexdigest()
