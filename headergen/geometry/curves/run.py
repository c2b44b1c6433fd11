"""Runs: their centrelines."""

from __future__ import annotations

from headergen.geometry.curves.centreline import trace
from headergen.model import Centreline, Run


def line_of(run: Run) -> Centreline:
    """The exact centreline of a run, from its start."""
    return trace(run.start.frame, run.steps, run.name)
