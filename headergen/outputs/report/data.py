"""report.json: everything that was measured and found, under stable keys with the unit in their names."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from headergen.model import (
    ChassisItem,
    End,
    Gap,
    Limits,
    MeshFacts,
    MeshRef,
    OwnCrossing,
    Place,
    Result,
    Run,
    SecondOpinion,
    Survey,
    Tube,
)
from headergen.model.finding import Finding, sort_findings, worst_level
from headergen.model.materials import material_called
from headergen.outputs.report.facts import (
    bends,
    counts,
    mass,
    smallest_gap,
    target,
    weight,
)
from headergen.outputs.report.markdown import report_markdown
from headergen.outputs.report.part_data import (
    boss_data,
    collector_data,
    part_data,
    step_data,
    transition_data,
    weight_data,
)
from headergen.outputs.report.rounding import in_degrees, rounded, rounded_or_none, rounded_point

FORMAT = 2  # raised when a key changes its name or meaning


def write_reports(folder: Path, result: Result, version: str) -> None:
    """Write report.json and report.md into a folder that exists. Raises as write_report_json does."""
    write_report_json(folder / "report.json", result, version)
    (folder / "report.md").write_bytes(report_markdown(result, version).encode())


def write_report_json(path: Path, result: Result, version: str) -> None:
    """Write report.json: UTF-8, keys sorted, one newline at the end.

    Raises ValueError when a number is not finite (JSON has no word for it) and OSError when it cannot be written.
    """
    data = report_data(result, version)
    text = json.dumps(data, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    path.write_bytes((text + "\n").encode())


def report_data(result: Result, version: str) -> dict[str, Any]:
    """The report as plain dicts and lists; lengths in millimetres, angles in degrees, rounded to 1e-6.

    report_schema() describes it. `version` is the tool's.
    """
    header, survey = result.header, result.survey
    findings = sort_findings(result.findings)
    level = worst_level(findings)
    return {
        "format": FORMAT,
        "tool": {"name": "headergen", "version": version},
        "spec": {"file": Path(result.source.file).name, "sha256": result.source.sha256},
        "job": {key: getattr(header.draft.job, key) for key in ("title", "revision", "date", "customer", "notes")},
        "shop_units": header.draft.units,
        "tube": _tube(header.draft.tube),
        "limits": _limits(header.draft.limits, header.draft.length.tolerance),
        "verdict": {
            "clear": level != "error",
            "worst_level": level,
            "of": "tubes and chassis" if header.draft.chassis else "tubes only",
        },
        "counts": counts(findings),
        "findings": [_finding(finding) for finding in findings],
        "runs": [
            _run(result, run, length) | {"end": _end(end)}
            for run, length, end in zip(header.runs, survey.lengths, survey.ends, strict=True)
        ],
        "chassis": [_item(item) for item in header.draft.chassis],
        "gaps": [_gap(gap) for gap in survey.gaps],
        "part_gaps": [_part_gap(gap) for gap in survey.part_gaps],
        "made_part_gaps": [_part_gap(gap) for gap in result.part_gaps],
        "reach": [_part_gap(gap) for gap in survey.reaches],
        "own_crossings": [_crossing(crossing) for crossing in survey.crossings],
        "second_opinions": [_opinion(opinion) for opinion in survey.second_opinions],
        "meshes": [_mesh(survey, known) for known in survey.meshes],
        "transitions": [transition_data(port, header.draft) for port in header.draft.flange.ports if port.transition],
        "collectors": [collector_data(collector, header.draft) for collector in header.draft.collectors],
        "bosses": [boss_data(boss) for boss in header.draft.bosses],
        "parts": [part_data(part, header.draft.tube) for part in result.parts],
        "weight": weight_data(weight(result)),
    }


def _tube(tube: Tube) -> dict[str, Any]:
    known = material_called(tube.material)
    return {
        "outside_diameter_mm": rounded(tube.outside_diameter),
        "wall_mm": rounded(tube.wall),
        "material": tube.material,
        "density_kg_m3": None if known is None else known.density,
        "density_source": None if known is None else known.source,
    }


def _limits(limits: Limits, length_tolerance: float) -> dict[str, Any]:
    return {
        "min_straight_mm": rounded(limits.min_straight),
        "end_position_mm": rounded(limits.end_position),
        "end_angle_deg": in_degrees(limits.end_angle),
        "between_tubes_mm": rounded(limits.between_tubes),
        "together_mm": rounded(limits.together),
        "chord_error_mm": rounded(limits.chord_error),
        "length_tolerance_mm": rounded(length_tolerance),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "level": finding.level,
        "where": finding.where,
        "value": rounded_or_none(finding.value),
        "limit": rounded_or_none(finding.limit),
        "unit": finding.unit,
        "message": finding.message,
        "point_mm": None if finding.point is None else rounded_point(finding.point),
    }


def _run(result: Result, run: Run, length: float) -> dict[str, Any]:
    header = result.header
    wanted = target(header, run)
    count, turned = bends(run)
    to_chassis, to_tubes = (smallest_gap(result, run.name, tubes) for tubes in (False, True))
    return {
        "name": run.name,
        "role": run.role,
        "number": run.number if run.is_primary else None,
        "from_collector": run.source or None,
        "outside_diameter_mm": rounded(run.tube.outside_diameter),
        "wall_mm": rounded(run.tube.wall),
        "collector": run.end.collector,
        "bore": run.end.number,
        "locked": run.locked,
        "steps": [step_data(number, step) for number, step in enumerate(run.steps, 1)],
        "bends": count,
        "bends_total_deg": in_degrees(turned),
        "developed_length_mm": rounded(length),
        "target_length_mm": rounded_or_none(wanted),
        "length_difference_mm": None if wanted is None else rounded(length - wanted),
        "mass_g": rounded_or_none(mass(run.tube, length)),
        "smallest_gap_to_chassis_mm": None if to_chassis is None else rounded(to_chassis.value),
        "smallest_gap_to_tubes_mm": None if to_tubes is None else rounded(to_tubes.value),
    }


def _end(end: End) -> dict[str, Any]:
    return {
        "along_mm": rounded(end.along),
        "across_mm": rounded(end.across),
        "angle_deg": in_degrees(end.angle),
        "point_mm": rounded_point(end.point),
    }


def _item(item: ChassisItem) -> dict[str, Any]:
    mesh = item.shape if isinstance(item.shape, MeshRef) else None
    return {
        "name": item.name,
        "role": item.role,
        "clearance_mm": rounded(item.clearance),
        "free_from_flange_mm": rounded(item.free_from_flange),
        "mesh": None if mesh is None else {"file": Path(mesh.path).name, "sha256": mesh.sha256},
    }


def _place(place: Place) -> dict[str, Any]:
    return {"run": place.run, "from_start_mm": rounded(place.at), "step": place.step}


def _gap(gap: Gap) -> dict[str, Any]:
    return {
        "a": gap.a,
        "b": gap.b,
        "pose": gap.pose,
        "at": [_place(place) for place in gap.places],
        "gap_mm": rounded(gap.value),
        "required_mm": rounded(gap.required),
        "points_mm": [rounded_point(point) for point in gap.points],
        "too_near": [
            {
                "from_mm": rounded(stretch.start),
                "to_mm": rounded(stretch.end),
                "smallest_gap_mm": rounded(stretch.smallest),
                "profile": [{"from_start_mm": rounded(at), "gap_mm": rounded(value)} for at, value in stretch.profile],
            }
            for stretch in gap.near
        ],
        "triangle_index": gap.triangle,
        "together": gap.together,
        "on_boundary": gap.on_boundary,
        "runs_through": gap.runs_through,
        "uncertainty_mm": rounded(gap.uncertainty),
        "side_unknown": gap.side_unknown,
        "surface_goes_round": None if gap.winding is None else [rounded(times) for times in gap.winding],
    }


def _part_gap(gap: Gap) -> dict[str, Any]:
    return {
        "a": gap.a,
        "b": gap.b,
        "pose": gap.pose,
        "gap_mm": rounded(gap.value),
        "required_mm": rounded(gap.required),
        "points_mm": [rounded_point(point) for point in gap.points],
        "wholly_on_the_wrong_side": gap.inside,
        "crosses_by_an_unknown_depth": gap.crosses,
    }


def _mesh(survey: Survey, known: MeshFacts) -> dict[str, Any]:
    content = known.content
    return {
        "item": known.item,
        "file": known.file,
        "triangles": content.triangles,
        "left_out": content.left_out,
        "without_area": content.no_area,
        "y_up": content.y_up,
        "doubts": list(content.doubts),
        "points_only": content.points_only,
        "assumed": list(content.assumed),
        "units": known.units,
        "units_from": known.units_from,
        "closed": known.closed,
        "size_mm": rounded_point(known.size),
        "from_ports_mm": rounded(known.away),
        "from_header_mm": rounded(survey.from_header(known)),
        "other_units": [
            {"units": other.units, "largest_mm": rounded(other.size), "from_ports_mm": rounded(other.away)}
            for other in known.others
        ],
        "placed": known.placed,
        "spacing_mm": rounded(known.spacing),
        "placed_by": [{"name": pair.name, "off_mm": rounded(pair.distance)} for pair in known.residuals],
        "error_at_header_mm": rounded(known.error),
        "tells_mirror": known.tells_mirror,
    }


def _crossing(crossing: OwnCrossing) -> dict[str, Any]:
    return {
        "run": crossing.run,
        "places": [_place(place) for place in crossing.places],
        "centreline_distance_mm": rounded(crossing.distance),
        "point_mm": rounded_point(crossing.point),
    }


def _opinion(opinion: SecondOpinion) -> dict[str, Any]:
    return {
        "a": opinion.a,
        "b": opinion.b,
        "exact_gap_mm": rounded(opinion.exact),
        "other_method_gap_mm": rounded(opinion.other_method),
        "allowed_difference_mm": rounded(opinion.allowed),
        "agrees": opinion.agrees,
    }
