"""Which runs have a length in common, and the length that each must have."""

from __future__ import annotations

from headergen.model.inputs import Draft, Run


def has_common_length(run: Run) -> bool:
    """Whether it is one of the tubes that are equally long: from a port into a collector, not to a place of its own."""
    return run.is_primary and not run.end.ends_run


def required_length(run: Run, draft: Draft) -> float | None:
    """The target length (mm) of a run: its own; for a primary into a collector, else the header's; else none."""
    return draft.length.target if run.target is None and has_common_length(run) else run.target
