"""The compiled part of the search: residuals of all tubes of a header, and Levenberg–Marquardt on them.

Code compiled by numba is kept in the user's cache folder under the hash of this folder's files, because a compiled
caller does not notice a change of a function in another file.
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
    """The folder of compiled kernels. Its files are executed, so nobody else may have made the folder.

    If the user's own cache cannot be written, it is a new folder for this run only.
    """
    content = b"".join(path.read_bytes() for path in sorted(HERE.glob("*.py")))
    name = f"kernels-{hashlib.sha256(content).hexdigest()[:16]}"
    try:
        folder = platformdirs.user_cache_path("headergen") / name
        if folder.is_absolute():  # it is not absolute for a user without a home
            folder.mkdir(parents=True, exist_ok=True)
            if os.access(folder, os.W_OK):
                return folder
    except OSError:
        pass
    fresh = Path(tempfile.mkdtemp(prefix="headergen-"))
    atexit.register(shutil.rmtree, fresh, ignore_errors=True)
    return fresh


numba.config.CACHE_DIR = str(_cache_folder())  # type: ignore[attr-defined]
