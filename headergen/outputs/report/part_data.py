"""What report.json says of made parts: transitions, collectors, each part, and all of them together."""

from __future__ import annotations

from typing import Any

from headergen.geometry.merge.flow import FlowArea
from headergen.geometry.merge.measures import cut_line
from headergen.geometry.plate.flange import transition_lead
from headergen.geometry.transition.development import patterns
from headergen.geometry.transition.rulings import rounds, section_areas, stretch
from headergen.model import Boss, Collector, Draft, Part, Port, Step, Straight, Tube
from headergen.outputs.report.collectors import MergeFlow, merge_flow
from headergen.outputs.report.facts import Weight, part_mass
from headergen.outputs.report.rounding import in_degrees, rounded, rounded_or_none, rounded_point


def transition_data(port: Port, draft: Draft) -> dict[str, Any]:
    change = stretch(port.shape, draft.tube)
    round_port, round_tube = rounds(port.shape, draft.tube)
    flat = sum(half.count * half.area for half in patterns(port.shape, draft.tube, port.transition))
    return {
        "port": port.number,
        "straight_mm": rounded(transition_lead(draft.flange, port)),
        "length_mm": rounded(port.transition),
        "round_port_mm": rounded(round_port),
        "round_tube_mm": rounded(round_tube),
        "flat_pattern_mm2": rounded(flat),
        "stretch_percent": rounded(100 * change),
        "made_of": "tube" if abs(change) <= draft.limits.forming else "sheet",
        "areas": [
            {"at_mm": rounded(share * port.transition), "area_mm2": rounded(area)}
            for share, area in section_areas(port.shape, draft.tube).tolist()
        ],
    }


def collector_data(collector: Collector, draft: Draft) -> dict[str, Any]:
    flow = merge_flow(draft.tube, collector)
    return {
        "name": collector.name,
        "join": collector.join,
        "runs": [bore.run for bore in collector.bores],
        "merge": None if flow is None else _merge(flow),
    }


def boss_data(boss: Boss) -> dict[str, Any]:
    return {
        "name": boss.name,
        "run": None if boss.on_outlet else boss.host,
        "collector": boss.host if boss.on_outlet else None,
        "at_mm": rounded(boss.at),
        "clock_deg": in_degrees(boss.clock),
        "outside_diameter_mm": rounded(boss.outside_diameter),
        "height_mm": rounded(boss.height),
        "hole_mm": rounded(boss.hole),
        "thread": boss.thread or None,
        "for_sensor": boss.sensor,
    }


def step_data(number: int, step: Step) -> dict[str, Any]:
    if isinstance(step, Straight):
        return {"step": number, "kind": "straight", "length_mm": rounded(step.length)}
    return {
        "step": number,
        "kind": "bend",
        "length_mm": rounded(step.radius * step.angle),
        "angle_deg": in_degrees(step.angle),
        "radius_mm": rounded(step.radius),
        "rotation_deg": in_degrees(step.rotation),
    }


def _merge(flow: MergeFlow) -> dict[str, Any]:
    merge, least = flow.merge, flow.smallest
    return {
        "half_angle_deg": in_degrees(merge.half_angle),
        "mitre_mm": rounded(merge.mitre),
        "cut_mm": rounded(merge.cut),
        "outlet_from_mm": rounded(merge.cone_end),
        "outlet_to_mm": rounded(merge.end),
        "closed_in_the_middle": merge.is_closed,
        "one_bore_mm2": rounded(flow.one_bore),
        "smallest": {
            **_area(least),
            "to_one_bore": rounded(flow.to_one),
            "to_all_bores": rounded(flow.to_all),
        },
        "areas": [_area(each) for each in flow.areas],
        "cut_line": [
            {"around_deg": in_degrees(around), "mitre_mm": rounded(mitre), "end_mm": rounded(end)}
            for around, mitre, end in cut_line(merge)
        ],
    }


def _area(section: FlowArea) -> dict[str, float]:
    return {"at_mm": rounded(section.at), "area_mm2": rounded(section.area)}


def weight_data(found: Weight | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "mass_g": rounded(found.grams),
        "centre_mm": rounded_point(found.centre),
        "moment_at_flange_nm": rounded(found.moment),
    }


def part_data(part: Part, tube: Tube) -> dict[str, Any]:
    return {
        "mass_g": rounded_or_none(part_mass(tube, part)),
        "centre_mm": rounded_point(part.centre),
        "name": part.name,
        "role": part.role,
        "files": list(part.files),
        "volume_mm3": rounded(part.volume),
        "mesh_volume_mm3": rounded(part.mesh_volume),
        "closed": part.closed,
    }
