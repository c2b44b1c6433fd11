"""How a command ends: its exit code, and what is said where that may be before click is loaded."""

from __future__ import annotations

CLEAN, FINDINGS, WRONG_USE, UNREADABLE, BROKEN, INTERRUPTED = 0, 1, 2, 3, 4, 130
STOPPED = "interrupted; nothing already made was changed"
NOT_LOADED = "a library cannot be loaded ({}); install headergen again as the README says"
