"""Two views of a tube at one scale, with its pieces numbered and its joints marked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.stepped import widest_radius
from headergen.model import Centreline, CutPiece, Header, Run, Shop, Vec2
from headergen.outputs.shop.sheets.labels import LABEL, PieceLabel, ShownPiece, labels
from headergen.outputs.shop.sheets.pages import TEXT
from headergen.outputs.shop.sheets.pages import drawing as on_page
from headergen.show.drawing import ABOVE, SIDE, Direction, Drawn, draw_view, drawn, fitting_scale
from headergen.show.meshes import ShownMesh
from headergen.show.paper import BOLD, FONT, INK, MM

WIDE, MOST_HIGH = 180.0, 155.0  # mm, of both views together
CAPTION, CAPTION_WIDE, VIEWS_APART = 6.0, 52.0, 6.0  # mm: what is said below a view; between two side by side
BESIDE = 7.0  # mm round a view, for numbers beside its tube
ALONG = 4.0  # mm of tube between the places by which a piece is known


def views(header: Header, shop: Shop, run: Run, mesh: ShownMesh, high: float) -> Any:
    """From the left and from above at one scale, side by side or one above the other, whichever is larger.

    `high`: the most, mm, that both may take.
    """
    line = header.centrelines[header.runs.index(run)]
    both = [drawn(header, [mesh], direction) for direction in (SIDE, ABOVE)]
    scale, places, size = arranged([view.size for view in both], min(high, MOST_HIGH))
    reach = widest_radius(run) / scale
    pieces = shop.plan.of_run(run.name)

    def draw(canvas: Any) -> None:
        for view, (x, y) in zip(both, places, strict=True):
            low = (x + BESIDE, y + CAPTION + BESIDE)
            draw_view(canvas, view, low, scale)
            _joints(
                canvas, [_flat(line, [joint.at], view, scale) for joint in shop.plan.joints_of(run.name)], low, reach
            )
            room = tuple(each / scale + 2 * BESIDE for each in view.size)
            shown = [
                ShownPiece(each.places + BESIDE, each.shows) for each in shown_pieces(line, pieces, view, scale, reach)
            ]
            for piece, label in zip(pieces, labels(shown, reach, (room[0], room[1])), strict=True):
                _label(canvas, str(piece.number), label, (x, y + CAPTION))
            canvas.setFillColorRGB(*INK)
            canvas.setFont(FONT, TEXT / MM)
            canvas.drawString(x, y + 2, f"seen {view.direction.name}, 1:{scale:g}")

    return on_page(size, draw)


def arranged(sizes: Sequence[Vec2], most: float) -> tuple[float, tuple[Vec2, Vec2], Vec2]:
    """The scale of two views, their lower left corners, and the size of both together, mm, `most` of it high.

    Round each view there is room for numbers, and below it for its caption.
    """
    (first_wide, first_high), (other_wide, other_high) = sizes
    round_it, wide = 2 * BESIDE, WIDE
    beside = fitting_scale(
        [(first_wide + other_wide, max(first_high, other_high))],
        [(wide - VIEWS_APART - 2 * round_it, most - CAPTION - round_it)],
    )
    height = most - 2 * (CAPTION + round_it)
    stacked = math.inf
    if height > 0:
        sizes_stacked = (max(first_wide, other_wide), first_high + other_high)
        stacked = fitting_scale([sizes_stacked], [(wide - round_it, height)])
    if beside <= stacked:
        tall = max(first_high, other_high) / beside + CAPTION + round_it
        next_to = max(first_wide / beside + round_it, CAPTION_WIDE) + VIEWS_APART
        return beside, ((0.0, 0.0), (next_to, 0.0)), (wide, tall)
    above = other_high / stacked + CAPTION + round_it
    return stacked, ((0.0, above), (0.0, 0.0)), (wide, above + first_high / stacked + CAPTION + round_it)


def shown_pieces(
    line: Centreline, pieces: Sequence[CutPiece], view: Drawn, scale: float, reach: float
) -> list[ShownPiece]:
    """The places of each piece on the paper, from the corner of the view, and which show; `reach`: half a tube."""
    rows = [np.linspace(p.start, p.end, 2 * math.ceil((p.end - p.start) / ALONG / 2) + 1) for p in pieces]
    flat = [_flat(line, row, view, scale)[:, :2] for row in rows]
    deep = [_depth(line, row, view.direction) / scale for row in rows]
    shown = []
    for k, (places, depth) in enumerate(zip(flat, deep, strict=True)):
        shows = np.ones(len(places), dtype=bool)
        for other, (their, their_depth) in enumerate(zip(flat, deep, strict=True)):
            if other != k:
                near = np.hypot(*(places[:, None] - their[None]).transpose(2, 0, 1)) < reach
                shows &= ~(near & (their_depth[None] > depth[:, None] + reach / 2)).any(axis=1)
        shown.append(ShownPiece(places, shows))
    return shown


def _flat(line: Centreline, places: Sequence[float] | Array, view: Drawn, scale: float) -> Array:
    """Where places of a centreline are on the paper, from the view's lower left corner, and their direction; (n, 4)."""
    axes = np.column_stack([view.direction.right, view.direction.up])
    frames = [frame_at(line, at) for at in places]
    points = (np.array([frame[0] for frame in frames]) @ axes - np.array(view.low)) / scale
    return np.hstack([points, np.array([frame[1] for frame in frames]) @ axes])


def _depth(line: Centreline, places: Array, direction: Direction) -> Array:
    depth: Array = np.array([frame_at(line, at)[0] for at in places]) @ direction.toward
    return depth


def _joints(canvas: Any, places: Sequence[Array], low: Vec2, reach: float) -> None:
    """A line across the tube at each joint."""
    canvas.setStrokeColorRGB(*INK)
    canvas.setLineWidth(0.5)
    for place in places:
        x, y, dx, dy = place[0].tolist()
        x, y, size = x + low[0], y + low[1], (math.hypot(dx, dy) or 1.0) / (reach + 1.0)
        canvas.line(x - dy / size, y + dx / size, x + dy / size, y - dx / size)


def _label(canvas: Any, said: str, label: PieceLabel, low: Vec2) -> None:
    (x, y), (to_x, to_y) = ((at[0] + low[0], at[1] + low[1]) for at in (label.at, label.to))
    canvas.setStrokeColorRGB(*INK)
    if label.at != label.to:
        canvas.setLineWidth(0.25)
        canvas.line(x, y, to_x, to_y)
        canvas.setFillColorRGB(*INK)
        canvas.circle(to_x, to_y, 0.6, stroke=0, fill=1)
    canvas.setLineWidth(0.4)
    canvas.setFillColorRGB(1, 1, 1)
    canvas.circle(x, y, LABEL, stroke=1, fill=1)
    canvas.setFillColorRGB(*INK)
    canvas.setFont(BOLD, TEXT / MM)
    canvas.drawCentredString(x, y - 1.4, said)
