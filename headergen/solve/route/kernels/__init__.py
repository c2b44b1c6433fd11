"""The compiled part of the search: residuals of all tubes of a header, and Levenberg–Marquardt on them.

What numba compiles is kept in the user's cache folder under the hash of this folder's files: a compiled caller does
not notice by itself that a function it calls, in another file, has changed.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
import tempfile
from pathlib import Path

import numba
import platformdirs

HERE = Path(__file__).parent


def _cache_folder() -> Path:
    """Where compiled kernels are kept: what is read from there is run, so nobody else may have made the folder.

    Where the user's own cache cannot be written it is a fresh one, for this run alone.
    """
    content = b"".join(path.read_bytes() for path in sorted(HERE.glob("*.py")))
    name = f"kernels-{hashlib.sha256(content).hexdigest()[:16]}"
    try:
        folder = platformdirs.user_cache_path("headergen") / name
        if folder.is_absolute():  # it is not for a user without a home
            folder.mkdir(parents=True, exist_ok=True)
            if os.access(folder, os.W_OK):
                return folder
    except OSError:
        pass
    fresh = Path(tempfile.mkdtemp(prefix="headergen-"))
    atexit.register(shutil.rmtree, fresh, ignore_errors=True)
    return fresh


numba.config.CACHE_DIR = str(_cache_folder())  # type: ignore[attr-defined]
