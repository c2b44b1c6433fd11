"""A tube on the table: its height after each joint with a bend lying flat, and the finished tube from the flange."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import angle_between, cross, dot, subtract
from headergen.model import BenchHeight, Centreline, CutPiece, FinishedTube, Frame, Header, LeaningStart, Run, Vec

SQUARE = 1e-6  # rad of a start's lean that count as none
JUST_INTO = 0.5  # share of a bend at which its plane is taken


def bench_heights(line: Centreline, pieces: Sequence[CutPiece]) -> Iterator[BenchHeight]:
    """After each joint, by the last bend before the added piece; if there is none, by that piece's own bend."""
    for k in range(1, len(pieces)):
        bends = [piece for piece in pieces[:k] if piece.is_bend] or [
            piece for piece in pieces[k : k + 1] if piece.is_bend
        ]
        if not bends:
            continue
        flat, added = bends[-1], pieces[k]
        frame = _flat_frame(line, flat)
        point, tangent, _ = frame_at(line, added.end)
        along, offset, height = _in(frame, subtract(point, frame.origin))
        lean = math.asin(max(-1.0, min(1.0, dot(tangent, frame.z))))
        yield BenchHeight(line.run, added.number, flat.number, along, offset, height, lean)


def _flat_frame(line: Centreline, bend: CutPiece) -> Frame:
    """At the start of a bend: x along the travel, y toward its centre, z up when it lies flat and turns left."""
    start = bend.start + bend.legs[0]
    into = start + bend.angle * bend.radius * JUST_INTO
    point, tangent, _ = frame_at(line, start)
    _, _, up = frame_at(line, into)
    return Frame(point, tangent, cross(up, tangent), up)


def _in(frame: Frame, vector: Vec) -> Vec:
    return dot(vector, frame.x), dot(vector, frame.y), dot(vector, frame.z)


def finished_tube(header: Header, run: Run, line: Centreline) -> FinishedTube:
    """A primary in the flange's own axes, from the centre of its port; a secondary in those of its outlet."""
    start = run.start.frame
    axes = header.draft.flange_of(run.port).frame if run.is_primary else start
    point, tangent, _ = frame_at(line, line.length)
    x, y, out = _in(axes, subtract(point, start.origin))
    return FinishedTube(run.name, out, x, y, angle_between(tangent, axes.z))


def leaning_starts(header: Header) -> Iterator[LeaningStart]:
    """For each primary whose port is not square to its flange: where its tube leans to."""
    for run in header.primaries:
        face, way = header.draft.flange_of(run.port).frame, run.port.frame.z
        x, y, out = _in(face, way)
        lean = angle_between(way, face.z)
        if lean > SQUARE:
            yield LeaningStart(run.name, lean, math.atan2(y, x), math.atan2(x, out), math.atan2(y, out))
