"""report.html: verdict, findings and evidence, beside a view that flies to each place.

A section is data (`PageSection`): text, tables, figures. To add one, add it to `_sections`; neither the template nor
the script of the page know the sections.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from markupsafe import Markup, escape

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import unit
from headergen.model import Header, Result, Vec
from headergen.model.evidence import Evidence
from headergen.model.finding import Finding
from headergen.model.materials import finish_of
from headergen.outputs.report.bench import bench_sections
from headergen.outputs.report.evidence import (
    Cell,
    Matrix,
    PageSection,
    along_section,
    banks_section,
    beside_view,
    collector_sections,
    from_paper,
    gaps_section,
    toned_tubes,
)
from headergen.outputs.report.figures.svg import said_length
from headergen.outputs.report.helpful import TITLE, helps_section
from headergen.outputs.report.paper import sections_of
from headergen.outputs.report.records.gaps import GapRecord, PartGapRecord
from headergen.outputs.report.records.report import Report, report_of
from headergen.outputs.report.results import section_result
from headergen.outputs.report.sections import Block, Bullets, Figure, Section, Sight, Strong, Table
from headergen.show.meshes import ShownMesh
from headergen.show.page import page
from headergen.show.scale import EDGES, TONES, Toned, packed_tubes
from headergen.show.surfaces import SURFACES
from headergen.words.numbers import INCH, in_units
from headergen.words.say import say_length

FILE = "report.html"
TEMPLATES = Path(__file__).with_name("templates")
LEVELS = {"error": "Error", "warning": "Warning", "info": "Note"}
# a length as in messages: "12.0 mm", "143.8 to 256.2 mm"; not the inches of a fraction
SAID = re.compile(r"(?<![\d/.-])(-?\d+(?:\.\d+)?)(?: to (-?\d+(?:\.\d+)?))? (mm|in)\b")


Watched = tuple[int, tuple[str, ...]]  # the number of a state, and what changed in it


@dataclass(frozen=True, eq=False)
class Looks:
    """What the page shows: meshes, the direction from the header to the eye, the picture as JPEG if there is one.

    `thinned`: meshes of the chassis are not shown in full. `watched`: set for a page that is served during editing.
    """

    shown: Sequence[ShownMesh]
    direction: Vec
    picture: bytes | None = None
    thinned: bool = False
    watched: Watched | None = None


def write_report_page(path: Path, result: Result, version: str, evidence: Evidence, looks: Looks) -> None:
    """Write the page. Raises ViewerError if three.js is not available, OSError if the file cannot be written."""
    path.write_text(report_page(result, version, evidence, looks), encoding="utf-8", newline="\n")


def report_page(result: Result, version: str, evidence: Evidence, looks: Looks) -> str:
    """The page as text. Raises ViewerError if three.js is not available."""
    report, header = report_of(result, version), result.header
    tubes = toned_tubes(header, evidence.along)
    sights: list[dict[str, Any]] = []
    findings = [_finding(each, _sight_of(each, report, header), sights) for each in result.findings]
    beside = [_section(each, report, sights) for each in beside_view(report)]
    sections = [_section(each, report, sights) for each in _sections(result, report, evidence, tubes, looks)]
    head = next(iter(sections_of(report)))
    content = {
        "job": report.job,
        "verdict": [block.text for block in head.blocks if isinstance(block, Strong)],
        "clear": report.verdict.clear,
        "findings": findings,
        "beside": beside,
        "sections": sections,
        "units": report.shop_units,
        "scale": list(_scale()),
        "has_chassis": any(each.group == "chassis" for each in looks.shown),
        "thinned": looks.thinned,
        "picture": None if looks.picture is None else base64.b64encode(looks.picture).decode("ascii"),
        "version": version,
        "watched": looks.watched,
    }
    surface = finish_of(header.draft.tube.material, header.draft.job.finish)
    data = {
        "meshes": [
            *(each.packed for each in looks.shown),
            *(mesh for each in tubes for mesh in packed_tubes(each, report.shop_units)),
        ],
        "surface": next(asdict(each) for each in SURFACES if each.name == surface),
        "tones": TONES,
        "seenFrom": [round(value, 4) for value in unit(looks.direction)],
        "sights": sights,
        "units": report.shop_units,
    }
    scripts = ["report.js"] if looks.watched is None else ["report.js", "watch.js"]
    return page(TEMPLATES, FILE, content, data, scripts)


def _sections(
    result: Result, report: Report, evidence: Evidence, tubes: Sequence[Toned], looks: Looks
) -> Iterator[PageSection]:
    """First what would help, then all evidence in order; the cautions last."""
    header, chassis = result.header, [each.mesh for each in looks.shown if each.group == "chassis"]
    head, _, *paper = sections_of(report)
    cautions = paper.pop()
    yield from from_paper(list(helps_section(report)), left_out=())
    if tubes:  # all paths may be still to be found
        yield gaps_section(report, tubes, chassis, looks.direction)
        yield along_section(report, header, evidence.along)
    yield from collector_sections(header)
    yield from banks_section(header, evidence)
    yield from bench_sections(header, evidence.shop)
    facts = tuple(block for block in head.blocks if not isinstance(block, Strong))
    yield from from_paper([*paper, Section("The job", facts), cautions], left_out=(TITLE,))


def _scale() -> Iterator[dict[str, Any]]:
    """The bands of the gap scale, with their limits in both units."""
    for k, tone in enumerate(TONES):
        said = {}
        for units, edges in EDGES.items():
            low, high = (
                said_length(each, units, False) for each in (edges[max(k - 1, 0)], edges[min(k, len(edges) - 1)])
            )
            band = f"{high} {units} and more" if k == len(edges) else f"{low} to {high} {units}"
            said[units] = "crosses" if k == 0 else band
        yield {"tone": tone, **said}


def _sight_of(finding: Finding, report: Report, header: Header) -> Sight | None:
    """The two points of a finding's gap, else its one point, else the middle of its run; None if it has no place."""
    names = {finding.where, finding.against}
    gaps: list[GapRecord | PartGapRecord] = [*report.gaps, *report.part_gaps, *report.made_part_gaps, *report.reach]
    for gap in gaps:
        if finding.point in gap.points_mm and names & {gap.a, gap.b}:
            return Sight(gap.points_mm, gap.gap_mm)
    middles = (
        frame_at(line, line.length / 2)[0] for run, line in header.tubes if run.name in (finding.where, finding.against)
    )
    point = finding.point or next(middles, None)
    return None if point is None else Sight((point, point), words=finding.against or finding.where)


def _finding(finding: Finding, sight: Sight | None, sights: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "level": finding.level,
        "word": LEVELS[finding.level],
        "message": switched(finding.message),
        "sight": _number(sight, sights),
        "name": finding.where,
    }


def switched(text: str) -> Markup:
    """A message whose lengths follow the unit chosen on the page."""
    made, last = Markup(""), 0
    for found in SAID.finditer(text):
        numbers, units = [each for each in found.groups()[:2] if each is not None], found[3]
        said = {each: _in_unit(numbers, units, each) for each in ("mm", "in")}
        made += text[last : found.start()]
        made += Markup('<span data-mm="{}" data-in="{}">{}</span>').format(said["mm"], said["in"], said[units])
        last = found.end()
    return made + text[last:]


def coded(text: str) -> Markup:
    """Text in which input to be typed is between grave accents."""
    words = text.split("`")
    return Markup("").join(Markup("<code>{}</code>").format(w) if k % 2 else escape(w) for k, w in enumerate(words))


def _in_unit(numbers: Iterable[str], stated: str, wished: str) -> str:
    """Unchanged in the original unit; else to 0.1 mm or 0.001 in."""
    if stated == wished:
        return f"{' to '.join(numbers)} {wished}"
    return (
        " to ".join(f"{float(n) / INCH:.3f}" if wished == "in" else f"{float(n) * INCH:.1f}" for n in numbers)
        + f" {wished}"
    )


def _number(sight: Sight | None, sights: list[dict[str, Any]]) -> int | None:
    """Its number among those of the page; each is listed once."""
    if sight is None:
        return None
    said = {each: _beside(sight, each) for each in ("mm", "in")}
    entry = {"points": [[round(value, 3) for value in point] for point in sight.points], **said}
    if entry not in sights:
        sights.append(entry)
    return sights.index(entry)


def _beside(sight: Sight, units: str) -> str:
    """The text beside a place."""
    if sight.gap is None:
        return sight.words
    return f"{say_length(-sight.gap, units)} deep" if sight.gap < 0 else say_length(sight.gap, units)


def _section(section: PageSection, report: Report, sights: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "title": section.title,
        "blocks": [_block(each, sights) for each in section.blocks],
        "result": section.result or section_result(section.title, section.blocks, report),
        "folded": section.folded,
        "has_scale": section.has_scale,
    }


def _block(block: Block | Matrix, sights: list[dict[str, Any]]) -> dict[str, Any]:
    if isinstance(block, Strong):
        return {"kind": "strong", "text": block.text}
    if isinstance(block, Bullets):
        return {"kind": "bullets", "lines": block.lines}
    if isinstance(block, Figure):
        return {"kind": "figure", "svg": Markup(block.svg), "caption": block.caption, "wide": block.wide}
    if isinstance(block, Matrix):
        cells = [(name, [_cell(each, sights) for each in row]) for name, row in block.rows]
        return {"kind": "matrix", "heads": block.heads, "rows": cells}
    if isinstance(block, Table):
        numbers = [_number(each, sights) for each in block.sights] or [None] * len(block.rows)
        rows = list(zip(block.rows, numbers, strict=True))
        return {"kind": "table", "heads": block.heads, "rows": rows}
    return {"kind": "text", "text": coded(block)}


def _cell(cell: Cell | None, sights: list[dict[str, Any]]) -> dict[str, Any] | None:
    if cell is None:
        return None
    said = {each: in_units(cell.gap, each) for each in ("mm", "in")}
    return {**said, "remark": cell.remark, "sight": _number(cell.sight, sights)}
