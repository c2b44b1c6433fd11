"""report.json: everything that was measured and found, under stable keys with the unit in their names."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from headergen.finding import Finding, sort_findings, worst_level
from headergen.geometry.flow import FlowArea
from headergen.geometry.merge import cut_line
from headergen.geometry.plate import transition_lead
from headergen.geometry.transition import section_areas, stretch
from headergen.model import (
    ChassisItem,
    Collector,
    Draft,
    End,
    Gap,
    Limits,
    MeshRef,
    OwnCrossing,
    Part,
    PartGap,
    Place,
    Port,
    Primary,
    Result,
    SecondOpinion,
    Step,
    Straight,
    Tube,
)
from headergen.outputs.report.collectors import MergeFlow, merge_flow
from headergen.outputs.report.facts import (
    Weight,
    bends,
    counts,
    density,
    mass,
    part_mass,
    smallest_gap,
    target,
    weight,
)
from headergen.outputs.report.markdown import report_markdown

FORMAT = 1  # raised when a key changes its name or meaning


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
    ends = {end.primary: end for end in survey.ends}
    return {
        "format": FORMAT,
        "tool": {"name": "headergen", "version": version},
        "spec": {"file": Path(result.source.file).name, "sha256": result.source.sha256},
        "job": {key: getattr(header.draft.job, key) for key in ("title", "revision", "date", "customer", "notes")},
        "shop_units": header.draft.units,
        "tube": _tube(header.draft.tube),
        "limits": _limits(header.draft.limits, header.draft.length.tolerance),
        "verdict": {"clear": level != "error", "worst_level": level},
        "counts": counts(findings),
        "findings": [_finding(finding) for finding in findings],
        "primaries": [
            _primary(result, primary, length) | {"end": _end(ends[primary.number])}
            for primary, length in zip(header.primaries, survey.lengths, strict=True)
        ],
        "chassis": [_item(item) for item in header.draft.chassis],
        "gaps": [_gap(gap) for gap in survey.gaps],
        "part_gaps": [_part_gap(gap) for gap in survey.part_gaps],
        "made_part_gaps": [_part_gap(gap) for gap in result.part_gaps],
        "reach": [_part_gap(gap) for gap in survey.reaches],
        "own_crossings": [_crossing(crossing) for crossing in survey.crossings],
        "second_opinions": [_opinion(opinion) for opinion in survey.second_opinions],
        "transitions": [_transition(port, header.draft) for port in header.draft.flange.ports if port.transition],
        "collectors": [_collector(collector, header.draft) for collector in header.draft.collectors],
        "parts": [_part(part, header.draft.tube) for part in result.parts],
        "weight": _weight(weight(result)),
    }


def _number(value: float) -> float:
    """Rounded to 1e-6, and never −0.0."""
    return round(float(value), 6) + 0.0


def _maybe(value: float | None) -> float | None:
    return None if value is None else _number(value)


def _degrees(angle: float) -> float:
    return _number(math.degrees(angle))


def _point(point: Iterable[float]) -> list[float]:
    return [_number(value) for value in point]


def _tube(tube: Tube) -> dict[str, Any]:
    return {
        "outside_diameter_mm": _number(tube.outside_diameter),
        "wall_mm": _number(tube.wall),
        "material": tube.material,
        "density_kg_m3": density(tube.material),
    }


def _limits(limits: Limits, length_tolerance: float) -> dict[str, Any]:
    return {
        "min_straight_mm": _number(limits.min_straight),
        "end_position_mm": _number(limits.end_position),
        "end_angle_deg": _degrees(limits.end_angle),
        "between_tubes_mm": _number(limits.between_tubes),
        "together_mm": _number(limits.together),
        "chord_error_mm": _number(limits.chord_error),
        "length_tolerance_mm": _number(length_tolerance),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "level": finding.level,
        "where": finding.where,
        "value": _maybe(finding.value),
        "limit": _maybe(finding.limit),
        "unit": finding.unit,
        "message": finding.message,
        "point_mm": None if finding.point is None else _point(finding.point),
    }


def _primary(result: Result, primary: Primary, length: float) -> dict[str, Any]:
    header = result.header
    wanted = target(header, primary)
    count, turned = bends(primary)
    to_chassis, to_tubes = (smallest_gap(result, primary.number, tubes) for tubes in (False, True))
    return {
        "number": primary.number,
        "collector": primary.bore.collector,
        "bore": primary.bore.number,
        "locked": primary.locked,
        "steps": [_step(number, step) for number, step in enumerate(primary.steps, 1)],
        "bends": count,
        "bends_total_deg": _degrees(turned),
        "developed_length_mm": _number(length),
        "target_length_mm": _maybe(wanted),
        "length_difference_mm": None if wanted is None else _number(length - wanted),
        "mass_g": _maybe(mass(header.draft.tube, length)),
        "smallest_gap_to_chassis_mm": None if to_chassis is None else _number(to_chassis.value),
        "smallest_gap_to_tubes_mm": None if to_tubes is None else _number(to_tubes.value),
    }


def _step(number: int, step: Step) -> dict[str, Any]:
    if isinstance(step, Straight):
        return {"step": number, "kind": "straight", "length_mm": _number(step.length)}
    return {
        "step": number,
        "kind": "bend",
        "length_mm": _number(step.radius * step.angle),
        "angle_deg": _degrees(step.angle),
        "radius_mm": _number(step.radius),
        "rotation_deg": _degrees(step.rotation),
    }


def _end(end: End) -> dict[str, Any]:
    return {
        "along_mm": _number(end.along),
        "across_mm": _number(end.across),
        "angle_deg": _degrees(end.angle),
        "point_mm": _point(end.point),
    }


def _item(item: ChassisItem) -> dict[str, Any]:
    mesh = item.shape if isinstance(item.shape, MeshRef) else None
    return {
        "name": item.name,
        "role": item.role,
        "clearance_mm": _number(item.clearance),
        "free_from_flange_mm": _number(item.free_from_flange),
        "mesh": None if mesh is None else {"file": Path(mesh.path).name, "sha256": mesh.sha256},
    }


def _place(place: Place) -> dict[str, Any]:
    return {"primary": place.primary, "from_flange_mm": _number(place.at), "step": place.step}


def _gap(gap: Gap) -> dict[str, Any]:
    return {
        "place": _place(gap.place),
        "to_primary": _place(gap.other) if isinstance(gap.other, Place) else None,
        "to_item": None if isinstance(gap.other, Place) else gap.other,
        "gap_mm": _number(gap.value),
        "required_mm": _number(gap.required),
        "points_mm": [_point(point) for point in gap.points],
        "too_near": [
            {
                "from_mm": _number(stretch.start),
                "to_mm": _number(stretch.end),
                "smallest_gap_mm": _number(stretch.smallest),
            }
            for stretch in gap.near
        ],
        "triangle_index": gap.triangle,
        "together": gap.together,
        "on_boundary": gap.on_boundary,
        "runs_through": gap.runs_through,
    }


def _part_gap(gap: PartGap) -> dict[str, Any]:
    return {
        "part": gap.part,
        "to": gap.other,
        "gap_mm": _number(gap.value),
        "required_mm": _number(gap.required),
        "points_mm": [_point(point) for point in gap.points],
        "wholly_on_the_wrong_side": gap.inside,
    }


def _crossing(crossing: OwnCrossing) -> dict[str, Any]:
    return {
        "primary": crossing.primary,
        "places": [_place(place) for place in crossing.places],
        "centreline_distance_mm": _number(crossing.distance),
        "point_mm": _point(crossing.point),
    }


def _opinion(opinion: SecondOpinion) -> dict[str, Any]:
    return {
        "primary": opinion.primary,
        "to_primary": opinion.other if isinstance(opinion.other, int) else None,
        "to_item": opinion.other if isinstance(opinion.other, str) else None,
        "exact_gap_mm": _number(opinion.exact),
        "other_method_gap_mm": _number(opinion.other_method),
        "allowed_difference_mm": _number(opinion.allowed),
        "agrees": opinion.agrees,
    }


def _transition(port: Port, draft: Draft) -> dict[str, Any]:
    change = stretch(port.shape, draft.tube)
    return {
        "port": port.number,
        "straight_mm": _number(transition_lead(draft.flange, port)),
        "length_mm": _number(port.transition),
        "stretch_percent": _number(100 * change),
        "made_of": "tube" if abs(change) <= draft.limits.forming else "sheet",
        "areas": [
            {"at_mm": _number(share * port.transition), "area_mm2": _number(area)}
            for share, area in section_areas(port.shape, draft.tube).tolist()
        ],
    }


def _collector(collector: Collector, draft: Draft) -> dict[str, Any]:
    flow = merge_flow(draft.tube, collector)
    return {
        "name": collector.name,
        "join": collector.join,
        "primaries": [bore.primary for bore in collector.bores],
        "merge": None if flow is None else _merge(flow),
    }


def _merge(flow: MergeFlow) -> dict[str, Any]:
    merge, least = flow.merge, flow.smallest
    return {
        "half_angle_deg": _degrees(merge.half_angle),
        "mitre_mm": _number(merge.mitre),
        "cut_mm": _number(merge.cut),
        "outlet_from_mm": _number(merge.cone_end),
        "outlet_to_mm": _number(merge.end),
        "closed_in_the_middle": merge.is_closed,
        "one_bore_mm2": _number(flow.one_bore),
        "smallest": {
            **_area(least),
            "to_one_bore": _number(flow.to_one),
            "to_all_bores": _number(flow.to_all),
        },
        "areas": [_area(each) for each in flow.areas],
        "cut_line": [
            {"around_deg": _degrees(around), "mitre_mm": _number(mitre), "end_mm": _number(end)}
            for around, mitre, end in cut_line(merge)
        ],
    }


def _area(section: FlowArea) -> dict[str, float]:
    return {"at_mm": _number(section.at), "area_mm2": _number(section.area)}


def _weight(found: Weight | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "mass_g": _number(found.grams),
        "centre_mm": _point(found.centre),
        "moment_at_flange_nm": _number(found.moment),
    }


def _part(part: Part, tube: Tube) -> dict[str, Any]:
    return {
        "mass_g": _maybe(part_mass(tube, part)),
        "centre_mm": _point(part.centre),
        "name": part.name,
        "role": part.role,
        "files": list(part.files),
        "volume_mm3": _number(part.volume),
        "mesh_volume_mm3": _number(part.mesh_volume),
        "closed": part.closed,
    }
