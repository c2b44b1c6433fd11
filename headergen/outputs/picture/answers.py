"""Several answers for the primaries of one header in one picture: equal frames, one camera, a name on each.

Runs in a child process of its own, like the picture of one header.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Header
from headergen.outputs.picture import best_view, label, picture_notes, pointers, tube_skins
from headergen.outputs.picture.view import View, fitted, view_directions

if TYPE_CHECKING:
    from headergen.outputs.picture.stage import Image
    from headergen.outputs.picture.strips import PictureSheet  # both import VTK

FRAME = (1040, 820)  # pixels of one answer
GUTTER = 8  # pixels between frames
LONGEST_ROW = 4


@dataclass(frozen=True)
class Shown:
    """One answer, and the texts above and below it."""

    header: Header
    name: str
    figures: str


def render_answers(
    path: Path,
    answers: Sequence[Shown],
    chassis: Sequence[TriangleMesh],
    parts: Sequence[TriangleMesh] = (),
    size: tuple[int, int] = FRAME,
) -> None:
    """Write a PNG of the answers side by side, each in a frame of `size`, all from one camera position and scale.

    `chassis` and `parts` (those welded to the primaries) are the same in all. Raises ValueError without an answer,
    OSError if the file cannot be written.
    """
    from headergen.outputs.picture import overlay, stage, strips

    if not answers:
        raise ValueError("there is no answer to draw")
    rooms = stage.opened()
    sheet = strips.sheet_of(size, banner=True, errors=False)
    meshes = [(*tube_skins(each.header).values(), *parts) for each in answers]
    steel, dark = [list(map(stage.polydata, each)) for each in meshes], list(map(stage.polydata, chassis))
    header = answers[0].header
    points = np.concatenate([mesh.vertices for each in meshes for mesh in each])
    width, height = sheet.photograph
    views = [fitted(points, way, width / height) for way in view_directions(header.draft.outward)]
    everything, small = [[*bodies, *dark] for bodies in steel], (round(200 * width / height), 200)
    seen = zip(*(stage.owners(bodies, views, small, rooms) for bodies in everything), strict=True)
    # the view that shows most of the tubes of all answers together
    view = best_view([np.concatenate(images) for images in seen], len(header.centrelines), views)
    frames = []
    for answer, bodies in zip(answers, steel, strict=True):
        photograph = overlay.photographed(bodies, dark, view, sheet.photograph, rooms)
        frames.append(_frame(answer, photograph, view, sheet))
    path.write_bytes(stage.png(in_rows(frames)))


def _frame(
    answer: Shown, photographed: tuple[Image, NDArray[np.integer[Any]]], view: View, sheet: PictureSheet
) -> Image:
    from headergen.outputs.picture import overlay, strips

    photograph, owners = photographed
    image = strips.laid_out(photograph, sheet)
    numbers = [label(run) for run in answer.header.runs]
    strips.draw_pointers(image, sheet, pointers(owners, numbers, dict(picture_notes(answer.header, 0).places), view))
    strips.draw_banner(image, sheet, answer.name, (overlay.LINE, overlay.PAPER))
    strips.draw_foot(image, sheet, answer.figures, overlay.FIGURES_SIZE)
    return image


def in_rows(frames: Sequence[Image]) -> Image:
    """Frames of one size side by side in as few rows as possible, with white gutters, and white for missing frames."""
    rows = math.ceil(len(frames) / LONGEST_ROW)
    columns = math.ceil(len(frames) / rows)
    height, width, _ = frames[0].shape
    whole = np.ones((rows * (height + GUTTER) - GUTTER, columns * (width + GUTTER) - GUTTER, 3))
    for index, frame in enumerate(frames):
        top, left = (index // columns) * (height + GUTTER), (index % columns) * (width + GUTTER)
        whole[top : top + height, left : left + width] = frame
    return whole
