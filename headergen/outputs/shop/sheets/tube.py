"""The pages of one tube: two views with its pieces numbered, and what to saw, turn and measure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from headergen.geometry.curves.centreline import frame_at
from headergen.model import Centreline, CutMark, Draft, Header, Run, Shop, TurnMark
from headergen.outputs.shop.sheets.pages import SET, TEXT, grid, heading, paragraph
from headergen.outputs.shop.sheets.pages import drawing as block
from headergen.outputs.shop.tables import SIXTY_FOURTH, bending_table, pieces_table, steps_table
from headergen.show.drawing import ABOVE, SIDE, Drawn, draw_view, drawn, fitting_scale
from headergen.show.meshes import ShownMesh
from headergen.show.paper import BOLD, FONT, INK, MM
from headergen.words.numbers import in_units
from headergen.words.say import capital

VIEW_ROOM = (84.0, 64.0)  # mm, of each of the two views
SAID_END = {"first leg": "end of its first leg", "second leg": "end of its second leg", "bar": "end of the bar"}


def tube_pages(header: Header, shop: Shop, run: Run, mesh: ShownMesh) -> Iterator[Any]:
    line = header.centrelines[header.runs.index(run)]
    yield paragraph(capital(run.name), 18, bold=True)
    yield _views(header, shop, (run, line), mesh)
    lengths = next(each for each in shop.lengths if each.run == run.name)
    units = header.draft.units
    centreline, cut, sawn = (in_units(each, units) for each in (lengths.centreline, lengths.cut, lengths.sawn))
    yield paragraph(
        f"Centreline length {centreline} {units}; cut length {cut} {units}; its pieces as they leave the saw, "
        f"with what is left on, {sawn} {units}."
    )
    if any(tube.run == run.name for tube in shop.bent):
        yield heading("Bend in one piece")
        yield from _bending(header, shop, run)
        yield from _end(shop, run, header.draft)
        return
    yield heading("Pieces")
    yield _pieces(header, shop, run)
    yield heading("Saw")
    yield from _cuts([mark for mark in shop.cuts if mark.run == run.name], units)
    turns = [mark for mark in shop.turns if mark.run == run.name]
    if turns:
        yield heading("Turn, seen looking from the flange along the tube")
        yield _turns(turns)
    heights = [each for each in shop.heights if each.run == run.name]
    if heights:
        yield heading("Check on the table")
        yield paragraph(
            "Lay the tube with the bend of the named piece flat, turning left as seen from its flange end. From where "
            "that bend begins, the middle of the far end is so far along, to the left, and above the bend's middle."
        )
        rows: list[tuple[str, ...]] = [("after piece", "flat", "along", "to the left", "above", "leans")]
        rows += [
            (
                str(each.piece),
                str(each.flat),
                *(in_units(value, units) for value in (each.along, each.offset, each.height)),
                _signed(each.lean),
            )
            for each in heights
        ]
        yield grid(rows, (28, 20, 34, 34, 34, 30), (TEXT, TEXT, SET, SET, SET, SET))
    yield from _end(shop, run, header.draft)
    yield heading("Steps")
    table = steps_table(header)
    wanted = [row[1:] for row in table.rows if row[0] == run.name]
    yield grid([table.heads[1:], *wanted], (14, 20, 20, 24, 20, 18, 22, 22, 22))


def _end(shop: Shop, run: Run, draft: Draft) -> Iterator[Any]:
    units, face = draft.units, "the flange face"
    if run.is_primary and run.port.flange:
        face = f"the face of {draft.flange_of(run.port).part}"
    finished = next((each for each in shop.finished if each.run == run.name), None)
    if finished is not None:
        out, x, y = (in_units(value, units) for value in (finished.out, finished.x, finished.y))
        yield paragraph(
            f"The finished tube, from the middle of its port on {face} to the middle of its end: {out} out, "
            f"{x} along the flange's x, {y} along its y ({units}); its end leans {math.degrees(finished.lean):.1f}° "
            "from the flange's normal."
        )


def _bending(header: Header, shop: Shop, run: Run) -> Iterator[Any]:
    """LRA and XYZ for the shop's own bender."""
    table = bending_table(header, shop)
    wanted = [row[1:] for row in table.rows if row[0] == run.name]
    yield paragraph(
        "Rotation is positive clockwise, seen looking from the flange along the tube. 'Bend to' is what the bender is "
        "set to; 'bend' is left when it has sprung back. The blank has what the clamp holds, to be cut off at the end."
    )
    yield grid([table.heads[1:], *wanted], (18, 14, 18, 21, 17, 18, 16, 19, 19, 19))


def _views(header: Header, shop: Shop, tube: tuple[Run, Centreline], mesh: ShownMesh) -> Any:
    """From the left and from above, side by side at one scale."""
    views = [drawn(header, [mesh], direction) for direction in (SIDE, ABOVE)]
    scale = fitting_scale([view.size for view in views], [VIEW_ROOM] * 2)

    def draw(canvas: Any) -> None:
        for k, view in enumerate(views):
            at = (k * (VIEW_ROOM[0] + 10), 8.0)
            draw_view(canvas, view, at, scale)
            _number(canvas, shop, tube, view, (at, scale))
            canvas.setFillColorRGB(*INK)
            canvas.setFont(FONT, TEXT / MM)
            canvas.drawString(at[0], 2, f"seen {view.direction.name}, 1:{scale:g}")

    return block((2 * VIEW_ROOM[0] + 10, VIEW_ROOM[1] + 10), draw)


def _number(
    canvas: Any, shop: Shop, tube: tuple[Run, Centreline], view: Drawn, to_paper: tuple[tuple[float, float], float]
) -> None:
    """The number of each piece at its middle, and a line across the tube at each joint."""
    run, line = tube
    (left, low), scale = to_paper
    right, up = np.array(view.direction.right), np.array(view.direction.up)

    def place(at: float) -> tuple[tuple[float, float], tuple[float, float]]:
        point, tangent, _ = frame_at(line, at)
        flat = float(np.dot(point, right)), float(np.dot(point, up))
        along = float(np.dot(tangent, right)), float(np.dot(tangent, up))
        return (left + (flat[0] - view.low[0]) / scale, low + (flat[1] - view.low[1]) / scale), along

    canvas.setStrokeColorRGB(*INK)
    canvas.setLineWidth(0.5)
    reach = run.tube.radius / scale + 1.0
    for joint in shop.plan.joints_of(run.name):
        (x, y), (dx, dy) = place(joint.at)
        size = math.hypot(dx, dy) or 1.0
        canvas.line(x - reach * dy / size, y + reach * dx / size, x + reach * dy / size, y - reach * dx / size)
    for piece in shop.plan.of_run(run.name):
        (x, y), _ = place((piece.start + piece.end) / 2)
        canvas.setFillColorRGB(1, 1, 1)
        canvas.circle(x, y, 2.6, stroke=1, fill=1)
        canvas.setFillColorRGB(*INK)
        canvas.setFont(BOLD, TEXT / MM)
        canvas.drawCentredString(x, y - 1.4, str(piece.number))


def _pieces(header: Header, shop: Shop, run: Run) -> Any:
    table = pieces_table(header, shop)
    rows = [("piece", "kind", "straight", "angle", "straight", "from", "clamp")]
    for row in table.rows:
        if row[0] == run.name:
            _, number, kind, first, angle, _, last, _, item, stock, _, _, clamp = row
            said = f"item {item}: {stock}" if item else stock
            rows.append((number, kind, first, f"{angle}°" if angle else "", last, said, clamp))
    return grid(rows, (14, 20, 23, 28, 23, 50, 24), (TEXT, TEXT, SET, SET, SET, TEXT, TEXT))


def _cuts(marks: Sequence[CutMark], units: str) -> Iterator[Any]:
    """The lines across straights in one table, those inside arcs in another: they are marked otherwise."""
    square = [mark for mark in marks if mark.chords is None]
    if square:
        rows: list[tuple[str, ...]] = [("piece", "end", "item", "from the", "net line at", "leave on")]
        rows += [
            (
                *(str(mark.piece), mark.end, str(mark.item), SAID_END[mark.measured_from]),
                *(in_units(mark.middle, units), in_units(mark.leave_on, units)),
            )
            for mark in square
        ]
        yield grid(rows, (16, 18, 16, 58, 36, 32), (TEXT, TEXT, TEXT, TEXT, SET, SET))
    arc = [mark for mark in marks if mark.chords is not None]
    if arc:
        yield paragraph(
            "Inside an arc: distances along the tube from the end of the leg, and the chords by caliper from where "
            "that leg ends. The lay-flat drawing of the item shows the line."
        )
        rows = [
            ("piece, end, item", "from the", "outside", "inside", "angle", "chord outside", "chord inside", "leave on")
        ]
        for mark in arc:
            assert mark.chords is not None
            rows.append(
                (
                    f"{mark.piece}, {mark.end}, {mark.item}",
                    SAID_END[mark.measured_from],
                    in_units(mark.outside, units),
                    in_units(mark.inside, units),
                    f"{math.degrees(mark.angle):.1f}°",
                    *(in_units(chord, units) for chord in mark.chords),
                    f"{in_units(mark.leave_on, units)}, {math.degrees(mark.leave_on_angle):.2f}°",
                )
            )
        yield grid(rows, (24, 28, 25, 25, 23, 21, 21, 17), (TEXT, TEXT, SET, SET, SET, TEXT, TEXT, TEXT))


def _turns(marks: Sequence[TurnMark]) -> Any:
    rows = [("joint", "piece", "turned from", "angle", "way", "arc outside", "level", "bends")]
    for mark in marks:
        way = "" if round(mark.angle, 6) == 0 else "clockwise" if mark.angle > 0 else "counter- clockwise"
        rows.append(
            (
                str(mark.joint or "flange"),
                str(mark.piece),
                f"bend of piece {mark.turns_from}" if mark.turns_from else "x of the flange",
                f"{math.degrees(abs(mark.angle)):.1f}°",
                way,
                f"{mark.arc:.1f} mm or {round(mark.arc / SIXTY_FOURTH)}/64 in",
                _signed(mark.level),
                "to the same side" if mark.same_side else "back",
            )
        )
    return grid(rows, (15, 14, 28, 25, 26, 26, 26, 22), (TEXT, TEXT, TEXT, SET, TEXT, TEXT, SET, TEXT))


def _signed(radians: float) -> str:
    return f"{round(math.degrees(radians), 1) + 0.0:+.1f}°"
