"""Runs: their centrelines, and the round bodies that their outsides are made of."""

from __future__ import annotations

from dataclasses import replace

from headergen.geometry.curves.body import Body, tube_body
from headergen.geometry.curves.centreline import cut_out, trace
from headergen.geometry.curves.stepped import is_stepped, outside_spans
from headergen.model import Centreline, ChassisItem, Run

SLIVER = 1e-9  # mm


def line_of(run: Run) -> Centreline:
    """The exact centreline of a run, from its start."""
    return trace(run.start.frame, run.steps, run.name)


def free_length(run: Run, item: ChassisItem) -> float:
    """The length at the start of a run that is not measured against an item; only runs from the flange have one."""
    return item.free_for(run.port.flange) if run.is_primary else 0.0


def run_bodies(run: Run, line: Centreline, low: float = 0.0, high: float | None = None) -> tuple[Body, ...]:
    """The outside of a run between two lengths along it: one body, or for a stepped run one for each of its sizes.

    Each has flat ends. Where two meet, the smaller one's end is covered by the larger, and what the larger one stands
    out is its real end.
    """
    if not is_stepped(run):
        part = line if high is None and low == 0.0 else cut_out(line, low, line.length if high is None else high)
        return (tube_body(part, run.tube.radius, low),)
    bodies = []
    for span in outside_spans(run, low, min(line.length, line.length if high is None else high)):
        part = _without_slivers(cut_out(line, span.start, span.end))
        if part.segments:
            first, last = span.radii
            body = tube_body(part, max(span.radii), span.start)
            bodies.append(body if first == last else replace(body, cone=(first, last)))
    return tuple(bodies)


def _without_slivers(line: Centreline) -> Centreline:
    """Without segments that are there only because a length was added up in another order."""
    return replace(line, segments=tuple(segment for segment in line.segments if segment.length > SLIVER))
