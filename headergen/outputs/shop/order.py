"""The order for a header, without prices, for a supplier."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

from headergen.geometry.curves.stepped import GrowthPlace, growth_places, tube_at, tube_spans
from headergen.geometry.plate.flange import plate_of
from headergen.geometry.plate.outline import area
from headergen.model import CutPiece, Header, Shop, StockBend
from headergen.outputs.shop.order_line import OrderLine, in_pieces, whole_area, whole_length
from headergen.outputs.shop.order_parts import lines_of_parts
from headergen.outputs.shop.order_welds import filler_lines
from headergen.parts.outlet_plate import mouths
from headergen.words.say import say_length, say_other_tube

CHANGES = math.log(0.209 / 100e-6)  # number of volume changes, with perfect mixing, from air to 100 ppm oxygen


def order_list(header: Header, shop: Shop) -> tuple[OrderLine, ...]:
    return (*_bends(header, shop), *_straights(header, shop), *_missing(header, shop), *_others(header, shop))


def _bends(header: Header, shop: Shop) -> Iterator[OrderLine]:
    stock, units = header.draft.stock, header.draft.units
    for index, bend in enumerate(stock.bends if stock is not None else ()):
        used = [item for item in shop.plan.items if (item.kind, item.index) == ("bend", index)]
        if used:
            here = sum(item.on_hand for item in used)
            lacking = max(len(used) + header.draft.shop.spares - (bend.count or 0), 0)
            size = bend_size(bend, units) + say_other_tube(bend, header.draft.tube, units)
            yield OrderLine("bend", size, len(used), here, lacking, in_pieces(lacking))


def bend_size(bend: StockBend, units: str) -> str:
    """A bend as sold."""
    said = f"{math.degrees(bend.angle):g}°, CLR {say_length(bend.radius, units)}"
    if not any(bend.legs):
        return f"{said}, without legs"
    return f"{said}, legs {say_length(bend.legs[0], units)} and {say_length(bend.legs[1], units)}"


def _straights(header: Header, shop: Shop) -> Iterator[OrderLine]:
    stock, units = header.draft.stock, header.draft.units
    for index, straight in enumerate(stock.straights if stock is not None else ()):
        used = [item for item in shop.plan.items if (item.kind, item.index) == ("straight", index)]
        if used:
            here = sum(item.on_hand for item in used)
            lacking = len(used) - here
            size = say_length(straight.length, units) + say_other_tube(straight, header.draft.tube, units)
            yield OrderLine("straight", size, len(used), here, lacking, in_pieces(lacking))


def _missing(header: Header, shop: Shop) -> Iterator[OrderLine]:
    """What no stock list has: each bend with its required size, straight tube by its sawn length."""
    units, runs = header.draft.units, {run.name: run for run in header.runs}
    bends, rest, cones = Counter[str](), Counter[float](), Counter[str]()
    for piece in shop.plan.pieces:
        if piece.item is not None:
            continue
        run, middle = runs[piece.run], (piece.start + piece.end) / 2
        cone = next((each for each in growth_places(run) if each.by == "cone" and each.start < middle < each.end), None)
        if cone is not None:
            cones[_cone(cone, units)] += 1
            continue
        diameter = tube_at(run, middle).outside_diameter
        if piece.is_bend:
            bends[f"{_lacking(piece, units)}, tube {say_length(diameter, units)}"] += 1
        else:
            rest[diameter] += math.ceil(piece.sawn_length + header.draft.shop.kerf)
    for size, count in bends.items():
        yield OrderLine("bend, not in the stock list", size, count, 0, count, in_pieces(count))
    for size, count in cones.items():
        yield OrderLine("cone", size, count, 0, count, in_pieces(count))
    for diameter, length in rest.items():
        size = say_length(diameter, units)
        yield OrderLine("straight tube, not in the stock list", size, 1, 0, whole_length(length, units), units)


def _cone(place: GrowthPlace, units: str) -> str:
    sizes = (say_length(tube.outside_diameter, units) for tube in (place.before, place.after))
    return f"from {' to '.join(sizes)}, {say_length(place.end - place.start, units)} long"


def _lacking(piece: CutPiece, units: str) -> str:
    said = f"{math.degrees(piece.angle):.1f}° or more, CLR {say_length(piece.radius, units)}"
    if not any(piece.legs):
        return f"{said}, legs or none"
    legs = (leg + end.leave_on for leg, end in zip(piece.legs, piece.ends, strict=True))
    return f"{said}, legs {' and '.join(say_length(leg, units) for leg in legs)} or more"


def _others(header: Header, shop: Shop) -> Iterator[OrderLine]:
    draft = header.draft
    plates = [(each.part if each.name else "the flange", each, draft.tube) for each in draft.flanges]
    plates += [
        (f"the outlet of {mouth.collector.name}", mouth.plate.flange, mouth.plate.tube) for mouth in mouths(header)
    ]
    for what, flange, tube in plates:
        size = f"{say_length(flange.thickness, draft.units)} thick, before cutting out"
        yield OrderLine(f"plate for {what}", size, 1, 0, *whole_area(area(plate_of(flange, tube).outline), draft.units))
    yield from lines_of_parts(header, shop)
    yield from filler_lines(header, shop)
    spans = [span for run in header.runs for span in tube_spans(run)]
    bore = sum(math.pi * (each.tube.radius - each.tube.wall) ** 2 * (each.end - each.start) for each in spans)
    yield OrderLine(
        "argon to purge with, at least", "100 ppm of oxygen left", 1, 0, math.ceil(CHANGES * bore / 1e6), "L"
    )
