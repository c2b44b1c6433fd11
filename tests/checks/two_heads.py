"""A header on two heads, and each half of it as a header of its own on a single flange, of the same data."""

from __future__ import annotations

from pathlib import Path

from headergen.model import Header
from headergen.pipeline import settle

LEFT = """\
plane: {origin: [0, 0, 0], normal: [0.9, 0.2, -0.4], x: [0, 1, 0]}
thickness: 10
bolts: [{at: [-36, 4], hole: 8.5}, {at: [36, 0], hole: 8.5}]
ports: {1: {at: [0, 0], shape: {d: [36, 34, 5]}, transition: 35, turn: 12}}
"""
RIGHT = """\
plane: {origin: [-30, -300, 5], normal: [0.8, -0.3, -0.5], x: [0.1, 1, 0]}
thickness: 12
seat: butt
bolts: [{at: [-34, 0], hole: 9}, {at: [34, 0], hole: 9}]
ports: {2: {at: [1.5, 0], shape: {round: 35}, tilt: {angle: 6, toward: 40}}}
"""
PATHS = {
    1: "[{straight: 60}, {bend: 50, radius: 57, rotation: -120}, {straight: 150}, {bend: 100, radius: 57, rotation: 8},"
    " {straight: 300}]",
    2: "[{straight: 30}, {bend: 65, radius: 57, rotation: -25}, {straight: 170}, {bend: 95, radius: 57, rotation: -35},"
    " {straight: 320}]",
}
PLACES = {1: (0.0, 21.5), 2: (0.0, -21.5)}
START = """\
format: 1
job: {title: Two heads, revision: A, date: 2026-06-11}
units: mm
tube: {outside_diameter: 38.1, wall: 1.5, material: 304L}
limits: {min_straight: 10, between_tubes: 8}
"""
COLLECTOR = """\
collectors:
  main: {{plane: {{origin: [-430, -128, -262], normal: [-1, 0, 0], x: [0, 1, 0]}}, join: weld,
    pattern: {places}, bores: {bores}}}
"""
CHASSIS = """\
chassis:
  - {name: crankcase, box: {center: [-210, -148, -40], size: [300, 190, 260]}, clearance: 15}
  - {name: rail, cylinder: {from: [300, 95, -250], to: [-900, 95, -250], diameter: 50}, clearance: 15}
  - {name: hose, tube: {points: [[80, -340, -20], [20, -345, -20], [-60, -380, 0]], diameter: 12}, clearance: 400}
  - {name: floor, plane: {origin: [0, 0, -420], normal: [0, 0.1, 1]}, clearance: 400}
"""


def _indented(text: str, by: str) -> str:
    return "".join(f"{by}{line}\n" for line in text.splitlines())


def both_text() -> str:
    flanges = f"flanges:\n  left:\n{_indented(LEFT, '    ')}  right:\n{_indented(RIGHT, '    ')}"
    places = [list(PLACES[number]) for number in PATHS]
    primaries = "primaries:\n" + "".join(f"  {number}: {path}\n" for number, path in PATHS.items())
    return START + flanges + COLLECTOR.format(places=places, bores=list(PATHS)) + primaries + CHASSIS


def one_text(number: int) -> str:
    """The half of port `number`, by the short form."""
    flange = f"flange:\n{_indented({1: LEFT, 2: RIGHT}[number], '  ')}"
    collector = COLLECTOR.format(places=[list(PLACES[number])], bores=[number])
    return START + flange + collector + f"primaries:\n  {number}: {PATHS[number]}\n" + CHASSIS


def header_of(text: str, folder: Path) -> Header:
    folder.mkdir(exist_ok=True)
    (folder / "spec.yaml").write_text(text, encoding="utf-8")
    return settle(folder / "spec.yaml")
