"""Plain letters and digits made of strokes, cut into the outside of a tube or into a flat face.

A stroke is a row of bars, 1.4 mm wide at the surface and 0.6 mm deep: a 0.4 mm nozzle can print it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import pairwise

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold, OpType

from headergen.geometry.mesh.triangles import Points
from headergen.geometry.plate.lettering import Hand, Words
from headergen.mock.solid import prism

HEIGHT = 7.0  # of a letter
WIDTH = 4.2
SPACING = 2.4  # between letters, from stroke centre to stroke centre
NOSE = 0.7  # radius of a stroke
UNDER_LETTERS = 1.0  # mm of wall added where letters are cut into a tube, beside a slim spigot
RAISED = 0.1  # of the stroke's centre above the surface: the depth is NOSE minus this
SIDES = 16  # of a stroke's round end on a flat face
FILLED = 0.3  # mm; a thinner wall between strokes cannot be printed
HAND = Hand(heights=(5.0, 4.0, 3.5), width=0.95, clear=1.5)  # for level faces, matching the strokes below
TO_COLLECTOR = "v"  # the arrow, which points down

Stroke = tuple[tuple[float, float], ...]

# on a grid of 4 across and 6 up, the origin at the lower left
_ROUND: Stroke = ((1, 0), (3, 0), (4, 1), (4, 5), (3, 6), (1, 6), (0, 5), (0, 1), (1, 0))
STROKES: dict[str, tuple[Stroke, ...]] = {
    "0": (_ROUND,),
    "1": (((0.8, 4.6), (2.2, 6), (2.2, 0)), ((0.9, 0), (3.5, 0))),
    "2": (((0, 4.8), (1, 6), (3, 6), (4, 5), (4, 3.9), (0, 0), (4, 0)),),
    "3": (
        ((0, 5), (1, 6), (3, 6), (4, 5), (4, 4), (3, 3.1), (1.6, 3.1)),
        ((3, 3.1), (4, 2.2), (4, 1), (3, 0), (1, 0), (0, 1)),
    ),
    "4": (((3, 0), (3, 6), (0, 1.8), (4.2, 1.8)),),
    "5": (((3.8, 6), (0.4, 6), (0.2, 3.4), (2.8, 3.6), (4, 2.6), (4, 1), (3, 0), (1, 0), (0, 0.9)),),
    "6": (((3.5, 6), (1.4, 5.2), (0, 3), (0, 1), (1, 0), (3, 0), (4, 1), (4, 2.4), (3, 3.4), (1, 3.4), (0, 2.4)),),
    "7": (((0, 6), (4, 6), (1.5, 0)),),
    "8": (
        ((1, 3.2), (0, 4.2), (0, 5), (1, 6), (3, 6), (4, 5), (4, 4.2), (3, 3.2), (1, 3.2)),
        ((1, 3.2), (0, 2.2), (0, 1), (1, 0), (3, 0), (4, 1), (4, 2.2), (3, 3.2)),
    ),
    "9": (((0.5, 0), (2.6, 0.8), (4, 3), (4, 5), (3, 6), (1, 6), (0, 5), (0, 3.6), (1, 2.6), (3, 2.6), (4, 3.6)),),
    "A": (((0, 0), (2, 6), (4, 0)), ((0.75, 2.2), (3.25, 2.2))),
    "B": (
        ((0, 3.2), (0, 6), (3, 6), (4, 5.2), (4, 4.1), (3, 3.2), (0, 3.2)),
        ((3, 3.2), (4, 2.3), (4, 0.9), (3, 0), (0, 0), (0, 3.2)),
    ),
    "P": (((0, 0), (0, 6), (3, 6), (4, 5), (4, 3.8), (3, 2.8), (0, 2.8)),),
    "C": (((4, 5), (3, 6), (1, 6), (0, 5), (0, 1), (1, 0), (3, 0), (4, 1)),),
    "F": (((0, 0), (0, 6), (4, 6)), ((0, 3.2), (3, 3.2))),
    "G": (((4, 5), (3, 6), (1, 6), (0, 5), (0, 1), (1, 0), (3, 0), (4, 1), (4, 2.8), (2.4, 2.8)),),
    "H": (((0, 0), (0, 6)), ((4, 0), (4, 6)), ((0, 3), (4, 3))),
    "J": (((4, 6), (4, 1), (3, 0), (1, 0), (0, 1)),),
    "L": (((0, 6), (0, 0), (3.8, 0)),),
    "N": (((0, 0), (0, 6), (4, 0), (4, 6)),),
    "R": (((0, 0), (0, 6), (3, 6), (4, 5), (4, 3.8), (3, 2.8), (0, 2.8)), ((1.8, 2.8), (4, 0))),
    "-": (((0.8, 3), (3.2, 3)),),
    ".": (((2, 0), (2, 0.1)),),
    TO_COLLECTOR: (((2, 6), (2, 0)), ((0, 2.2), (2, 0), (4, 2.2))),
}

Surface = Callable[[float, float], tuple[Points, Points]]  # right and up on the text → point and outward direction


def text_width(text: str) -> float:
    return len(text) * WIDTH + (len(text) - 1) * SPACING


def text_solid(text: str, surface: Surface, height: float = HEIGHT) -> list[Manifold]:
    """The cutters for a line of text centred at (0, 0) of the surface."""
    return [_bar(surface, a, b) for a, b in _bars(text, height / HEIGHT)]


def _bars(text: str, scale: float) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    left = -text_width(text) / 2
    for number, letter in enumerate(text):
        origin = left + number * (WIDTH + SPACING)
        for stroke in STROKES[letter]:
            places = [(scale * (origin + x * WIDTH / 4), scale * (y * HEIGHT / 6 - HEIGHT / 2)) for x, y in stroke]
            yield from pairwise(places)


def _bar(surface: Surface, a: tuple[float, float], b: tuple[float, float]) -> Manifold:
    ends = []
    for right, up in (a, b):
        point, outward = surface(right, up)
        ends.append(Manifold.sphere(NOSE, 8).translate(tuple(point + RAISED * outward)))
    return Manifold.batch_hull(ends)


def on_round(radius: float, bearing: float, at: float) -> Surface:
    """A line of text round a tube along z, read from outside with −z up; centred at `bearing` from x, and at z."""

    def surface(right: float, up: float) -> tuple[Points, Points]:
        angle = bearing - right / radius
        outward = np.array([math.cos(angle), math.sin(angle), 0.0])
        return radius * outward + np.array([0.0, 0.0, at - up]), outward

    return surface


def cut_words(words: Words, face: float) -> Manifold:
    """The cutter of a text that has its place in a level face."""
    return flat_letters(words.text, words.middle, face, words.height)


def flat_letters(text: str, middle: tuple[float, float], face: float, height: float) -> Manifold:
    """The cutter, in a level face at z = `face`, of a line of text along x, read from above.

    Its section is made first and narrow gaps are filled: strokes that meet at a point would leave a wall of no
    thickness.
    """
    strokes = [
        CrossSection.batch_hull([CrossSection.circle(NOSE, SIDES).translate(end) for end in ends])
        for ends in _bars(text, height / HEIGHT)
    ]
    section = CrossSection.batch_boolean(strokes, OpType.Add).offset(FILLED / 2, JoinType.Round, 2.0, SIDES)
    section = section.offset(-FILLED / 2, JoinType.Round, 2.0, SIDES).simplify(FILLED / 100).translate(middle)
    depth = NOSE - RAISED
    return prism(section, face - depth, face + depth)
