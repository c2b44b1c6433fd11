"""A collector moved to another place, with everything on it."""

from __future__ import annotations

from dataclasses import replace

from headergen.geometry.frames import axes_matrix, point_in, subtract, vec
from headergen.model import Collector, Draft, Frame, Outlet, Run, Vec


def with_collector_at(draft: Draft, name: str, frame: Frame) -> Draft:
    """The draft with one collector's plane, its bores and everything on it moved to a frame."""
    collector = next(c for c in draft.collectors if c.name == name)
    back = axes_matrix(collector.frame)

    def direction(vector: Vec) -> Vec:
        return subtract(point_in(frame, vec(back @ vector)), frame.origin)

    def carried(old: Frame) -> Frame:
        local = vec(back @ subtract(old.origin, collector.frame.origin))
        return Frame(point_in(frame, local), direction(old.x), direction(old.y), direction(old.z))

    def moved(each: Collector) -> Collector:
        if each.name != name:
            return each
        return replace(each, frame=frame, bores=tuple(replace(b, frame=carried(b.frame)) for b in each.bores))

    def run_moved(run: Run) -> Run:
        if isinstance(run.start, Outlet) and run.source == name:
            run = replace(run, start=replace(run.start, frame=carried(run.start.frame)))
        return replace(run, end=replace(run.end, frame=carried(run.end.frame))) if run.end.collector == name else run

    return replace(draft, collectors=tuple(map(moved, draft.collectors)), runs=tuple(map(run_moved, draft.runs)))
