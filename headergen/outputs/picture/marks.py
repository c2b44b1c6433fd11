"""The marks of errors in a picture: the place of each, and a few words about it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.mesh.triangles import Faces, TriangleMesh
from headergen.model import Header, Vec
from headergen.model.finding import Finding
from headergen.words.numbers import INCH

SEEN = 9.0  # mm, radius of the ball that tests whether a place is visible
BALL = np.array([[1.0, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1]])
OCTANTS: Faces = np.array([[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]])
WORDS = {  # of rules whose findings are not about two things
    "end-position": "misses its bore",
    "end-angle": "not square",
    "length": "length",
    "length-spread": "longer than the others",
    "own-crossing": "crosses itself",
    "bend-radius": "bend too tight",
    "min-straight": "straight too short",
    "end-parallel": "not parallel",
    "closing": "does not close",
}


@dataclass(frozen=True)
class Mark:
    """An error: its place in engine axes (None if it has no place), its text in lines, and how deep it lies."""

    place: Vec | None
    lines: tuple[str, ...]
    deep: float = 0.0


def marks_of(header: Header, findings: Sequence[Finding]) -> tuple[Mark, ...]:
    """A mark for each error, the worst first: gaps by their shortfall, then the others in their order."""
    errors = [finding for finding in findings if finding.level == "error"]
    return tuple(_mark(header, finding) for finding in sorted(errors, key=_rank))


def balls(marks: Sequence[Mark]) -> Iterator[TriangleMesh]:
    """A small body at the place of each mark, large enough to show outside what it is in."""
    for mark in marks:
        if mark.place is not None:
            yield TriangleMesh(np.array(mark.place) + (SEEN + mark.deep) * BALL, OCTANTS, closed=True)


def _rank(finding: Finding) -> float:
    if not finding.against or finding.value is None or finding.limit is None:
        return 0.0
    return (finding.value - finding.limit) * (INCH if finding.unit == "in" else 1.0)


def _mark(header: Header, finding: Finding) -> Mark:
    deep = -min(finding.value or 0.0, 0.0) * (INCH if finding.unit == "in" else 1.0) if finding.against else 0.0
    return Mark(
        finding.point or _middle(header, finding),
        (_capital(finding.where).replace("collector ", ""), _said(finding)),
        deep,
    )


def _said(finding: Finding) -> str:
    what = finding.against or WORDS.get(finding.rule, finding.rule)
    return what if finding.rule == "own-crossing" else f"{what}: {_figures(finding)}"


def _figures(finding: Finding) -> str:
    if finding.value is None:
        return "see report"
    unit = "°" if finding.unit == "deg" else f" {finding.unit}"
    digits = {"in": 3, "deg": 2}.get(finding.unit, 1)
    value = f"{abs(finding.value):.{digits}f}{unit}"
    if finding.against:
        return f"{value} {'deep' if finding.value < 0 else 'apart'}"
    return value


def _middle(header: Header, finding: Finding) -> Vec | None:
    """The middle of the run of a finding that has no place."""
    line = next((each for each in header.centrelines if finding.where == each.run), None)
    return None if line is None else frame_at(line, line.length / 2)[0]


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
