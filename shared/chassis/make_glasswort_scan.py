"""Makes glasswort_scan.stl, the side frame of the Glasswort as a hand scanner sees it: `python make_glasswort_scan.py`.

Invented for the demo. Seen from the engine bay only, so every member is an open shell; noisy, with holes where the
scanner lost its marks, a strap that hung in the way and a few triangles twice. Millimetres, in the scanner's own axes,
which are square to nothing in the vehicle. What was found in both, by scanner and by tape, is printed for the spec.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from headergen.geometry.frames import axes_matrix, frame_from_normal, subtract
from headergen.model import Vec

MEMBERS: tuple[tuple[float, Vec, Vec], ...] = (
    (40.0, (330.0, 430.0, -300.0), (-900.0, 430.0, -300.0)),  # lower rail
    (40.0, (330.0, 440.0, 190.0), (-900.0, 440.0, 190.0)),  # upper rail
    (32.0, (-330.0, 430.0, -300.0), (-330.0, 440.0, 190.0)),  # upright
    (26.0, (160.0, 445.0, -290.0), (-320.0, 445.0, 170.0)),  # diagonal
)
MARKS: tuple[tuple[str, Vec], ...] = (  # bolt holes and edges that a tape finds again
    ("front bracket hole", (310.0, 409.0, -300.0)),
    ("rear bracket hole", (-870.0, 409.0, -301.0)),
    ("upper tab", (250.0, 419.0, 190.0)),
    ("seat belt boss", (-860.0, 420.5, 188.0)),
    ("mount plate corner", (-330.0, 300.0, -60.0)),
)
SCANNER = frame_from_normal((812.4, -1290.7, 431.9), (0.31, -0.22, 0.92), (0.6, 0.75, 0.1))
STEP, SIDES, SEEN = 16.0, 14, np.radians(215.0)  # mm along, facets round, and how far round is seen
NOISE, TAPE = 0.25, 0.6  # mm, standard deviation of the scanner, and of a tape measure
HOLES, DOUBLES = 26, 12


def member(rng: np.random.Generator, diameter: float, start: Vec, end: Vec) -> np.ndarray:
    """(n, 3, 3) triangles of the side that faces the engine, at y = 0."""
    axis = np.array(subtract(end, start))
    length = float(np.linalg.norm(axis))
    axis /= length
    toward = np.array([0.0, -1.0, 0.0]) - axis * -axis[1]
    toward /= np.linalg.norm(toward)
    beside = np.cross(axis, toward)
    along = np.linspace(0.0, length, max(2, round(length / STEP)) + 1)
    turn = np.linspace(-SEEN / 2, SEEN / 2, SIDES + 1)
    ring = np.cos(turn)[:, None] * toward + np.sin(turn)[:, None] * beside
    points = np.array(start) + along[:, None, None] * axis + diameter / 2 * ring
    points += rng.normal(0.0, NOISE, points.shape[:2])[..., None] * ring
    a, b, c, d = points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]
    return np.concatenate([np.stack(corners, axis=2).reshape(-1, 3, 3) for corners in ((a, b, c), (a, c, d))])


def strap(rng: np.random.Generator) -> np.ndarray:
    """A strip of cloth that hung from the upper rail."""
    down = np.linspace(0.0, 1.0, 13)
    left = np.array([-700.0, 418.0, 175.0]) + down[:, None] * np.array([12.0, 9.0, -240.0])
    left += rng.normal(0.0, 2.0, left.shape)
    right = left + np.array([28.0, 3.0, 0.0])
    a, b, c, d = left[:-1], left[1:], right[1:], right[:-1]
    return np.concatenate([np.stack(corners, axis=1) for corners in ((a, b, c), (a, c, d))])


def scanned() -> np.ndarray:
    """(n, 3, 3) in engine axes."""
    rng = np.random.default_rng(6)
    triangles = np.concatenate([member(rng, *each) for each in MEMBERS] + [strap(rng)])
    middle = triangles.mean(axis=1)
    kept = np.ones(len(triangles), dtype=bool)
    for centre in middle[rng.integers(len(middle), size=HOLES)]:
        kept &= np.linalg.norm(middle - centre, axis=1) > rng.uniform(10.0, 26.0)
    triangles = triangles[kept]
    return np.concatenate([triangles, triangles[rng.integers(len(triangles), size=DOUBLES)]])


def by_scanner(points: np.ndarray) -> np.ndarray:
    return (points - np.array(SCANNER.origin)) @ axes_matrix(SCANNER).T


def main() -> None:
    corners = by_scanner(scanned())
    records = np.zeros(len(corners), np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")]))
    records["corners"] = corners
    content = b"left side frame".ljust(80) + len(corners).to_bytes(4, "little") + records.tobytes()
    Path(__file__).with_name("glasswort_scan.stl").write_bytes(content)
    rng = np.random.default_rng(7)
    for name, place in MARKS:
        scan = by_scanner(np.array(place)) + rng.normal(0.0, NOISE, 3)
        tape = np.array(place) + rng.normal(0.0, TAPE, 3)
        print(f"- {{name: {name}, scan: {np.round(scan, 2).tolist()}, engine: {np.round(tape).astype(int).tolist()}}}")


if __name__ == "__main__":
    main()
