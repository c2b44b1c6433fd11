"""The report for a reader in the workshop: its records as sections, the verdict first, then findings, then evidence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headergen.outputs.report.helpful import helps_section
from headergen.outputs.report.kinds.boss import bosses_section
from headergen.outputs.report.kinds.collector import collectors_section
from headergen.outputs.report.kinds.fitted import fitted_section
from headergen.outputs.report.kinds.made import parts_section
from headergen.outputs.report.kinds.transition import transitions_section
from headergen.outputs.report.records.by_hand import by_hand_section
from headergen.outputs.report.records.gaps import GapRecord, PartGapRecord, SecondOpinionRecord
from headergen.outputs.report.records.report import Report
from headergen.outputs.report.records.runs import RunRecord
from headergen.outputs.report.said import (
    against,
    degrees,
    gap_word,
    mesh_line,
    say_verdict,
    worst_first,
)
from headergen.outputs.report.sections import Block, Bullets, Section, Sight, Strong, Table
from headergen.outputs.report.steps import steps_section
from headergen.words.numbers import INCH, both
from headergen.words.say import capital

# Values and their sources: OSHA 29 CFR 1910.1026 and 1910.146; NIOSH 2013-128; HSE; Maryland COMAR 11.22.02.11
# (one jurisdiction's rule of fleet maintenance); for what moves, guidance of a street-rod federation, from memory.
CAUTIONS = (
    "The gaps are those of the cold header at rest. Heat makes it longer and the engine rocks on its mounts: what is "
    "beside it needs room for both (10–15 mm around engine, gearbox and steering is common guidance).",
    "Hot parts burn and set alight. Keep the exhaust well away from fuel lines, brake lines and anything unshielded "
    "that burns: one jurisdiction's rule of fleet maintenance (Maryland, COMAR 11.22.02.11) rejects under 1 1/2 in "
    "(38.1 mm); your own rules decide.",
    "Welding stainless steel gives off hexavalent chromium (limit 5 µg/m³, OSHA 29 CFR 1910.1026; NIOSH recommends "
    "0.2 µg/m³). Extract the fume; HSE asks for that in all indoor welding.",
    "Purge argon pools low and shuts out air. Less than 19.5 % oxygen is hazardous (OSHA 29 CFR 1910.146).",
    "Local codes, the engine maker's manual and a licensed practitioner come before anything said here.",
)


def sections_of(report: Report) -> Iterator[Section]:
    """The sections of a report, its head first."""
    units = report.shop_units
    yield _head(report)
    yield _findings(report)
    yield from helps_section(report)
    yield Section("Primaries", tuple(_primaries(report.runs, units)))
    yield steps_section(report.runs, report.tube, units)
    yield from _meshes(report)
    yield Section("Gaps", (*_gaps(report), *_part_gaps(report), *_second_opinions(report)))
    yield from by_hand_section(report.by_hand, units)
    yield from transitions_section(report.transitions, report.parts, units)
    yield from collectors_section(report.collectors, units)
    yield from _secondaries(report.runs, units)
    yield from bosses_section(report.bosses, units)
    yield from fitted_section(report.fitted, units)
    yield from parts_section(report.parts, report.weight, units)
    yield Section("Cautions", (Bullets(CAUTIONS),))


def _head(report: Report) -> Section:
    job, tube = report.job, report.tube
    blocks: list[Block] = [Strong(say_verdict(report.verdict, report.counts))]
    if report.counts.error:
        blocks.append(Strong("There are error findings. Do not cut tube until these errors are fixed."))
    mm = f"{tube.outside_diameter_mm:g} × {tube.wall_mm:g} mm"
    inches = f"{tube.outside_diameter_mm / INCH:.3f} × {tube.wall_mm / INCH:.3f} in"
    size = f"{inches} ({mm})" if report.shop_units == "in" else f"{mm} ({inches})"
    facts = [("Date", job.date), ("Customer", job.customer), ("Notes", job.notes)]
    lines = [f"{name}: {value}" for name, value in facts if value]
    lines.append(f"Tube: {size}, {tube.material}")
    if tube.density_kg_m3 is not None:
        lines.append(f"Weights are at {tube.density_kg_m3:.0f} kg/m³ ({tube.density_source})")
    lines.append(f"Made by {report.tool.name} {report.tool.version} from {report.spec.file}")
    lines.append(f"SHA-256 of the spec: {report.spec.sha256}")
    return Section(f"{job.title}, revision {job.revision}", (*blocks, Bullets(tuple(lines))))


def _findings(report: Report) -> Section:
    rows = [(finding.level.upper(), finding.message) for finding in report.findings]
    return Section("Findings", (Table(("Level", "What"), rows) if rows else "None.",))


def _primaries(runs: Sequence[RunRecord], units: str) -> Iterator[Block]:
    rows = [
        (
            run.short_name,
            run.arrives("{}, {}"),
            _turns(run),
            both(units, run.developed_length_mm),
            "no target" if run.length_difference_mm is None else both(units, run.length_difference_mm, 1, "+"),
            "not known" if run.mass_g is None else f"{run.mass_g:.0f} g",
        )
        for run in runs
        if run.role == "primary"  # others have their own section
    ]
    yield Table(("Primary", "Collector, bore", "Bends", "Centreline length", "Off target", "Mass"), rows)
    yield "Centreline lengths run from port face to collector plane. Masses are at nominal wall."
    yield "How each end meets its bore (along: positive is past the collector plane):"
    ends = [
        (
            run.short_name,
            both(units, run.end.along_mm, 2, "+"),
            both(units, run.end.across_mm, 2),
            degrees(run.end.angle_deg, 2),
        )
        for run in runs
    ]
    yield Table(("Tube", "Along", "Across", "Angle"), ends)


def _turns(run: RunRecord) -> str:
    return f"{run.bends}, {degrees(run.bends_total_deg)} in all"


def _secondaries(runs: Sequence[RunRecord], units: str) -> Iterator[Section]:
    rows = [
        (
            f"side of {run.leaves}" if run.leaves else f"outlet of {run.from_collector}",
            f"side of {run.joins}" if run.joins else run.arrives("{}, {}"),
            f"{both(units, run.outside_diameter_mm)} × {both(units, run.wall_mm)}",
            _turns(run),
            both(units, run.developed_length_mm),
        )
        for run in runs
        if run.role == "secondary"
    ]
    if rows:
        heads = ("From", "To", "Tube", "Bends", "Centreline length")
        yield Section("Secondaries", (Table(heads, rows),))


def _meshes(report: Report) -> Iterator[Section]:
    """The assumptions for each mesh: a wrong unit or place shows here."""
    units = report.shop_units
    if report.meshes:
        lines = []
        for mesh in report.meshes:
            size = " × ".join(both(units, each) for each in mesh.size_mm)
            lines.append(mesh_line(mesh, size, both(units, mesh.from_header_mm)))
        yield Section("Meshes", (Bullets(tuple(lines)),))


def _gaps(report: Report) -> Iterator[Block]:
    """The gaps of the runs."""
    units, gaps = report.shop_units, worst_first(report.gaps)
    smallest = [
        (
            run.short_name,
            _measured(run.smallest_gap_to_chassis_mm, units),
            _measured(run.smallest_gap_to_tubes_mm, units),
        )
        for run in report.runs
    ]
    yield Table(("Tube", "Smallest gap to the chassis", "Smallest gap to other tubes"), smallest)
    if gaps:
        yield "All gaps, tightest first; a negative gap is the depth of a crossing:"
        heads = ("Tube", "Against", "Gap", "Required", "From the flange", "Step", "Remark")
        sights = [Sight(gap.points_mm, gap.gap_mm) for gap in gaps]
        yield Table(heads, [_gap_row(report, gap) for gap in gaps], sights)
    for gap in gaps:
        yield from _profiles(gap, units)


def _measured(gap: float | None, units: str) -> str:
    return "not measured" if gap is None else both(units, gap, 2)


def _gap_row(report: Report, gap: GapRecord) -> tuple[str, ...]:
    units = report.shop_units
    edge = "at the edge of a length that is not checked: may be closer inside it" if gap.on_boundary else ""
    return (
        report.run(gap.a).short_name,
        against(gap),
        both(units, gap.gap_mm, 2),
        both(units, gap.required_mm, 2),
        both(units, gap.at[0].from_start_mm),
        report.step_word(gap.at[0]),
        "; ".join(word for word in (gap_word(gap), edge) if word),
    )


def _profiles(gap: GapRecord, units: str) -> Iterator[Block]:
    """The gap along a stretch where it is smaller than required."""
    for stretch in gap.too_near:
        if stretch.profile:
            yield f"{capital(gap.a)} along {against(gap)}, {both(units, gap.required_mm)} required:"
            rows = [(both(units, each.from_start_mm), both(units, each.gap_mm, 2)) for each in stretch.profile]
            yield Table(("From the flange", "Gap"), rows)


def _part_gaps(report: Report) -> Iterator[Block]:
    """The gaps of parts that are not tubes, and of tools."""
    units = report.shop_units
    if report.part_gaps:
        yield "Flange, sleeves, merge and outlet, as simple envelopes, where they come near something:"
        yield _part_gap_table(report.part_gaps, units)
    if report.made_part_gaps:
        yield "Other parts, measured on their meshes, the nearest item to each:"
        nearest = {gap.a: gap for gap in sorted(report.made_part_gaps, key=lambda g: -round(g.to_spare_mm, 6))}
        yield _part_gap_table([nearest[part.name] for part in report.parts if part.name in nearest], units)
    if report.reach:
        yield "Tools on bolts and plugs, and sensors, where something is near them (negative: in their way):"
        yield Table(("What", "Against", "Gap"), [(gap.a, gap.b, both(units, gap.gap_mm)) for gap in report.reach])
    if report.limits.together_mm > 0:
        together = both(units, report.limits.together_mm)
        yield (
            f"Tubes of one collector may converge over the last {together}; there the required gap falls from "
            f"{both(units, report.limits.between_tubes_mm)} to what the bores leave."
        )


def _part_gap_table(gaps: Sequence[PartGapRecord], units: str) -> Table:
    rows = []
    for gap in gaps:
        unknown = gap.crosses_by_an_unknown_depth
        said = "crosses, depth not known" if unknown else both(units, gap.gap_mm, 2)
        rows.append((gap.a, gap.b, said, both(units, gap.required_mm, 2)))
    return Table(("Part", "Against", "Gap", "Required"), rows)


def _second_opinions(report: Report) -> Iterator[Block]:
    opinions = report.second_opinions
    if not opinions:
        return
    apart = [opinion for opinion in opinions if not opinion.agrees]
    yield (
        f"Measured a second time by another method: {len(opinions) - len(apart)} of {len(opinions)} agree within "
        "the chordal deviations of its meshes."
    )
    if apart:
        heads = ("Tube", "Against", "Gap", "Second method", "May differ by")
        yield Table(heads, [_opinion_row(report, opinion) for opinion in apart])


def _opinion_row(report: Report, opinion: SecondOpinionRecord) -> tuple[str, ...]:
    lengths = (opinion.exact_gap_mm, opinion.other_method_gap_mm, opinion.allowed_difference_mm)
    shown = (both(report.shop_units, length, 2) for length in lengths)
    return report.run(opinion.a).short_name, opinion.b, *shown
