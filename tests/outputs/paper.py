"""What a fabricator reads on the sheets, from the letters of the PDF alone, and the tube that comes of it.

Knows nothing of headergen: text in, figures and points out. Lengths come out in millimetres, angles in radians.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdf
from numpy.typing import NDArray

Vector = NDArray[np.float64]
NUMBER = r"(-?\d+\.\d+)"
PIECE = re.compile(
    rf"^(\d+)\n(bend|straight)\n{NUMBER}\n(?:{NUMBER}°\n{NUMBER}\n)?((?:.|\n)*?)(?=^\d+\n(?:bend|straight)\n|\Z)", re.M
)
TURN = re.compile(
    rf"^(?:flange|outlet|\d+)\n(\d+)\n(?:x of the\s(?:flange|outlet)|bend of\spiece (\d+))\n{NUMBER}°\n"
    rf"(clockwise|counter-\s?clockwise)?",
    re.M,
)
STEP = re.compile(rf"^\d+\nbend\n{NUMBER}\n{NUMBER}\n{NUMBER}\n{NUMBER}\n", re.M)
HEIGHT = re.compile(rf"^(\d+)\n(\d+)\n{NUMBER}\n{NUMBER}\n{NUMBER}\n([+-]\d+\.\d+)°", re.M)
SQUARE = re.compile(
    rf"^(\d+)\n(start|end)\n(\d+)\n((?:first|second) leg, {NUMBER} long|bar; left on for both ends)\n"
    rf"{NUMBER}\n{NUMBER}\n{NUMBER}$",
    re.M,
)
ARC = re.compile(
    rf"^(\d+),\s(start|end),\s(\d+)\n(first|second)\sleg,\s{NUMBER}\slong\n{NUMBER}\n{NUMBER}\n{NUMBER}$",
    re.M,
)
CHORDS = re.compile(rf"^(\d+),\s(start|end),\s(\d+)\n{NUMBER}\n{NUMBER}\n{NUMBER}°\n{NUMBER}\n{NUMBER}°$", re.M)


@dataclass(frozen=True)
class PaperPiece:
    number: int
    before: float
    angle: float
    after: float
    radius: float


@dataclass(frozen=True)
class PaperHeight:
    piece: int
    flat: int
    at: tuple[float, float, float]
    lean: float


@dataclass(frozen=True)
class PaperTube:
    """`turns` by piece; of a piece whose turn comes of closing it is that of its step. `begins`: centreline length less
    cut length. `square`, `arcs`: saw lines by piece and end; net, what is left on and the saw's, or outside, middle,
    inside, the angle, both chords, and what is left on in mm and as an angle. `leans`: what a bevel on the flange's
    face shows along x and along y. `end`: out, along x, along y."""

    name: str
    centreline: float
    begins: float
    leans: tuple[float, float]
    pieces: tuple[PaperPiece, ...]
    turns: dict[int, float]
    square: dict[tuple[int, str], tuple[float, ...]]
    arcs: dict[tuple[int, str], tuple[float, ...]]
    heights: tuple[PaperHeight, ...]
    end: tuple[float, float, float]


def read(file: Path) -> list[PaperTube]:
    """Every tube that has pieces."""
    texts = [page.extract_text() for page in pypdf.PdfReader(file).pages]
    unit = 25.4 if "Lengths in inches" in texts[0] else 1.0
    kept = [_without_head_and_foot(text) for text in texts]
    whole = "\n".join(kept)
    starts = list(re.finditer(r"^((?:Primary|Secondary) [^\n:,]+)\nTube ", whole, re.M))
    last = re.search(r"Steps of every tube|\Z", whole)
    assert last is not None
    ends = [*(match.start() for match in starts[1:]), last.start()]
    return [
        _tube(match[1], whole[match.start() : end], _rotations(whole, match[1].lower()), unit)
        for match, end in zip(starts, ends, strict=True)
    ]


def _rotations(whole: str, name: str) -> list[float]:
    """Of the bends of a tube, from its table of steps."""
    return [math.radians(float(each[1])) for each in STEP.findall(_between(whole, f"Steps of {name}$", "Steps of "))]


def _without_head_and_foot(text: str) -> str:
    lines = (line.strip() for line in text.splitlines())
    return "\n".join(
        line for line in lines if line and not re.match(r"hash |Lengths in |page \d+ of|.*, revision \S+, \d{4}-", line)
    )


def _between(text: str, head: str, *tails: str) -> str:
    start = re.search(rf"^{head}.*$", text, re.M)
    if start is None:
        return ""
    rest = text[start.end() :]
    found = [match.start() for tail in tails if (match := re.search(rf"^{tail}", rest, re.M))]
    return rest[: min(found, default=len(rest))].lstrip("\n")


def _tube(name: str, text: str, rotations: list[float], unit: float) -> PaperTube:
    flowing = " ".join(text.split())
    lengths = re.search(rf"Centreline length {NUMBER} \w+; cut length {NUMBER}", flowing)
    out = re.search(
        rf": {NUMBER} out, {NUMBER} along (?:the flange's|the outlet's|its) x, {NUMBER} along its y", flowing
    )
    assert lengths and out
    centreline, cut = (unit * float(each) for each in lengths.groups())
    listed = _between(text, "Pieces, net", "To be cut", "Saw ", "Not from the stock", "The start is sawn")
    pieces = tuple(_piece(match, unit) for match in PIECE.finditer(listed))
    saw = _between(text, "Saw ", "Turn, seen", "Check on", "The finished tube")
    turned = _between(text, "Turn, seen", "Check on", "Build from", "The finished tube")
    return PaperTube(
        name.lower(),
        centreline,
        centreline - cut,
        _leans(flowing),
        pieces,
        _turns(turned, pieces, rotations),
        {(int(m[1]), m[2]): tuple(unit * float(m[k]) for k in (6, 7, 8)) for m in SQUARE.finditer(saw)},
        _arcs(saw, unit),
        tuple(_height(match, unit) for match in HEIGHT.finditer(_between(text, "Check on", "The finished tube"))),
        tuple(unit * float(each) for each in out.groups()),  # type: ignore[arg-type]
    )


def _arcs(saw: str, unit: float) -> dict[tuple[int, str], tuple[float, ...]]:
    """Both tables of the ends that are cut inside an arc."""
    along = {(int(m[1]), m[2]): tuple(unit * float(m[k]) for k in (6, 7, 8)) for m in ARC.finditer(saw)}
    across = {
        (int(m[1]), m[2]): (
            math.radians(float(m[6])),
            *(unit * float(m[k]) for k in (4, 5, 7)),
            math.radians(float(m[8])),
        )
        for m in CHORDS.finditer(saw)
    }
    assert along.keys() == across.keys()
    return {cut: (*along[cut], *across[cut]) for cut in along}


def _leans(flowing: str) -> tuple[float, float]:
    said = re.search(
        rf"A bevel on the face shows {NUMBER}° from square (toward|away from) x with its stock along x, "
        rf"and {NUMBER}° from square (toward|away from) y with its stock along y",
        flowing,
    )
    if said is None:
        return (0.0, 0.0)
    x, y = (math.radians(float(said[k])) * (1 if said[k + 1] == "toward" else -1) for k in (1, 3))
    return (x, y)


def _piece(match: re.Match[str], unit: float) -> PaperPiece:
    clr = re.search(rf"CLR\s{NUMBER}", match[6])
    angle, after = (0.0 if each is None else float(each) for each in (match[4], match[5]))
    radius = unit * float(clr[1]) if clr and match[2] == "bend" else 0.0
    return PaperPiece(int(match[1]), unit * float(match[3]), math.radians(angle), unit * after, radius)


def _turns(text: str, pieces: tuple[PaperPiece, ...], rotations: list[float]) -> dict[int, float]:
    found = {}
    for match in TURN.finditer(text):
        way = -1.0 if (match[4] or "").startswith("counter") else 1.0
        found[int(match[1])] = way * math.radians(float(match[3]))
    bends = [piece.number for piece in pieces if piece.angle > 0]
    if len(bends) == len(rotations):
        found |= {number: turn for number, turn in zip(bends, rotations, strict=True) if number not in found}
    return found


def _height(match: re.Match[str], unit: float) -> PaperHeight:
    along, left, above = (unit * float(match[k]) for k in (3, 4, 5))
    return PaperHeight(int(match[1]), int(match[2]), (along, left, above), math.radians(float(match[6])))


def drawn_end(tube: PaperTube) -> Vector:
    """Out, along x, along y of where the last piece ends, when they are put together on the flange one by one."""
    way = np.array([1.0, *np.tan(tube.leans)])
    way /= np.linalg.norm(way)
    at, side = tube.begins * way, _leant(way, np.array([0.0, 1.0, 0.0]))
    for piece in tube.pieces:
        at, way, side = added((at, way, side), piece, tube.turns.get(piece.number, 0.0))
    return at


def _leant(way: Vector, side: Vector) -> Vector:
    """A mark at x of a tube that stood square, leant over to `way` without being turned (Rodrigues' rotation)."""
    axis = np.cross([1.0, 0.0, 0.0], way)
    return side * way[0] + np.cross(axis, side) + axis * (axis @ side) / (1 + way[0])


def drawn_on_table(tube: PaperTube, height: PaperHeight) -> tuple[Vector, float]:
    """Along, left, above, and the lean (rad) of the end of a piece, with a bend lying flat and turning left."""
    at, way, side = np.zeros(3), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    by_number = {piece.number: piece for piece in tube.pieces}
    at = at - by_number[height.flat].before * way
    for number in range(height.flat, height.piece + 1):
        turn = 0.0 if number == height.flat else tube.turns.get(number, 0.0)
        at, way, side = added((at, way, side), by_number[number], turn)
    return at, math.asin(way[2])


def added(pose: tuple[Vector, Vector, Vector], piece: PaperPiece, turn: float) -> tuple[Vector, Vector, Vector]:
    """One more piece: first its straight, then turned and bent, then straight again."""
    at, way, side = pose
    at = at + piece.before * way
    if piece.angle == 0:
        return at, way, side
    side = math.cos(turn) * side + math.sin(turn) * np.cross(way, side)
    c, s = math.cos(piece.angle), math.sin(piece.angle)
    at = at + piece.radius * (s * way + (1 - c) * side)
    way, side = c * way + s * side, c * side - s * way
    return at + piece.after * way, way, side
