"""The compiled part of the search: residuals of all tubes of a header, and Levenberg–Marquardt on them.

What numba compiles is kept in the user's cache folder under the hash of this folder's files: a compiled caller does
not notice by itself that a function it calls, in another file, has changed.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

import numba

HERE = Path(__file__).parent


def _cache_folder() -> Path:
    """Where compiled kernels are kept; a temporary folder where the user's cannot be written."""
    content = b"".join(path.read_bytes() for path in sorted(HERE.glob("*.py")))
    name = f"kernels-{hashlib.sha256(content).hexdigest()[:16]}"
    home = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or Path.home() / ".cache"
    folder = Path(home) / "headergen" / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if os.access(folder, os.W_OK):
            return folder
    except OSError:
        pass
    return Path(tempfile.gettempdir()) / f"headergen-{name}"


numba.config.CACHE_DIR = str(_cache_folder())  # type: ignore[attr-defined]
