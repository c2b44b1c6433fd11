"""What a check leaves out while paths are still to be found."""

from __future__ import annotations

from collections.abc import Sequence

from headergen.model.finding import Finding
from headergen.words.say import capital, say_list

NEED_ALL_RUNS = frozenset({"sensor-sees"})  # rules that follow the gas through all runs


def without_path(names: Sequence[str], spec: str) -> Finding:
    """An error that these runs of a spec have no path yet: while any are missing, no header is clear."""
    one = len(names) == 1
    message = (
        f"{capital(say_list(list(names)))} {'is' if one else 'are'} not checked: {'it has' if one else 'they have'} no "
        f"path yet, so {'its' if one else 'their'} gaps, lengths and ends, and what stands on "
        f"{'it' if one else 'them'}, are not known; run headergen route {spec}."
    )
    return Finding("path-missing", "error", "paths", None, None, "", message)
