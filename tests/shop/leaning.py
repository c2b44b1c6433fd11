"""Benches whose first port leans, with a first straight that is long enough for it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import tilted
from headergen.model import Header, Straight
from tests.shop.benches import random_bench


def leaning_bench(degrees: float, toward: float, seed: int = 3, more: float = 250.0, **of_port: Any) -> Header:
    """`more`: mm of the first straight, added; `of_port`: of the first port, as its transition."""
    header = random_bench(seed)
    [run, *others] = header.runs
    flange = header.draft.flange_of(run.port)
    port = replace(run.port, frame=tilted(run.port.frame, math.radians(degrees), math.radians(toward)), **of_port)
    first, *rest = run.steps
    assert isinstance(first, Straight)
    run = replace(run, start=port, steps=(Straight(first.length + more), *rest))
    flange = replace(flange, ports=(port, *flange.ports[1:]))
    runs = (run, *others)
    draft = replace(header.draft, runs=runs, flanges=(flange,))
    lines = (trace(port.frame, run.steps, run.name), *header.centrelines[1:])
    return replace(header, draft=draft, runs=runs, centrelines=lines)
