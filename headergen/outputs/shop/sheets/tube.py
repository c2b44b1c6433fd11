"""The pages of one tube: two views with its pieces numbered, and what to saw, turn and measure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.curves.stepped import growth_places, widest_radius
from headergen.geometry.frames import dot, norm, subtract
from headergen.model import (
    BenchHeight,
    Centreline,
    CutMark,
    CutPiece,
    Draft,
    Header,
    Outlet,
    Run,
    Shop,
    Stock,
    TurnMark,
    Vec2,
)
from headergen.outputs.shop.by_hand import comes_of_closing, said_of_chances, said_of_run
from headergen.outputs.shop.lean_cuts import SEEN, said_of_longest_side
from headergen.outputs.shop.sheets.pages import SET, TEXT, grid, heading, leading, paragraph, says_tube
from headergen.outputs.shop.sheets.pages import drawing as block
from headergen.outputs.shop.steps import start_of
from headergen.outputs.shop.tables import bending_table, pieces_table, steps_table
from headergen.show.drawing import ABOVE, SIDE, Drawn, draw_view, drawn, fitting_scale
from headergen.show.meshes import ShownMesh
from headergen.show.paper import BOLD, FONT, INK, MM
from headergen.words.numbers import in_fractions, in_units
from headergen.words.say import capital, say_length, say_source

HI_LO = 0.05  # mm from wall to wall, from which a joint is said to be oval
VIEWS_ROOM = (180.0, 155.0)  # mm, of both views together
CAPTION, CAPTION_WIDE, VIEWS_APART = 8.0, 52.0, 10.0  # mm: what is said below a view; between two side by side
ALONG_X = math.radians(5.0)  # within which ports count as a row along x


def tube_pages(header: Header, shop: Shop, run: Run, mesh: ShownMesh) -> Iterator[Any]:
    line = header.centrelines[header.runs.index(run)]
    yield says_tube(size_of(run, header.draft.units), run.name)
    yield paragraph(capital(run.name), 18, bold=True)
    yield paragraph(f"Tube {size_of(run, header.draft.units)}.")
    yield _views(header, shop, (run, line), mesh)
    lengths = next(each for each in shop.lengths if each.run == run.name)
    units = header.draft.units
    centreline, cut, sawn = (in_units(each, units) for each in (lengths.centreline, lengths.cut, lengths.sawn))
    yield paragraph(
        f"Centreline length {centreline} {units}; cut length {cut} {units}; its pieces as they leave the saw, "
        f"with what is left on, {sawn} {units}."
    )
    yield from _growths(run, units)
    yield from _leaning(shop, run, header.draft)
    if any(tube.run == run.name for tube in shop.bent):
        yield heading("Bend in one piece")
        yield from _bending(header, shop, run)
        yield from _lean_cut(shop, run, units)
        yield from _end(shop, run, header.draft)
        return
    said = list(said_of_run(header, shop, run.name))
    if said:
        yield heading("Build from both ends")
        yield from (paragraph(f"{k}. {each}") for k, each in enumerate(said, 1))
        yield heading("How often it closes")
        yield from (paragraph(each) for each in said_of_chances(header, shop, run.name))
    yield heading("Pieces")
    yield _pieces(header, shop, run)
    for joint in shop.plan.joints_of(run.name):
        if joint.blocked:
            yield paragraph(f"Joint {joint.number}: {joint.blocked}; plan when to weld it.")
        if joint.hi_lo >= HI_LO:
            step = say_length(joint.hi_lo, header.draft.units)
            yield paragraph(f"Joint {joint.number}: oval, walls up to {step} apart; squeeze them until they meet.")
    yield heading("Saw")
    yield from _cuts([mark for mark in shop.cuts if mark.run == run.name], (shop, header.draft.stock, units))
    yield from _lean_cut(shop, run, units)
    yield from _unlisted([piece for piece in shop.plan.of_run(run.name) if piece.item is None], units)
    turns = [mark for mark in shop.turns if mark.run == run.name and not comes_of_closing(mark, shop)]
    if turns:
        yield heading(f"Turn, seen looking from the {start_of(run)} along the tube")
        yield leading(_how_turned(header, run))
        yield _turns(turns, start_of(run))
    yield from _heights([each for each in shop.heights if each.run == run.name], start_of(run), units)
    yield from _end(shop, run, header.draft)
    yield heading("Steps")
    table = steps_table(header)
    own = [row[1:] for row in table.rows if row[0] == run.name]
    yield grid([table.heads[1:], *own], (14, 20, 20, 24, 20, 18, 22, 22, 22))


def _heights(heights: Sequence[BenchHeight], start: str, units: str) -> Iterator[Any]:
    """Where the far end is with a bend lying flat, after each piece."""
    if not heights:
        return
    yield heading("Check on the table")
    yield leading(
        f"Lay the tube with the bend of the named piece flat, turning left as seen from its {start} end. From where "
        "that bend begins, the middle of the far end is so far along, to the left, and above the bend's middle. "
        "An end that still has something left on, to be trimmed or for its next weld, reaches that much farther."
    )
    rows: list[tuple[str, ...]] = [("after piece", "flat: piece", "along", "to the left", "above", "leans")]
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


def size_of(run: Run, units: str) -> str:
    sizes = (f"{say_length(t.outside_diameter, units)} × {say_length(t.wall, units)}" for t in run.tubes)
    return f"{', then '.join(sizes)}, {run.tube.material}"


def sizes_of(header: Header) -> str:
    """The tubes of all runs, each once."""
    return " or ".join(dict.fromkeys(size_of(run, header.draft.units) for run in header.runs))


def _growths(run: Run, units: str) -> Iterator[Any]:
    """From the start to where the bore grows: what is tuned."""
    for place in growth_places(run):
        sizes = [say_length(tube.outside_diameter, units) for tube in (place.before, place.after)]
        along = say_length(place.end - place.start, units)
        how = f"a slip joint with {along} of overlap" if place.by == "slip" else f"a cone {along} long"
        yield paragraph(
            f"The bore grows {say_length(place.bore_grows, units)} from {say_source(run)} along the middle: {how}, "
            f"from tube of {sizes[0]} to tube of {sizes[1]}."
        )


def _leaning(shop: Shop, run: Run, draft: Draft) -> Iterator[Any]:
    """How to set a tube that is not square to its flange, by bevel or by level."""
    found = next((each for each in shop.leaning if each.run == run.name), None)
    if found is None:
        return
    ways = [
        f"{abs(math.degrees(angle)):.1f}° from square {'toward' if angle >= 0 else 'away from'} {axis}"
        for angle, axis in ((found.along_x, "x"), (found.along_y, "y"))
    ]
    yield heading("Set its lean on the flange")
    yield paragraph(
        f"Port {run.port.number} leans {math.degrees(found.lean):.1f}° from square to the face of "
        f"{draft.flange_of(run.port).part}, toward {math.degrees(found.toward):.1f}° from its x (counted from x toward "
        f"y). A bevel on the face shows {ways[0]} with its stock along x, and {ways[1]} with its stock along y. With "
        f"the flange flat on the table, a level on the tube shows {90 - math.degrees(found.lean):.1f}° along its lean. "
        "Turn the tube while it stands square, then lean it over without turning it."
    )


def _end(shop: Shop, run: Run, draft: Draft) -> Iterator[Any]:
    units, start, whose = draft.units, "the middle of its port on the flange face", "the flange's"
    if run.is_primary and run.port.flange:
        start = f"the middle of its port on the face of {draft.flange_of(run.port).part}"
    if not run.is_primary:
        start, whose = "the middle of the outlet that it starts from", "the outlet's"
    if isinstance(run.start, Outlet) and run.start.side is not None:
        host = run.start.side.run
        start, whose = f"where its axis meets that of {host}", "the joint's"
    finished = next((each for each in shop.finished if each.run == run.name), None)
    if finished is not None:
        out, x, y = (in_units(value, units) for value in (finished.out, finished.x, finished.y))
        yield paragraph(
            f"The finished tube, from {start} to the middle of its end: {out} out, {x} along {whose} x, {y} along its "
            f"y ({units}); its end leans {math.degrees(finished.lean):.1f}° from straight out."
        )


def _bending(header: Header, shop: Shop, run: Run) -> Iterator[Any]:
    """LRA and XYZ for the shop's own bender."""
    table = bending_table(header, shop)
    own = [row[1:] for row in table.rows if row[0] == run.name]
    yield paragraph(
        f"Rotation is positive clockwise, seen looking from the {start_of(run)} along the tube. 'Bend to' is what the "
        "bender is set to; 'bend' is left when it has sprung back. The blank has what the clamp holds, to be cut off "
        "at the end, and a face to dress at either end: dress the first one before bending, since feeds count from it."
    )
    rows = [table.heads[1:], *own]  # blank, step, feed, rotation, bend, bend to, CLR, and a corner
    setting = [tuple(row[k] for k in (1, 0, 2, 3, 5, 4, 6)) for row in rows]
    yield grid(setting, (16, 30, 30, 34, 34, 20, 18), (TEXT, SET, SET, SET, SET, TEXT, TEXT))
    yield block((0.0, 1.5), lambda canvas: None)  # some space between the tables
    yield grid([(row[1], *row[7:]) for row in rows], (16, 32, 32, 32))


def _views(header: Header, shop: Shop, tube: tuple[Run, Centreline], mesh: ShownMesh) -> Any:
    """From the left and from above at one scale, side by side or one above the other, whichever is larger."""
    views = [drawn(header, [mesh], direction) for direction in (SIDE, ABOVE)]
    scale, places, size = _arranged([view.size for view in views])

    def draw(canvas: Any) -> None:
        for view, (x, y) in zip(views, places, strict=True):
            draw_view(canvas, view, (x, y + CAPTION), scale)
            _number(canvas, shop, tube, view, ((x, y + CAPTION), scale))
            canvas.setFillColorRGB(*INK)
            canvas.setFont(FONT, TEXT / MM)
            canvas.drawString(x, y + 2, f"seen {view.direction.name}, 1:{scale:g}")

    return block(size, draw)


def _arranged(sizes: Sequence[Vec2]) -> tuple[float, tuple[Vec2, Vec2], Vec2]:
    """The scale of two views, their lower left corners with room for captions, and the size of both together, mm."""
    (first_wide, first_high), (other_wide, other_high) = sizes
    wide, high = VIEWS_ROOM
    beside = fitting_scale(
        [(first_wide + other_wide, max(first_high, other_high))], [(wide - VIEWS_APART, high - CAPTION)]
    )
    stacked = fitting_scale([(max(first_wide, other_wide), first_high + other_high)], [(wide, high - 2 * CAPTION)])
    if beside <= stacked:
        most = max(first_high, other_high) / beside + CAPTION
        return beside, ((0.0, 0.0), (max(first_wide / beside, CAPTION_WIDE) + VIEWS_APART, 0.0)), (wide, most)
    above = other_high / stacked + CAPTION
    return stacked, ((0.0, above), (0.0, 0.0)), (wide, above + first_high / stacked + CAPTION)


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
    reach = widest_radius(run) / scale + 1.0
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
    rows = [("piece", "kind", "straight before", "bend", "straight after", "from", "clamp")]
    for row in table.rows:
        if row[0] == run.name:
            _, number, kind, first, angle, clr, last, _, item, stock, _, _, clamp = row
            said = f"item {item}: {stock}" if item else f"{stock}; CLR {clr}" if clr else stock
            rows.append((number, kind, first, f"{angle}°" if angle else "", last, said, clamp))
    return grid(rows, (14, 20, 23, 28, 23, 50, 24), (TEXT, TEXT, SET, SET, SET, TEXT, TEXT))


def _from(mark: CutMark, of: tuple[Shop, Stock | None, str]) -> str:
    """The start of a line's measure; legs differ, so each is named with its length."""
    shop, stock, units = of
    if mark.measured_from == "bar" or stock is None:
        return "end of the bar"
    legs = stock.bends[shop.plan.items[mark.item - 1].index].real_legs
    leg = legs[0] if mark.measured_from == "first leg" else legs[1]
    return f"end of its {mark.measured_from}, {in_units(leg, units)} long"


def _cuts(marks: Sequence[CutMark], of: tuple[Shop, Stock | None, str]) -> Iterator[Any]:
    """The lines across straights in one table, those inside arcs in another, as these are marked in another way."""
    units = of[2]
    square = [mark for mark in marks if mark.chords is None]
    if square:
        rows: list[tuple[str, ...]] = [("piece", "end", "item", "from the", "net line at", "leave on", "saw at")]
        for mark in square:
            figures = (in_units(value, units) for value in (mark.middle, mark.leave_on, mark.saw_at or 0.0))
            rows.append((str(mark.piece), mark.end, str(mark.item), _from(mark, of), *figures))
        yield grid(rows, (15, 15, 14, 54, 28, 26, 30), (TEXT, TEXT, TEXT, TEXT, SET, SET, SET))
    arc = [mark for mark in marks if mark.chords is not None]
    if arc:
        yield leading(
            "Inside an arc: distances along the tube from the end of the leg, and chords by caliper from where that "
            "leg ends. The lay-flat drawing of the item shows net line and saw line."
        )
        yield from _arc_cuts(arc, of)


def _lean_cut(shop: Shop, run: Run, units: str) -> Iterator[Any]:
    """How the first end is sawn, if its tube leans on its flange."""
    cut = next((each for each in shop.lean_cuts if each.run == run.name), None)
    if cut is None:
        return
    yield leading(
        f"The start is sawn to the lean, by template {cut.name} and parallel to the face of the flange, so that it "
        "stands flat. Net lines above, and its cut length, count from its longest side. Sides are net, along its first "
        f"straight. The longest side, {SEEN}: {said_of_longest_side(cut)}."
    )
    head = ("saw, from square", "longest side", "shortest side", "longest side from x, + is clockwise", "template")
    figures = (in_units(side, units) for side in cut.sides)
    row = (f"{math.degrees(cut.angle):.1f}°", *figures, _signed(cut.clock), cut.name)
    yield grid([head, row], (36, 36, 36, 44, 28), (SET, SET, SET, SET, TEXT))


def _unlisted(pieces: Sequence[CutPiece], units: str) -> Iterator[Any]:
    """What to leave on pieces that are not cut from the stock list, and their length along the middle then."""
    if not pieces:
        return
    yield leading(
        "Not from the stock list: leave this on at either end; as it leaves the saw, measured along the middle."
    )
    rows: list[tuple[str, ...]] = [("piece", "leave on, start", "leave on, end", "as it leaves the saw")]
    for piece in pieces:
        figures = (*(end.leave_on for end in piece.ends), piece.sawn_length)
        rows.append((str(piece.number), *(in_units(value, units) for value in figures)))
    yield grid(rows, (18, 42, 42, 54), (TEXT, SET, SET, SET))


def _arc_cuts(marks: Sequence[CutMark], of: tuple[Shop, Stock | None, str]) -> Iterator[Any]:
    """Where to mark them along the tube; and by caliper, by angle, and what the saw leaves."""
    units = of[2]
    along: list[tuple[str, ...]] = [("piece, end, item", "from the", "outside", "middle", "inside")]
    across: list[tuple[str, ...]] = [
        ("piece, end, item", "chord outside", "chord inside", "angle", "leave on", "leave on, in degrees")
    ]
    for mark in marks:
        assert mark.chords is not None
        name = f"{mark.piece}, {mark.end}, {mark.item}"
        figures = (in_units(value, units) for value in (mark.outside, mark.middle, mark.inside))
        along.append((name, _from(mark, of), *figures))
        chords = (in_units(chord, units) for chord in (*mark.chords, mark.leave_on))
        outer, inner, left = chords
        angles = f"{math.degrees(mark.angle):.1f}°", left, f"{math.degrees(mark.leave_on_angle):.2f}°"
        across.append((name, outer, inner, *angles))
    yield grid(along, (32, 54, 32, 32, 32), (TEXT, TEXT, SET, SET, SET))
    yield block((0.0, 1.5), lambda canvas: None)  # some space between the tables
    yield grid(across, (32, 30, 30, 30, 30, 30), (TEXT, SET, SET, SET, SET, SET))


def _how_turned(header: Header, run: Run) -> str:
    """The start of the first turn, and the reading of a level."""
    start = start_of(run)
    along = _along_ports(header, run) if run.is_primary else ""
    return (
        f"Not turned, the first bend goes toward x of the {start}{along}. "
        f"Level: lay the bend that it is turned from flat and turning left (for the first: x of the {start} level and "
        "pointing left); a level across the plane of the new bend shows this angle, up is +; seen from above it then "
        "bends to the same side, or back. Arcs are on the outside of the tube."
    )


def _along_ports(header: Header, run: Run) -> str:
    """The direction of the flange's x, if its ports are in a row along it."""
    flange = header.draft.flange_of(run.port)
    if len(flange.ports) < 2:
        return ""
    first, last = flange.ports[0], flange.ports[-1]
    way = subtract(last.frame.origin, first.frame.origin)
    along = dot(way, flange.frame.x)
    if abs(along) < math.cos(ALONG_X) * norm(way):
        return ""
    one, other = (first, last) if along > 0 else (last, first)
    return f", which is from port {one.number} toward port {other.number}"


def _turns(marks: Sequence[TurnMark], start: str) -> Any:
    rows = [("joint", "piece", "turned from", "angle", "way", "arc, mm", "arc, in", "level", "bends")]
    for mark in marks:
        way = "" if round(mark.angle, 6) == 0 else "clockwise" if mark.angle > 0 else "counter- clockwise"
        rows.append(
            (
                str(mark.joint or start),
                str(mark.piece),
                f"bend of piece {mark.turns_from}" if mark.turns_from else f"x of the {start}",
                f"{math.degrees(abs(mark.angle)):.1f}°",
                way,
                f"{mark.arc:.1f}",
                in_fractions(mark.arc),
                _signed(mark.level),
                "to the same side" if mark.same_side else "back",
            )
        )
    sizes = (TEXT, TEXT, TEXT, SET, TEXT, SET, SET, SET, TEXT)
    return grid(rows, (14.5, 14.5, 21.5, 24, 22, 17.5, 26, 24, 18), sizes)


def _signed(radians: float) -> str:
    return f"{round(math.degrees(radians), 1) + 0.0:+.1f}°"
