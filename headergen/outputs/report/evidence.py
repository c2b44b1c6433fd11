"""Sections that only the report page has: tightest places, all gaps in one table, gaps along tubes, collectors, banks.

Each is a section of data; the page knows none of them by name.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from headergen.geometry.curves.stepped import widest_radius
from headergen.geometry.merge.design import possible_merge
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Arc, Centreline, Header, Vec
from headergen.model.evidence import Evidence, GapAlong
from headergen.outputs.report.figures.along import along_plot
from headergen.outputs.report.figures.banks import banks_drawing
from headergen.outputs.report.figures.gap_picture import gap_picture
from headergen.outputs.report.figures.merge import area_plot, section_drawing, section_planes
from headergen.outputs.report.records.gaps import GapRecord
from headergen.outputs.report.records.report import Report
from headergen.outputs.report.said import against, degrees, gap_word, worst_first
from headergen.outputs.report.sections import Block, Bullets, Figure, Section, Sight, Table
from headergen.show.scale import Toned
from headergen.words.numbers import both
from headergen.words.say import capital

OPEN = ("What would help", "Cautions")  # sections that are read in full, not looked up
TIGHTEST, NUMBERED = 10, 6  # gaps in the list beside the view, and numbered gaps in the gap picture


@dataclass(frozen=True)
class Cell:
    """A gap in a matrix, mm; `remark` says what is wrong with it, and is empty if nothing is."""

    gap: float
    remark: str
    sight: Sight


@dataclass(frozen=True)
class Matrix:
    """The smallest gap of each run (a column) to each thing (a row); None if none was measured."""

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, tuple[Cell | None, ...]]]


@dataclass(frozen=True)
class PageSection:
    """A section of the page: its texts and figures, in order.

    `folded`: shown as one line, its title with `result`, until it is opened. `has_scale`: the scale of gaps follows.
    """

    title: str
    blocks: tuple[Block | Matrix, ...]
    result: str = ""
    folded: bool = True
    has_scale: bool = False


def beside_view(report: Report) -> Iterator[PageSection]:
    """The gaps, each with its place."""
    gaps = worst_first(report.gaps)
    if not gaps:
        return
    units, shown = report.shop_units, gaps[:TIGHTEST]
    rows = [
        (
            f"{capital(gap.a)} to {against(gap)}",
            ", ".join(filter(None, (both(units, gap.gap_mm), gap_word(gap)))),
            both(units, gap.required_mm),
        )
        for gap in shown
    ]
    table = Table(("Between", "Gap", "Required"), rows, [_sight(gap) for gap in shown])
    yield PageSection("Tightest places", (table,), folded=False)
    yield PageSection("Smallest gap of each tube to everything", tuple(_matrix(report)))


def _sight(gap: GapRecord) -> Sight:
    return Sight(gap.points_mm, gap.gap_mm)


def _matrix(report: Report) -> Iterator[str | Matrix]:
    known: dict[tuple[str, str], GapRecord] = {}
    for gap in worst_first(report.gaps):
        known.setdefault((gap.a, gap.b), gap)
        if gap.is_between_runs:
            known.setdefault((gap.b, gap.a), gap)
    runs = [run.name for run in report.runs]
    things = [*(item.name for item in report.chassis), *runs]
    rows = [(thing, tuple(_cell(known.get((run, thing))) for run in runs)) for thing in things]
    yield Matrix(tuple(capital(name) for name in runs), [(capital(t), row) for t, row in rows if any(row)])
    if report.limits.together_mm > 0:
        together = both(report.shop_units, report.limits.together_mm)
        full = both(report.shop_units, report.limits.between_tubes_mm)
        yield (
            f"Over the last {together} tubes of one collector may converge; there the required gap falls from {full} "
            "to what the bores leave."
        )


def _cell(gap: GapRecord | None) -> Cell | None:
    return None if gap is None else Cell(gap.gap_mm, gap_word(gap).lower(), _sight(gap))


def toned_tubes(header: Header, along: Sequence[GapAlong]) -> list[Toned]:
    """Each run with its smallest gap and its smallest margin along its length."""
    found = []
    for run, line in header.tubes:
        mine = [each for each in along if each.run == run.name]
        spare = [
            np.where([bool(name) for name in each.against], np.subtract(each.gap, each.required), np.inf)
            for each in mine
        ]
        least = np.min([each.least for each in mine], axis=0)
        found.append(Toned(line, widest_radius(run), np.array(mine[0].at), least, np.min(spare, axis=0)))
    return found


def gaps_section(
    report: Report, tubes: Sequence[Toned], chassis: Sequence[TriangleMesh], direction: Vec
) -> PageSection:
    """The gap picture, with a list of its numbered places."""
    worst, units = worst_first(report.gaps)[:NUMBERED], report.shop_units
    svg = gap_picture(tubes, chassis, [gap.points_mm for gap in worst], (direction, units))
    said = tuple(
        f"{number}: {gap.a} to {against(gap)}, {both(units, gap.gap_mm)}; {both(units, gap.required_mm)} required"
        for number, gap in enumerate(worst, 1)
    )
    caption = "The tubes by how near they come to anything, the darker the nearer; the tightest places have numbers."
    figure = Figure(svg, caption, wide=True)
    return PageSection("Gap picture", (figure, Bullets(said)) if said else (figure,), has_scale=True)


def along_section(report: Report, header: Header, along: Sequence[GapAlong]) -> PageSection:
    """A plot for each run."""
    figures = []
    for run, line in header.tubes:
        mine = [each for each in along if each.run == run.name]
        svg = along_plot(run.name, mine, _bends(line), report.shop_units)
        said = "; ".join(_least_words(each, report.shop_units) for each in mine)
        figures.append(Figure(svg, f"{capital(run.name)}: {said}."))
    intro = (
        "The gap along each tube from where it begins. The dashed line is what is required; where the gap is below it, "
        "the space between is hatched. At each place the line is that of the least margin there, and ends "
        "where nothing is near."
    )
    return PageSection("Gaps along the tubes", (intro, *figures))


def _bends(line: Centreline) -> list[tuple[float, float]]:
    starts = line.starts
    return [
        (start, start + segment.length)
        for segment, start in zip(line.segments, starts, strict=False)
        if isinstance(segment, Arc)
    ]


def _least_words(each: GapAlong, units: str) -> str:
    what = "other tubes" if each.to_tubes else "chassis"
    near = [k for k, name in enumerate(each.against) if name]
    if not near:
        return f"{what}: nothing within {both(units, each.reach)}"
    k = min(near, key=lambda k: each.gap[k] - each.required[k])
    required = f"{both(units, each.required[k])} required" if each.required[k] else "where they may touch"
    return f"{what}: {both(units, each.gap[k])} to {each.against[k]} at {both(units, each.at[k])}, {required}"


def collector_sections(header: Header) -> Iterator[PageSection]:
    """The flow area in each collector that has a merge."""
    draft = header.draft
    for collector in draft.collectors:
        merge = possible_merge(draft.tube, collector)
        if merge is not None:
            figures = [Figure(area_plot(collector.name, merge, draft.units), "The flow area along its axis.")]
            figures += [
                Figure(
                    section_drawing(collector.name, merge, at, where, draft.units),
                    f"{where}, {both(draft.units, at)} after the collector plane.",
                )
                for at, where in section_planes(merge)
            ]
            intro = "Sections of the gas, square to the axis, all to one scale."
            result = f"{len(figures) - 1} sections and the flow area"
            yield PageSection(f"Sections of collector {collector.name}", (intro, *figures), result)


def banks_section(header: Header, evidence: Evidence) -> Iterator[PageSection]:
    """This bank with the other one mirrored onto it."""
    if evidence.banks is None:
        return
    banks, units = evidence.banks, header.draft.units
    found = banks.found
    deviates = dict(found.unlike)
    rows = [
        (capital(name), both(units, other), both(units, here), both(units, here - other, 1, "+"), both(units, off, 2))
        for name, other, here in found.lengths
        for off in [deviates[name]]
    ]
    heads = ("Tube", f"In {banks.name}", "Here", "Longer here", "Deviates at most")
    collectors = [
        (
            f"{two} from {one}",
            *(both(units, value, 1, "+") for value in off),
            degrees(math.degrees(angle), 2),
        )
        for one, two, off, angle in found.collectors
    ]
    gap, a, b = found.gap
    yield PageSection(
        "Both banks",
        (
            f"The bank of {banks.name} (wide band), mirrored between the banks, under this one (line).",
            Figure(banks_drawing(header, banks), "Both banks, each tube along its middle.", wide=True),
            Table(heads, rows),
            Table(("Collector", "Forward", "Left", "Up", "Turned"), collectors),
            *(
                f"{capital(what)} is in the {which} bank only, and is compared with nothing."
                for what, which in found.alone
            ),
            f"Smallest gap between the banks, as they stand: {both(units, gap)}, {a} of {banks.name} to {b} of this one"
            f"{'; they cross' if gap < 0 else ''}.",
        ),
        f"{both(units, gap)} between them at least; deviates by at most {both(units, max(deviates.values()), 2)}",
    )


def from_paper(sections: Sequence[Section], left_out: Sequence[str]) -> Iterator[PageSection]:
    """The sections of the report on paper, except those that the page shows in its own way."""
    kept = (each for each in sections if each.title not in left_out)
    return (PageSection(each.title, each.blocks, folded=each.title not in OPEN) for each in kept)
