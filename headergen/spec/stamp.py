"""The line at the top of a file that headergen wrote: its hash of all that follows shows whether it was changed."""

from __future__ import annotations

import hashlib
from pathlib import Path

ROUTED, CASE, AS_BUILT = "# routed: ", "# case: ", "# as built: "
TOPS = (ROUTED, CASE, AS_BUILT)


def stamped(body: str, line: str) -> str:
    """The text with a line at its top that begins with one of TOPS; the line for editors stays the first one."""
    top = f"{line} sha256 {_digest(body)}"
    if body.startswith("# yaml-language-server"):
        first, rest = body.split("\n", 1)
        return f"{first}\n{top}\n{rest}"
    return f"{top}\n{body}"


def is_unchanged(path: Path) -> bool:
    """Whether a file was made by stamped() and not changed since."""
    try:
        lines = path.read_text(encoding="utf-8").split("\n")
    except UnicodeDecodeError:
        return False
    at = next((k for k, line in enumerate(lines[:2]) if line.startswith(TOPS)), None)
    if at is None:
        return False
    body = "\n".join([*lines[:at], *lines[at + 1 :]])
    return lines[at].endswith(f" sha256 {_digest(body)}")


def _digest(body: str) -> str:
    return hashlib.sha256(body.encode()).hexdigest()[:16]
