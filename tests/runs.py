"""Primaries for tests, with the least said of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from headergen.model import Bore, Draft, Port, Run, Step, Tube, primary_name

TUBE = Tube(42.4, 1.5, "304L")


def primary(number: int, port: Port, bore: Bore, steps: Sequence[Step], tube: Tube = TUBE, **more: Any) -> Run:
    """The run from a port to a bore."""
    return Run(primary_name(number), tube, port, replace(bore, run=primary_name(number)), tuple(steps), **more)


def with_tube(draft: Draft, tube: Tube) -> Draft:
    """The same draft of another tube."""
    return replace(draft.with_primaries(replace(run, tube=tube) for run in draft.primaries), tube=tube)
