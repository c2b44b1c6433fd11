"""Cut guides: a split sleeve for each cut that is not square, with its face on the cut.

A guide stands on its square end and is slipped on from the tube's end; a strap round its foot closes the slit. It has
no overhang: every layer is inside the one below.
"""

from __future__ import annotations

import math

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.frames import dot, point_in, subtract
from headergen.geometry.mesh.triangles import Points
from headergen.mock.lettering import HEIGHT, NOSE, RAISED, on_round, text_solid, text_width
from headergen.mock.packing import has_room
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.solid import prism
from headergen.mock.strength import sections_at
from headergen.model import CutGuide, Frame, Header, MockSettings, Plane
from headergen.shop.angled_cuts import AngledCut, angled_cuts, height_of
from headergen.words.numbers import with_unit

WALL = 3.0  # mm; a wide face would reach far down where the cut is steep
FOOT = 16.0  # mm of full sleeve for a strap
UNDER_FACE = 3.0  # mm from the letters to the lowest point of the face
SLIT_SPARE = 1.0  # mm of slit left when the strap has closed the gap
WINDOW, WINDOW_HEIGHT = 2.0, 8.0  # mm; shows the witness line of the tube
BESIDE = 4.0  # mm from the letters to mark and slit
PLACES = 720  # round the tube, at which the face is computed
SIDES = 192  # its sagitta is less than a hundredth of the gap
FROM_SLIT = math.radians(15)  # to the letters; twice as much to the mark
SECTIONS = 4


def guides_of(header: Header, settings: MockSettings) -> tuple[tuple[MockPart, ...], tuple[CutGuide, ...], list[str]]:
    """If asked for, a guide for each cut that is not square, its facts for the sheet, and notes on those too tall."""
    made, cuts, notes = [], [], []
    for cut in angled_cuts(header) if settings.cut_guides else ():
        if cut.rounds:
            notes.append(f"Cut guide {cut.name} is left out: its face is not plane; sheets.pdf has its template.")
            continue
        part = guide_part(cut, settings)
        if has_room(part.mesh, settings.bed):
            made.append(part)
            cuts.append(guided(cut, part))
        else:
            size = with_unit(part.size[2], settings.units, 0)
            notes.append(f"Cut guide {cut.name} is {size} long, too long for the bed: it is left out.")
    if settings.cut_guides and not made and not notes:
        notes.append("Every cut of this header is square: there are no cut guides.")
    return tuple(made), tuple(cuts), notes


def guide_part(cut: AngledCut, settings: MockSettings) -> MockPart:
    """The guide of one cut, standing on its square end. Raises UnsoundPartError if it is not sound."""
    inner = cut.radius + settings.gap
    outer = inner + WALL
    lowest = _lowest(cut, inner, outer)
    foot = lowest - UNDER_FACE - HEIGHT - UNDER_FACE - FOOT
    middle = lowest - UNDER_FACE - HEIGHT / 2
    lettered = (text_width(cut.name) / 2 + NOSE + BESIDE) / outer
    width = 2 * math.pi * settings.gap + SLIT_SPARE
    top = _highest(cut, outer) + 1.0
    ring = CrossSection.circle(outer, SIDES) - CrossSection.circle(inner, SIDES)
    slit = CrossSection.square((2 * outer, width)).translate((0.0, -width / 2))
    slit = slit.rotate(math.degrees(_slit_bearing(cut, outer, lettered)))
    body = prism(CrossSection.batch_boolean([ring, slit], OpType.Subtract), foot, top)
    for plane in cut.planes:
        body = body.trim_by_plane(*_kept(plane))
    away = [_window(foot, inner, outer), _mark(foot, top, outer), *_letters(cut.name, outer, middle, lettered)]
    body = Manifold.batch_boolean([body, *away], OpType.Subtract).translate((0.0, 0.0, -foot))
    frame = cut.frame
    home = Frame(point_in(frame, (0.0, 0.0, foot)), frame.x, frame.y, frame.z)
    heights = [(lowest - foot) * (k + 0.5) / SECTIONS for k in range(SECTIONS)]
    stations = [("", Frame((0.0, 0.0, z), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), 0.0) for z in heights]
    least = min(section.area for section in sections_at(body, stations, outer + 1.0))
    mesh = sound_mesh(cut.name, body)
    return MockPart(cut.name, (), (), mesh, home, least, kind="cut guide", collector=cut.collector)


def guided(cut: AngledCut, part: MockPart) -> CutGuide:
    """The facts of a guide."""
    angle = math.acos(cut.planes[0].normal[2]) if cut.what == "mitre" else 0.0
    reach = dot(subtract(cut.frame.origin, part.home.origin), cut.frame.z)
    return CutGuide(cut.name, cut.collector, cut.what, cut.count, 2 * cut.radius, angle, reach)


def _round(cut: AngledCut, radius: float) -> Points:
    """(PLACES,) heights of the face round the tube, starting at the witness line."""
    angles = 2 * math.pi * np.arange(PLACES) / PLACES
    return np.array([height_of(cut, radius * math.cos(a), radius * math.sin(a)) for a in angles.tolist()])


def _lowest(cut: AngledCut, inner: float, outer: float) -> float:
    return float(min(_round(cut, inner).min(), _round(cut, outer).min()))


def _highest(cut: AngledCut, outer: float) -> float:
    return float(_round(cut, outer).max())


def _slit_bearing(cut: AngledCut, outer: float, lettered: float) -> float:
    """The angle where the face is lowest, clear of mark and letters: it is level there, and nothing tall is divided."""
    first, last = 2 * lettered + FROM_SLIT, 2 * math.pi - 2 * FROM_SLIT
    heights = _round(cut, outer)
    bearings = 2 * math.pi * np.arange(PLACES) / PLACES
    heights[(bearings < first) | (bearings > last)] = math.inf
    return float(bearings[np.argmin(np.round(heights, 3))])


def _kept(plane: Plane) -> tuple[tuple[float, float, float], float]:
    """The half space behind a plane, in the boolean library's form: inward normal and offset."""
    x, y, z = (-value for value in plane.normal)
    return (x, y, z), sum(a * b for a, b in zip((x, y, z), plane.origin, strict=True))


def _window(foot: float, inner: float, outer: float) -> Manifold:
    """Through the wall at the square end, under a roof of 45°; the witness line of the tube shows in its middle."""
    half, peak = WINDOW / 2, WINDOW_HEIGHT
    gable = CrossSection([[(-half, -1.0), (half, -1.0), (half, peak - half), (0.0, peak), (-half, peak - half)]])
    bar = Manifold.extrude(gable, outer - inner + 4.0)  # along z; turned so that z becomes x, and y becomes z
    return bar.transform(np.array([[0.0, 0.0, 1.0, inner - 2.0], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, foot]]))


def _mark(foot: float, top: float, outer: float) -> Manifold:
    """The groove over the witness line, from the window to the face."""
    ends = [Manifold.sphere(NOSE, 8).translate((outer + RAISED, 0.0, z)) for z in (foot + WINDOW_HEIGHT, top)]
    return Manifold.batch_hull(ends)


def _letters(name: str, outer: float, middle: float, lettered: float) -> list[Manifold]:
    """Upright as the guide stands: z of the text points down."""
    bars = text_solid(name, on_round(outer, -lettered, 0.0))
    return [bar.rotate((180.0, 0.0, 0.0)).translate((0.0, 0.0, middle)) for bar in bars]
