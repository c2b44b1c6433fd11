"""report.md: the verdict, what was found, and the evidence, for a reader in the workshop."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from headergen.model import Gap, Result, Run
from headergen.model.finding import Finding, sort_findings
from headergen.model.materials import material_called
from headergen.outputs.report.facts import (
    INCH,
    against,
    bends,
    counts,
    gap_word,
    mass,
    mesh_line,
    short_name,
    smallest_gap,
    step_word,
    target,
    verdict,
    worst_first,
)
from headergen.outputs.report.markdown_parts import bosses, collectors, parts, secondaries, transitions
from headergen.outputs.report.paper import both, degrees, plain, table
from headergen.words.say import capital

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
    """The report as Markdown: verdict first, then findings, then evidence; lengths in the job's unit and the other."""
    blocks = [
        *_head(result, version),
        *_findings(sort_findings(result.findings)),
        *_primaries(result),
        *_meshes(result),
        *_gaps(result),
        *_second_opinions(result),
        *transitions(result),
        *collectors(result),
        *secondaries(result),
        *bosses(result),
        *parts(result),
        "## Cautions",
        "\n".join(f"- {caution}" for caution in CAUTIONS),
    ]
    return "\n\n".join(blocks) + "\n"


def _head(result: Result, version: str) -> Iterator[str]:
    job, tube = result.header.draft.job, result.header.draft.tube
    yield f"# {plain(job.title)}, revision {plain(job.revision)}"
    yield f"**{verdict(result.findings, result.header.draft)}**"
    if counts(result.findings)["error"]:
        yield "**There are error findings. Do not cut tube until these errors are fixed.**"
    mm = f"{tube.outside_diameter:g} × {tube.wall:g} mm"
    inches = f"{tube.outside_diameter / INCH:.3f} × {tube.wall / INCH:.3f} in"
    size = f"{inches} ({mm})" if result.header.draft.units == "in" else f"{mm} ({inches})"
    facts = [("Date", job.date), ("Customer", job.customer), ("Notes", job.notes)]
    lines = [f"{name}: {plain(value)}" for name, value in facts if value]
    known = material_called(tube.material)
    lines.append(f"Tube: {size}, {plain(tube.material)}")
    if known is not None:
        lines.append(f"Weights are at {known.density:.0f} kg/m³ ({known.source})")
    lines.append(f"Made by headergen {version} from {plain(Path(result.source.file).name)}")
    lines.append(f"SHA-256 of the spec: {result.source.sha256}")
    yield "\n".join(f"- {line}" for line in lines)


def _findings(findings: Sequence[Finding]) -> Iterator[str]:
    yield "## Findings"
    if not findings:
        yield "None."
        return
    yield table(("Level", "What"), [(f.level.upper(), plain(f.message)) for f in findings])


def _primaries(result: Result) -> Iterator[str]:
    units = result.header.draft.units
    header = result.header
    yield "## Primaries"
    rows = []
    for primary, length in _lengths(result):
        if not primary.is_primary:  # those have a section of their own
            continue
        count, turned = bends(primary)
        wanted, grams = target(header, primary), mass(primary.tube, length)
        rows.append(
            (
                str(primary.number),
                f"{plain(primary.end.collector)}, {primary.end.number}",
                f"{count}, {degrees(turned)} in all",
                both(units, length),
                "no target" if wanted is None else both(units, length - wanted, 1, "+"),
                "not known" if grams is None else f"{grams:.0f} g",
            )
        )
    yield table(("Primary", "Collector, bore", "Bends", "Developed length", "Off target", "Mass"), rows)
    yield "Masses are at nominal wall."
    yield "How each end meets its bore (along: positive is past the collector plane):"
    ends = [
        (short_name(header, e.run), both(units, e.along, 2, "+"), both(units, e.across, 2), degrees(e.angle, 2))
        for e in result.survey.ends
    ]
    yield table(("Tube", "Along", "Across", "Angle"), ends)


def _lengths(result: Result) -> Iterator[tuple[Run, float]]:
    """Each run and its developed length."""
    return zip(result.header.runs, result.survey.lengths, strict=True)


def _meshes(result: Result) -> Iterator[str]:
    """What each mesh was taken for: a wrong unit or place shows here."""
    units = result.header.draft.units
    if result.survey.meshes:
        yield "## Meshes"
        lines = []
        for known in result.survey.meshes:
            size = " × ".join(both(units, each) for each in known.size)
            lines.append(plain(mesh_line(result, known, size, both(units, result.survey.from_header(known)))))
        yield "\n".join(f"- {line}" for line in lines)


def _gaps(result: Result) -> Iterator[str]:
    units = result.header.draft.units
    yield "## Gaps"
    gaps = worst_first(result.survey.gaps)
    smallest = [_smallest_row(result, run.name) for run in result.header.runs]
    yield table(("Tube", "Smallest gap to the chassis", "Smallest gap to other tubes"), smallest)
    if gaps:
        yield "All of them, tightest first; a negative gap is the depth of a crossing:"
        heads = ("Tube", "Against", "Gap", "Wanted", "From the flange", "Step", "Remark")
        yield table(heads, [_gap_row(result, gap) for gap in gaps])
    for gap in gaps:
        yield from _profiles(gap, units)
    if result.survey.part_gaps:
        yield "Flange, sleeves, merge and outlet, as simple envelopes, where they come near something:"
        rows = [
            (plain(gap.a), plain(gap.b), both(units, gap.value, 2), both(units, gap.required, 2))
            for gap in result.survey.part_gaps
        ]
        yield table(("Part", "Against", "Gap", "Wanted"), rows)
    if result.part_gaps:
        yield "Other parts, measured on their meshes, the nearest item to each:"
        worst_last = sorted(result.part_gaps, key=lambda g: -round(g.value - g.required, 6))
        nearest = {gap.a: gap for gap in worst_last}
        shown = [nearest[part.name] for part in result.parts if part.name in nearest]
        said = ["crosses, how deep is not known" if g.crosses else both(units, g.value, 2) for g in shown]
        rows = [(plain(g.a), plain(g.b), how, both(units, g.required, 2)) for g, how in zip(shown, said, strict=True)]
        yield table(("Part", "Against", "Gap", "Wanted"), rows)
    if result.survey.reaches:
        yield "Tools on bolts and plugs, and sensors, where something is near them (negative: in their way):"
        yield table(
            ("What", "Against", "Gap"),
            [(plain(g.a), plain(g.b), both(units, g.value)) for g in result.survey.reaches],
        )
    if result.header.draft.limits.together > 0:
        together = both(units, result.header.draft.limits.together)
        yield f"Over the last {together} tubes of one collector may close up; there they are checked for crossing only."


def _profiles(gap: Gap, units: str) -> Iterator[str]:
    """How a gap runs where it is below what is wanted."""
    for stretch in gap.near:
        if stretch.profile:
            yield f"{capital(gap.a)} along {plain(against(gap))}, {both(units, gap.required)} wanted:"
            yield table(
                ("From the flange", "Gap"), [(both(units, at), both(units, value, 2)) for at, value in stretch.profile]
            )


def _smallest_row(result: Result, name: str) -> tuple[str, str, str]:
    units = result.header.draft.units
    found = [smallest_gap(result, name, to_tubes) for to_tubes in (False, True)]
    to_chassis, to_tubes = ("not measured" if gap is None else both(units, gap.value, 2) for gap in found)
    return short_name(result.header, name), to_chassis, to_tubes


def _gap_row(result: Result, gap: Gap) -> tuple[str, ...]:
    units = result.header.draft.units
    edge = "at the edge of a length that is not checked: may be closer inside it" if gap.on_boundary else ""
    return (
        short_name(result.header, gap.a),
        plain(against(gap)),
        both(units, gap.value, 2),
        both(units, gap.required, 2),
        both(units, gap.place.at),
        step_word(result.header, gap.place),
        "; ".join(word for word in (gap_word(gap), edge) if word),
    )


def _second_opinions(result: Result) -> Iterator[str]:
    units = result.header.draft.units
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
                short_name(result.header, o.a),
                plain(o.b),
                both(units, o.exact, 2),
                both(units, o.other_method, 2),
                both(units, o.allowed, 2),
            )
            for o in apart
        ]
        yield table(("Tube", "Against", "Gap", "Second method", "May differ by"), rows)
