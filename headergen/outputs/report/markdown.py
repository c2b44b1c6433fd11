"""report.md: the verdict, what was found, and the evidence, for a reader in the workshop."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from headergen.finding import Finding, sort_findings
from headergen.geometry.secondary import secondary_line
from headergen.geometry.transition import section_areas, stretch
from headergen.model import Collector, Gap, Result
from headergen.outputs.report.collectors import MergeFlow, merge_flows
from headergen.outputs.report.facts import (
    INCH,
    against,
    bends,
    counts,
    gap_word,
    in_units,
    mass,
    part_mass,
    smallest_gap,
    step_word,
    target,
    verdict,
    weight,
    worst_first,
)

# Values and their sources: OSHA 29 CFR 1910.1026 and 1910.146; NIOSH 2013-128; HSE; Maryland COMAR 11.22.02.11
# (one jurisdiction); street-rod federation guidance for what moves.
CAUTIONS = (
    "The gaps are those of the cold header at rest. Heat makes it longer and the engine rocks on its mounts: what is "
    "beside it needs room for both (10–15 mm around engine, gearbox and steering is common guidance).",
    "Hot parts burn and set alight. Keep the exhaust well away from fuel lines, brake lines and anything unshielded "
    "that burns: one jurisdiction (Maryland COMAR 11.22.02.11) rejects under 1 1/2 in (38.1 mm); your own rules "
    "decide.",
    "Welding stainless steel gives off hexavalent chromium (limit 5 µg/m³, OSHA 29 CFR 1910.1026; NIOSH recommends "
    "0.2 µg/m³). Extract the fume; HSE asks for that in all indoor welding.",
    "Purge argon pools low and shuts out air. Less than 19.5 % oxygen is hazardous (OSHA 29 CFR 1910.146).",
    "Local codes, the engine maker's manual and a licensed practitioner come before anything said here.",
)


def report_markdown(result: Result, version: str) -> str:
    """The report as Markdown: verdict first, then findings, then evidence; lengths in millimetres and inches."""
    blocks = [
        *_head(result, version),
        *_findings(sort_findings(result.findings)),
        *_primaries(result),
        *_gaps(result),
        *_second_opinions(result),
        *_transitions(result),
        *_collectors(result),
        *_secondaries(result),
        *_parts(result),
        "## Cautions",
        "\n".join(f"- {caution}" for caution in CAUTIONS),
    ]
    return "\n\n".join(blocks) + "\n"


def _plain(text: str) -> str:
    """Text from a spec, so that Markdown and HTML take it as it is and it stays on its line."""
    return "".join(f"\\{c}" if c in "\\`*[]<>|&" else c if c.isprintable() else " " for c in text)


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _both(millimetres: float, digits: int = 1, sign: str = "") -> str:
    inches = in_units(millimetres, "in", digits, sign)
    return f"{in_units(millimetres, 'mm', digits, sign)} mm ({inches} in)"


def _degrees(angle: float, digits: int = 1) -> str:
    return f"{math.degrees(angle):.{digits}f}°"


def _head(result: Result, version: str) -> Iterator[str]:
    job, tube = result.header.draft.job, result.header.draft.tube
    yield f"# {_plain(job.title)}, revision {_plain(job.revision)}"
    yield f"**{verdict(result.findings)}**"
    if counts(result.findings)["error"]:
        yield "**There are error findings. Do not cut tube to this header before they are mended.**"
    size = (
        f"{tube.outside_diameter:g} × {tube.wall:g} mm ({tube.outside_diameter / INCH:.3f} × {tube.wall / INCH:.3f} in)"
    )
    facts = [("Date", job.date), ("Customer", job.customer), ("Notes", job.notes)]
    lines = [f"{name}: {_plain(value)}" for name, value in facts if value]
    lines.append(f"Tube: {size}, {_plain(tube.material)}")
    lines.append(f"Made by headergen {version} from {_plain(Path(result.source.file).name)}")
    lines.append(f"SHA-256 of the spec: {result.source.sha256}")
    yield "\n".join(f"- {line}" for line in lines)


def _findings(findings: Sequence[Finding]) -> Iterator[str]:
    yield "## Findings"
    if not findings:
        yield "None."
        return
    yield _table(("Level", "What"), [(f.level.upper(), _plain(f.message)) for f in findings])


def _primaries(result: Result) -> Iterator[str]:
    header = result.header
    yield "## Primaries"
    lengths = zip(header.primaries, result.survey.lengths, strict=True)
    rows = []
    for primary, length in lengths:
        count, turned = bends(primary)
        wanted, grams = target(header, primary), mass(header.draft.tube, length)
        rows.append(
            (
                str(primary.number),
                f"{_plain(primary.bore.collector)}, {primary.bore.number}",
                f"{count}, {_degrees(turned)} in all",
                _both(length),
                "no target" if wanted is None else _both(length - wanted, 1, "+"),
                "not known" if grams is None else f"{grams:.0f} g",
            )
        )
    yield _table(("Primary", "Collector, bore", "Bends", "Developed length", "Off target", "Mass"), rows)
    yield "Masses are at nominal wall."
    yield "How each end meets its bore (along: positive is past the collector plane):"
    ends = [
        (str(e.primary), _both(e.along, 2, "+"), _both(e.across, 2), _degrees(e.angle, 2)) for e in result.survey.ends
    ]
    yield _table(("Primary", "Along", "Across", "Angle"), ends)


def _gaps(result: Result) -> Iterator[str]:
    yield "## Gaps"
    if not result.header.draft.chassis:
        yield "**This spec names no chassis: nothing but the tubes themselves was measured.**"
    gaps = worst_first(result.survey.gaps)
    smallest = [_smallest_row(result, primary.number) for primary in result.header.primaries]
    yield _table(("Primary", "Smallest gap to the chassis", "Smallest gap to other tubes"), smallest)
    if gaps:
        yield "All of them, those with least to spare first; a negative gap is the depth of a crossing:"
        heads = ("Primary", "Against", "Gap", "Wanted", "From the flange", "Step", "Remark")
        yield _table(heads, [_gap_row(result, gap) for gap in gaps])
    if result.survey.part_gaps:
        yield "Flange, sleeves, merge and outlet, as simple envelopes, and secondaries, where they come near something:"
        rows = [(gap.part, gap.other, _both(gap.value, 2), _both(gap.required, 2)) for gap in result.survey.part_gaps]
        yield _table(("Part", "Against", "Gap", "Wanted"), rows)
    if result.part_gaps:
        yield "Made parts that are no tubes, by their own meshes, the nearest item to each:"
        worst_last = sorted(result.part_gaps, key=lambda g: -round(g.value - g.required, 6))
        nearest = {gap.part: gap for gap in worst_last}
        shown = [nearest[part.name] for part in result.parts if part.name in nearest]
        rows = [(_plain(g.part), _plain(g.other), _both(g.value, 2), _both(g.required, 2)) for g in shown]
        yield _table(("Part", "Against", "Gap", "Wanted"), rows)
    if result.survey.reaches:
        yield "Tools on bolts and plugs, and sensors, where something is near them (negative: in their way):"
        yield _table(
            ("What", "Against", "Gap"),
            [(_plain(g.part), _plain(g.other), _both(g.value)) for g in result.survey.reaches],
        )
    if result.header.draft.limits.together > 0:
        together = _both(result.header.draft.limits.together)
        yield f"Over the last {together} tubes of one collector may close up; there they are checked for crossing only."


def _smallest_row(result: Result, number: int) -> tuple[str, str, str]:
    found = [smallest_gap(result, number, to_tubes) for to_tubes in (False, True)]
    to_chassis, to_tubes = ("not measured" if gap is None else _both(gap.value, 2) for gap in found)
    return str(number), to_chassis, to_tubes


def _gap_row(result: Result, gap: Gap) -> tuple[str, ...]:
    edge = "where a left-out stretch begins: may be nearer beyond" if gap.on_boundary else ""
    return (
        str(gap.place.primary),
        _plain(against(gap)),
        _both(gap.value, 2),
        _both(gap.required, 2),
        _both(gap.place.at),
        step_word(result.header, gap.place),
        "; ".join(word for word in (gap_word(gap), edge) if word),
    )


def _second_opinions(result: Result) -> Iterator[str]:
    opinions = result.survey.second_opinions
    if not opinions:
        return
    apart = [opinion for opinion in opinions if not opinion.agrees]
    yield (
        f"Measured a second time by another method: {len(opinions) - len(apart)} of {len(opinions)} agree within "
        "the chord errors of its meshes."
    )
    if apart:
        rows = [
            (
                str(o.primary),
                _plain(o.other) if isinstance(o.other, str) else f"primary {o.other}",
                _both(o.exact, 2),
                _both(o.other_method, 2),
                _both(o.allowed, 2),
            )
            for o in apart
        ]
        yield _table(("Primary", "Against", "Gap", "Second method", "May differ by"), rows)


def _transitions(result: Result) -> Iterator[str]:
    draft = result.header.draft
    rows = []
    for port in draft.flange.ports:
        if port.transition:
            change, areas = stretch(port.shape, draft.tube), section_areas(port.shape, draft.tube)[:, 1]
            way = "swage from tube" if abs(change) <= draft.limits.forming else "make of sheet"
            shown = [f"{area:.0f}" for area in (areas[0], areas.min(), areas[-1])]
            rows.append((str(port.number), _both(port.transition), f"{100 * change:+.1f} %, {way}", *shown))
    if rows:
        yield "## Transitions"
        yield _table(("Port", "Length", "Round the port", "Port, mm²", "Smallest, mm²", "Tube, mm²"), rows)


def _collectors(result: Result) -> Iterator[str]:
    flows = list(merge_flows(result.header.draft))
    if not flows:
        return
    yield "## Collectors"
    rows = []
    for collector, flow in flows:
        merge, least = flow.merge, flow.smallest
        at_outlet = least.at >= merge.cone_end - 1e-6
        rows.append(
            (
                _plain(collector.name),
                f"{merge.count}, {_degrees(merge.half_angle)}",
                _both(merge.cut),
                _both(merge.cone_end),
                f"{least.area:.0f} mm², " + ("in the outlet" if at_outlet else f"{_both(least.at)} after the plane"),
                f"{flow.to_one:.2f}",
                f"{flow.to_all:.2f}",
            )
        )
    heads = ("Collector", "Bores, half angle", "Tubes cut at", "Outlet from", "Smallest flow area")
    yield _table((*heads, "To one bore", "To all bores"), rows)
    yield "Lengths count from the collector plane. Flow areas are sections square to the collector's axis:"
    for collector, flow in flows:
        yield f"Collector {_plain(collector.name)}: {_stations(flow)}."
        if collector.join == "weld" and flow.merge.count > 2:
            yield f"Collector {_plain(collector.name)} is welded on. {_welded_order(collector)}"


def _welded_order(collector: Collector) -> str:
    """No torch reaches the middle between the tubes once the collector is on."""
    closer = "its spike, which belongs to the tubes," if collector.spike else "a piece of plate cut to fit"
    return (
        "Before it goes on, tack the tubes in their bundle and close the middle between them from their open ends with "
        f"{closer} welded to every tube all round; then put the collector on and weld round the outside."
    )


def _stations(flow: MergeFlow) -> str:
    shown = [each for k, each in enumerate(flow.areas) if k % 6 == 0 or each is flow.areas[-1]]
    return ", ".join(f"{each.area:.0f} mm² at {each.at:.0f} mm" for each in shown)


def _secondaries(result: Result) -> Iterator[str]:
    rows = []
    for each in result.header.secondaries:
        count, turned = bends(each.path)
        tube = f"{_both(each.tube.outside_diameter)} × {_both(each.tube.wall)}"
        into = f"{_plain(each.bore.collector)}, {each.bore.number}"
        length = _both(secondary_line(each).length)
        rows.append((_plain(each.source), into, tube, f"{count}, {_degrees(turned)} in all", length))
    if rows:
        yield "## Secondaries"
        yield _table(("From the outlet of", "Collector, bore", "Tube", "Bends", "To the collector plane"), rows)


def _parts(result: Result) -> Iterator[str]:
    if not result.parts:
        return
    yield "## Parts"
    rows = []
    for p in result.parts:
        grams = part_mass(result.header.draft.tube, p)
        weighs = "not known" if grams is None else f"{grams:.0f} g"
        closed, files = "yes" if p.closed else "NO", ", ".join(map(_plain, p.files))
        rows.append((_plain(p.name), p.role, f"{p.volume / 1000:.2f} cm³", weighs, closed, files))
    yield _table(("Part", "Role", "Metal", "Mass", "Closed", "Files"), rows)
    total = weight(result)
    if total is not None:
        x, y, z = (f"{value:.0f}" for value in total.centre)
        yield (
            f"All parts: {total.grams / 1000:.2f} kg at nominal wall, without weld; centre of gravity at x {x}, y {y}, "
            f"z {z} mm. Held by the flange alone, the vehicle level, their weight bends it with {total.moment:.1f} N·m."
        )
