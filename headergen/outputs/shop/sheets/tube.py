"""The sheet of one tube: two views with its pieces numbered, and what to saw, turn and measure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from headergen.geometry.curves.stepped import growth_places
from headergen.geometry.frames import dot, norm, subtract
from headergen.model import BenchHeight, Draft, Header, Outlet, Run, Shop, TurnMark, Vec2
from headergen.outputs.shop.by_hand import comes_of_closing, said_of_run
from headergen.outputs.shop.sheets.pages import (
    SET,
    TEXT,
    grid,
    heading,
    height_of,
    leading,
    page_break,
    paragraph,
    room_of,
    says_tube,
    signed,
    to_front,
    with_head,
)
from headergen.outputs.shop.sheets.pages import drawing as on_page
from headergen.outputs.shop.sheets.sawing import lean_cut, notes_of_joints, sawing
from headergen.outputs.shop.sheets.views import views
from headergen.outputs.shop.steps import start_of
from headergen.outputs.shop.tables import bending_table
from headergen.show.meshes import ShownMesh
from headergen.words.numbers import in_fractions, in_units
from headergen.words.say import capital, say_length, say_source

LEAST_VIEWS, VIEWS_ALONE = 38.0, 110.0  # mm: both views beside figures, and where these go on to another page
ALONG_X = math.radians(5.0)  # within which ports count as a row along x


def tube_pages(header: Header, shop: Shop, run: Run, mesh: ShownMesh, paper: Vec2) -> Iterator[Any]:
    """One sheet: what is sawn in front and, if one page has no room for both, what is built on its back.

    `paper`: the size of a page, mm. A tube with more pieces than that takes further pages.
    """
    units = header.draft.units
    says = says_tube(size_of(run, units), run.name)
    first = [*_headed(shop, run, units), *_growths(run, units)]
    if any(tube.run == run.name for tube in shop.bent):
        first += [heading("Bend in one piece"), *_bending(header, shop, run), *lean_cut(shop, run, units)]
        rest = [*_leaning(shop, run, header.draft), *_end(shop, run, header.draft)]
        together = True
    else:
        first += sawing(header, shop, run)
        rest = list(_building(header, shop, run))
        together = height_of([*first, *rest], paper) + LEAST_VIEWS <= room_of(paper)[1]
    left = room_of(paper)[1] - height_of([*first, *(rest if together else ())], paper)
    view = views(header, shop, run, mesh, left if left >= LEAST_VIEWS else VIEWS_ALONE)
    title, *others = first
    if together:
        yield from (says, title, view, *others, *rest)
        return
    yield from (to_front(), says, title, view, *others)
    yield from (page_break(), paragraph(f"{capital(run.name)}, continued: turn, build and measure", 16, bold=True))
    yield from rest


def _headed(shop: Shop, run: Run, units: str) -> Iterator[Any]:
    """Its name, size and lengths; one part of the page, with the views under it."""
    lengths = next(each for each in shop.lengths if each.run == run.name)
    centreline, cut, sawn = (in_units(each, units) for each in (lengths.centreline, lengths.cut, lengths.sawn))
    said = (
        f"Tube {size_of(run, units)}. Centreline length {centreline} {units}; cut length {cut} {units}; its pieces as "
        f"they leave the saw, with what is left on, {sawn} {units}."
    )
    name = paragraph(capital(run.name), 18, bold=True)
    yield with_head([name, paragraph(said)])


def _building(header: Header, shop: Shop, run: Run) -> Iterator[Any]:
    """How the pieces become a tube, in parts that each stay on one page."""
    yield from _leaning(shop, run, header.draft)
    turns = [mark for mark in shop.turns if mark.run == run.name and not comes_of_closing(mark, shop)]
    if turns:
        start = start_of(run)
        head = heading(f"Turn, seen looking from the {start} along the tube")
        yield with_head([head, leading(_how_turned(header, run)), _turns(turns, start)])
    said = list(said_of_run(header, shop, run.name))
    if said:
        yield heading("Build from both ends")
        yield from (paragraph(f"{k}. {each}") for k, each in enumerate(said, 1))
    yield from (paragraph(note) for note in notes_of_joints(shop, run, header.draft.units))
    yield from _heights([each for each in shop.heights if each.run == run.name], start_of(run), header.draft.units)
    yield from _end(shop, run, header.draft)


def _heights(heights: Sequence[BenchHeight], start: str, units: str) -> Iterator[Any]:
    """Where the far end is with a bend lying flat, after each piece."""
    if not heights:
        return
    said = leading(
        f"Lay the tube with the bend of the named piece flat, turning left as seen from its {start} end. From where "
        "that bend begins, the middle of the far end is so far along, to the left, and above the bend's middle. "
        "An end that still has something left on reaches that much farther."
    )
    rows: list[tuple[str, ...]] = [("after piece", "flat: piece", "along", "to the left", "above", "leans")]
    rows += [
        (
            str(each.piece),
            str(each.flat),
            *(in_units(value, units) for value in (each.along, each.offset, each.height)),
            signed(each.lean),
        )
        for each in heights
    ]
    table = grid(rows, (28, 20, 34, 34, 34, 30), (TEXT, TEXT, SET, SET, SET, SET))
    yield with_head([heading("Check on the table"), said, table])


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
    yield on_page((0.0, 1.5), lambda canvas: None)  # some space between the tables
    yield grid([(row[1], *row[7:]) for row in rows], (16, 32, 32, 32))


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
                signed(mark.level),
                "same side" if mark.same_side else "back",
            )
        )
    sizes = (TEXT, TEXT, TEXT, SET, TEXT, SET, SET, SET, TEXT)
    return grid(rows, (14.5, 14.5, 21.5, 24, 22, 17.5, 26, 24, 18), sizes)
