"""Specs with paths to be found, as text: a few ports in a row, one collector beside them, and little around."""

from __future__ import annotations

from pathlib import Path

from headergen.checks.measure import Meshes
from headergen.model import Draft
from headergen.routing import paths_to_find

TWO = """\
# Two into one; this comment stays.
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports:
    1: {at: [0, 0], shape: {round: 38}}
    2: {at: [100, 0], shape: {round: 38}}
collectors:
  main:
    plane: {origin: [-300, 250, -150], normal: [-1, 0, 0], x: [0, 1, 0]}
    join: slip
    slip: 40
    pattern: line
    bores: [1, 2]      # as they come
length: {target: 620, tolerance: 2}
limits: {between_tubes: 6, together: 105}
primaries:
  1: find              # to be found
  2: {find: true}
route: {radii: [63.5], bores: free}
chassis:
  - {name: rail, cylinder: {from: [300, 160, -190], to: [-500, 160, -190], diameter: 40}, clearance: 12}
  - {name: head, box: {center: [50, -80, 0], size: [320, 158, 160]}, clearance: 10, free_from_flange: 35}
"""


def changed(*changes: tuple[str, str]) -> str:
    text = TWO
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def job(folder: Path, text: str = TWO) -> tuple[Path, Draft, Meshes]:
    path = folder / "job.yaml"
    path.write_text(text, encoding="utf-8")
    wanted = paths_to_find(path)
    return path, wanted.draft, wanted.meshes
