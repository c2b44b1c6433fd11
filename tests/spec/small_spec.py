"""The smallest spec there is, one straight tube, for tests that change a little of it."""

from __future__ import annotations

from pathlib import Path

from headergen.model import Draft
from headergen.spec.complaint import Complaint, SpecError
from headergen.spec.reader import read_spec

SMALL = """\
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports:
    1: {at: [0, 0], shape: {round: 38}}
collectors:
  main:
    plane: {origin: [0, 200, 0], normal: [0, 1, 0], x: [1, 0, 0]}
    join: weld
    pattern: line
    bores: [1]
primaries:
  1:
    - {straight: 200}
"""


def changed(*changes: tuple[str, str], end: str = "") -> str:
    """SMALL with some of its text replaced; each must occur once."""
    text = SMALL
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text + end


def draft_of(folder: Path, text: str) -> Draft:
    path = folder / "spec.yaml"
    path.write_text(text, encoding="utf-8")
    return read_spec(path)[1]


def complaints_of(folder: Path, text: str | bytes) -> tuple[Complaint, ...]:
    """What is wrong with a spec; empty when nothing is."""
    path = folder / "spec.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    try:
        read_spec(path)
    except SpecError as error:
        return error.complaints
    return ()
