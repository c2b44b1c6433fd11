"""Sections of a collector: the flow area along it, and the outline of the gas passage at some planes."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.merge.design import AnyMerge
from headergen.geometry.merge.ellipses import loops, outline
from headergen.geometry.merge.flow import flow_area, flow_areas, lobe_outline, outlet_arc
from headergen.geometry.merge.lobes import crossings
from headergen.geometry.merge.measures import Merge, ring_at
from headergen.geometry.merge.uneven import UnevenMerge, cone_outline, section
from headergen.outputs.report.figures.svg import WIDTH, drawing, element, label, length_label, path
from headergen.words.numbers import INCH, area_in

LEFT, RIGHT, TOP, PANEL, FOOT = 60.0, 12.0, 26.0, 150.0, 48.0
HALF = 88.0  # units, of an outline's frame
ROUND = np.linspace(0.0, 2 * math.pi, 97)

Outline = list[Array]  # closed curves, each (n, 2) in mm about the axis


def area_plot(name: str, merge: AnyMerge, units: str) -> str:
    """The flow area along the axis, from the collector plane to the outlet."""
    areas = flow_areas(merge)
    high = 1.1 * max(each.area for each in areas)
    end = areas[-1].at

    def x(at: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * at / end

    def y(area: float) -> float:
        return TOP + PANEL * (1 - area / high)

    least = min(reversed(areas), key=lambda each: round(each.area, 6))
    parts = [
        label(f"Flow area, {'in²' if units == 'in' else 'mm²'}", 4, TOP - 9),
        element("rect", x=LEFT, y=TOP, width=WIDTH - LEFT - RIGHT, height=PANEL, class_="frame"),
        *_area_ticks(high, y, units),
        path([(x(merge.cut), TOP), (x(merge.cut), TOP + PANEL)], class_="required"),
        label("cut", x(merge.cut) + 5, TOP + 18),
        path([(x(each.at), y(each.area)) for each in areas], class_="curve"),
        element("circle", cx=x(least.at), cy=y(least.area), r=4.0, class_="least"),
        label(area_in(units, least.area), x(least.at) - 8, y(least.area) - 10, "end"),
        *(
            length_label(at, units, (x(at), TOP + PANEL + 20), anchor, False)
            for at, anchor in ((0.0, "middle"), (merge.cut, "middle"), (end, "end"))
        ),
        label("after the collector plane", WIDTH - RIGHT, TOP + PANEL + 40, "end"),
    ]
    return drawing(parts, (WIDTH, TOP + PANEL + FOOT), f"The flow area along collector {name}.")


def _area_ticks(high: float, y: object, units: str) -> Iterator[str]:
    size = INCH**2 if units == "in" else 1.0
    step = 10 ** math.floor(math.log10(high / size / 2))
    step *= next(k for k in (1, 2, 5, 10) if high / size / (k * step) <= 5)
    for k in range(math.floor(high / size / step) + 1):
        at = y(k * step * size)  # type: ignore[operator]
        yield path([(LEFT, at), (WIDTH - RIGHT, at)], class_="grid")
        yield label(f"{k * step:g}", LEFT - 5, at + 5, "end")


def section_drawing(name: str, merge: AnyMerge, at: float, where: str, units: str) -> str:
    """The outline of the gas passage square to the axis, `at` mm after the plane; one scale for the whole collector."""
    scale = HALF * 0.9 / (merge.widest if isinstance(merge, UnevenMerge) else merge.ring + merge.outer)
    middle = WIDTH / 2
    parts = [label(where, middle, 18, "middle")]
    for curve in outline_at(merge, at):
        turned = curve if isinstance(merge, UnevenMerge) else curve @ _turn(merge.turn)
        parts.append(
            path([(middle + scale * x, 30 + HALF - scale * y) for x, y in turned.tolist()], closed=True, class_="gas")
        )
    parts.append(label(area_in(units, flow_area(merge, at)), middle, 2 * HALF + 50, "middle"))
    return drawing(parts, (WIDTH, 2 * HALF + 62), f"Collector {name}, {where}.")


def section_planes(merge: AnyMerge) -> Iterator[tuple[float, str]]:
    """The planes at which outlines are drawn."""
    yield 0.0, "At the collector plane"
    yield merge.mitre + (merge.cut - merge.mitre) / 2, "Halfway to the cut"
    yield merge.cut, "Where the tubes are cut"
    yield (merge.cut + merge.cone_end) / 2, "Halfway down the cone"
    yield merge.cone_end, "At the outlet"


def outline_at(merge: AnyMerge, at: float) -> Outline:
    """The gas passage in a section square to the axis, in the frame of the merge with its first bore along x."""
    if isinstance(merge, UnevenMerge):
        return _uneven_outline(merge, at)
    if at > merge.cut:
        share = min((at - merge.cut) / (merge.cone_end - merge.cut), 1.0)
        lobe = (1 - share) * lobe_outline(merge, merge.inner) + share * outlet_arc(merge, merge.outlet_inner)
        return [_all_round(merge, lobe)]
    ring, half_angle = ring_at(merge, at), merge.half_angle if at > merge.mitre else 0.0
    a, b = merge.inner / math.cos(half_angle), merge.inner
    found = crossings(ring, merge.inner, half_angle, merge.sector)
    if found is None:
        tube = np.column_stack([ring + a * np.cos(ROUND), b * np.sin(ROUND)])
        return [tube @ _turn(2 * merge.sector * k) for k in range(merge.count)]
    far, near = found
    outer = np.linspace(-far, far, 97)
    curves = [_all_round(merge, np.column_stack([ring + a * np.cos(outer), b * np.sin(outer)]))]
    if near is not None:
        inner = np.linspace(near, 2 * math.pi - near, 49)
        curves.append(_all_round(merge, np.column_stack([ring + a * np.cos(inner), b * np.sin(inner)])[::-1]))
    return curves


def _uneven_outline(merge: UnevenMerge, at: float) -> Outline:
    if at > merge.cut:
        share = min((at - merge.cut) / (merge.cone_end - merge.cut), 1.0)
        return [cone_outline(merge, True, share)]
    curves = loops(outline(section(merge, True, at)))
    return [np.concatenate([piece.points(48)[:-1] for piece in loop]) for loop in curves]


def _all_round(merge: Merge, lobe: Array) -> Array:
    return np.concatenate([lobe @ _turn(2 * merge.sector * k) for k in range(merge.count)])


def _turn(angle: float) -> Array:
    """The matrix that turns rows of points counter-clockwise when they are multiplied by it."""
    c, s = math.cos(angle), math.sin(angle)
    return np.array([[c, s], [-s, c]])
