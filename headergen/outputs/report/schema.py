"""The JSON Schema of report.json, kept at specs/report.schema.json."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]

MESH_UNITS = ["mm", "cm", "m", "in", "ft"]

TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
LEVEL: Schema = {"enum": ["error", "warning", "info"]}
COUNT: Schema = {"type": "integer", "minimum": 0}
ORDINAL: Schema = {"type": "integer", "minimum": 1, "description": "counted from 1"}
POSE: Schema = {"type": "string", "description": "in which the gap was measured: cold, or how the engine moved"}
SHA256: Schema = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
POINT: Schema = {
    "type": "array",
    "description": "a point in engine axes: x forward, y left, z up",
    "items": {"type": "number"},
    "minItems": 3,
    "maxItems": 3,
}


def report_schema() -> Schema:
    """JSON Schema (draft 2020-12) that every report.json meets: all keys are there, and no others."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "headergen report",
        "description": "What was measured and found of one header. Lengths in millimetres, angles in degrees.",
        **_record(
            format={"const": 2},
            tool=_record(name={"const": "headergen"}, version=TEXT),
            spec=_record(file=_text("its name, without its folder"), sha256=SHA256),
            job=_record(title=TEXT, revision=TEXT, date=_text("ISO 8601"), customer=TEXT, notes=TEXT),
            shop_units={"enum": ["mm", "in"], "description": "in which messages say lengths; keys say their own unit"},
            tube=_tube(),
            limits=_limits(),
            verdict=_record(
                clear=_flag("there is no error finding"),
                worst_level=_or_null(LEVEL),
                of=_text("of what it is said: tubes and chassis, or tubes only where nothing around them was given"),
            ),
            counts=_record(error=COUNT, warning=COUNT, info=COUNT),
            findings=_list(_finding()),
            runs=_list(_run(), description="primaries, then tubes from one collector's outlet to another's bore"),
            chassis=_list(_item()),
            gaps=_list(_gap()),
            part_gaps=_list(_part_gap()),
            made_part_gaps=_list(_part_gap(), description="of made parts that are no tubes, by their own meshes"),
            reach=_list(_part_gap(), description="tools on bolts and plugs, and sensors, to what is nearest to each"),
            own_crossings=_list(_crossing()),
            second_opinions=_list(_opinion()),
            meshes=_list(_mesh()),
            transitions=_list(_transition()),
            collectors=_list(_collector()),
            bosses=_list(_boss()),
            parts=_list(_part()),
            weight=_or_null(_weight()),
        ),
    }


def _record(**properties: Schema) -> Schema:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _list(items: Schema, **more: Any) -> Schema:
    return {"type": "array", "items": items, **more}


def _number(description: str, **more: Any) -> Schema:
    return {"type": "number", "description": description, **more}


def _positive(description: str) -> Schema:
    return _number(description, exclusiveMinimum=0)


def _text(description: str) -> Schema:
    return {**TEXT, "description": description}


def _flag(description: str) -> Schema:
    return {**FLAG, "description": description}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _tube() -> Schema:
    return _record(
        outside_diameter_mm=_positive("outside diameter"),
        wall_mm=_positive("nominal wall"),
        material=TEXT,
        density_kg_m3=_or_null(_positive("null when the material is not known")),
        density_source=_or_null(_text("where that is from")),
    )


def _limits() -> Schema:
    return _record(
        min_straight_mm=_number("shortest straight that can be made"),
        end_position_mm=_number("how far an end may miss its bore"),
        end_angle_deg=_number("how far an end may lean against its bore"),
        between_tubes_mm=_number("required gap between primaries"),
        together_mm=_number("length before the collector plane over which tubes of one collector may close up"),
        chord_error_mm=_number("chord error of the written meshes"),
        length_tolerance_mm=_number("how far a developed length may be off its target"),
    )


def _finding() -> Schema:
    return _record(
        rule=_text("short code of the rule that found it"),
        level=LEVEL,
        where=_text("the primary or item"),
        value=_or_null(_number("what was found, in `unit`")),
        limit=_or_null(_number("what is allowed, in `unit`")),
        unit=TEXT,
        message=TEXT,
        point_mm=_or_null(POINT),
    )


def _run() -> Schema:
    return _record(
        name=_text("as findings and parts call it"),
        role={"enum": ["primary", "secondary"]},
        number=_or_null(ORDINAL),
        from_collector=_or_null(_text("whose outlet a secondary comes from")),
        outside_diameter_mm=_positive("outside diameter"),
        wall_mm=_positive("nominal wall"),
        collector=_text("name of the collector it ends in"),
        bore=ORDINAL,
        locked=_flag("its steps are not to be changed"),
        steps=_list({"oneOf": [_straight(), _bend()]}),
        bends=COUNT,
        bends_total_deg=_number("sum of the bend angles"),
        developed_length_mm=_number("centreline length from flange face to collector plane"),
        target_length_mm=_or_null(_positive("length wanted; null when none is")),
        length_difference_mm=_or_null(_number("developed length less target")),
        mass_g=_or_null(_positive("at nominal wall; null when the material is not known")),
        smallest_gap_to_chassis_mm=_or_null(_number("negative: depth; null when none was measured")),
        smallest_gap_to_tubes_mm=_or_null(_number("negative: depth; null when none was measured")),
        end=_record(
            along_mm=_number("miss along the bore's axis; positive: past the collector plane"),
            across_mm=_number("miss across the bore's axis"),
            angle_deg=_number("angle between tube and bore"),
            point_mm=POINT,
        ),
    )


def _straight() -> Schema:
    return _record(step=ORDINAL, kind={"const": "straight"}, length_mm=_number("its length"))


def _bend() -> Schema:
    return _record(
        step=ORDINAL,
        kind={"const": "bend"},
        length_mm=_number("along the centreline"),
        angle_deg=_number("bend angle"),
        radius_mm=_positive("centre-line radius"),
        rotation_deg=_number("turn of the bend plane about the incoming travel direction, right-hand positive"),
    )


def _item() -> Schema:
    return _record(
        name=TEXT,
        role={"enum": ["obstacle", "enclosure", "surface"]},
        clearance_mm=_number("required gap"),
        free_from_flange_mm=_number("length from the flange over which it is not measured"),
        mesh=_or_null(_record(file=_text("its name, without its folder"), sha256=SHA256)),
    )


def _place() -> Schema:
    return _record(
        run=_text("its name"), from_start_mm=_number("length along the centreline, from flange or outlet"), step=ORDINAL
    )


def _gap() -> Schema:
    return _record(
        a=_text("name of the run"),
        b=_text("name of the other run, or of the chassis item"),
        pose=POSE,
        at=_list(_place(), minItems=1, maxItems=2, description="along each of its runs"),
        gap_mm=_number("between the surfaces; negative: depth where they cross"),
        required_mm=_number("the least that is allowed"),
        points_mm=_list(POINT, minItems=2, maxItems=2, description="on the primary, on the other body"),
        too_near=_list(
            _record(
                from_mm=_number("length from the flange"),
                to_mm=_number("length from the flange"),
                smallest_gap_mm=_number("within the stretch"),
                profile=_list(
                    _record(from_start_mm=_number("length along the centreline"), gap_mm=_number("of the disc there")),
                    description="how the gap runs from its start to its end",
                ),
            )
        ),
        triangle_index=_or_null({**COUNT, "description": "triangle of the mesh, counted from 0"}),
        together=_flag("between tubes, within the length where those of one collector close up"),
        on_boundary=_flag("it sits where a left-out stretch begins"),
        runs_through=_flag("the centreline itself meets the other body"),
        uncertainty_mm=_number("what a scan's spacing and placing leave open"),
        side_unknown=_flag("the mesh cannot tell whether the tube, which does not cross it, is on the wrong side"),
        surface_goes_round=_or_null(
            {
                **_list({"type": "number"}, minItems=2, maxItems=2),
                "description": "least and most times a mesh that is not crossed goes round the tube; 1 inside, 0 out",
            }
        ),
    )


def _part_gap() -> Schema:
    return _record(
        a=_text("flange, sleeve, merge or outlet as a simple envelope, a made part, or a tool"),
        b=_text("name of the chassis item, or the run that goes elsewhere"),
        pose=POSE,
        gap_mm=_number("between the surfaces; negative: how deep the other reaches in"),
        required_mm=_number("the least that is allowed"),
        points_mm=_list(POINT, minItems=2, maxItems=2, description="on the part, on the other body"),
        wholly_on_the_wrong_side=_flag("within what it must avoid, or outside what must hold it"),
        crosses_by_an_unknown_depth=_flag("it crosses an open surface, which cannot say how deep; the gap reads 0"),
    )


def _mesh() -> Schema:
    return _record(
        item=_text("name of the chassis item"),
        file=_text("its name, without its folder"),
        triangles={**COUNT, "description": "in the file"},
        left_out={**COUNT, "description": "triangles with a corner that is not a number"},
        without_area={**COUNT, "description": "triangles measured as lines or points"},
        y_up=_flag("its format is y up, and it was turned z up"),
        doubts=_list(TEXT, description="what may be missing from the file"),
        points_only=_flag("a cloud of points, without a surface"),
        assumed=_list(TEXT, description="what had to be assumed to read it"),
        units={"enum": MESH_UNITS, "description": "of the file's numbers"},
        units_from={"enum": ["spec", "format", "points", "size", "extent"], "description": "how the unit was told"},
        closed=_flag("its triangles close once, so that it can tell inside from outside"),
        size_mm={**POINT, "description": "along the file's own axes"},
        from_ports_mm=_number("from the nearest port or bore to the mesh"),
        from_header_mm=_number("from the nearest tube, port or bore to the mesh; 0 where it meets the header"),
        other_units=_list(
            _record(units={"enum": MESH_UNITS}, largest_mm=_positive("largest dimension"), from_ports_mm=_number("")),
            description="in which it would be as large as a chassis and lie by the header, too",
        ),
        placed={"enum": ["file", "spec", "points"], "description": "as its file has it, as the spec says, by points"},
        spacing_mm=_number("within which nine in ten points have a neighbour; 0 for a surface"),
        placed_by=_list(_record(name=TEXT, off_mm=_number("what is left between its two places"))),
        error_at_header_mm=_number("by how much it is off at the header, or less, in 95 of 100; 0 without points"),
        tells_mirror=_flag("its points, if it has any, would show a mirrored mesh"),
    )


def _crossing() -> Schema:
    return _record(
        run=_text("its name"),
        places=_list(_place(), minItems=2, maxItems=2),
        centreline_distance_mm=_number("between the two places"),
        point_mm=POINT,
    )


def _opinion() -> Schema:
    return _record(
        a=_text("name of the run"),
        b=_text("name of the other run, or of the chassis item"),
        exact_gap_mm=_number("the gap as reported"),
        other_method_gap_mm=_number("the same gap between the meshes"),
        allowed_difference_mm=_number("what chord errors let the two differ by"),
        agrees=FLAG,
    )


def _transition() -> Schema:
    return _record(
        port=ORDINAL,
        straight_mm=_number("how far it keeps the shape of the port, inside the plate", minimum=0),
        length_mm=_positive("from there to the tube"),
        round_port_mm=_positive("round the port at the middle of the wall"),
        round_tube_mm=_positive("round the tube at the middle of its wall"),
        flat_pattern_mm2=_positive("area of its flat pattern, without what stands straight in the plate"),
        stretch_percent=_number("by which tube is stretched to go round the port; negative: shrunk"),
        made_of={"enum": ["tube", "sheet"], "description": "tube: swaged from it; sheet: too far for that"},
        areas=_list(
            _record(at_mm=_number("along it"), area_mm2=_positive("of the gas")),
            description="from the shape of the port to the bore of the tube",
        ),
    )


def _collector() -> Schema:
    return _record(
        name=TEXT,
        join={"enum": ["slip", "weld"]},
        runs=_list(TEXT, description="in bore 1, 2, 3, …"),
        merge=_or_null(_merge()),
    )


def _boss() -> Schema:
    return _record(
        name=TEXT,
        run=_or_null(_text("on this run")),
        collector=_or_null(_text("on the outlet of this collector")),
        at_mm=_number("along the gas from the flange face, or from where outlet or secondary begins"),
        clock_deg=_number("turned from up, or from forward on an upright tube, right-handed about the gas"),
        outside_diameter_mm=_positive("of the boss"),
        height_mm=_positive("over the tube's skin"),
        hole_mm=_positive("as drilled"),
        thread=_or_null(_text("that the hole is tapped to")),
        for_sensor=_flag("checked as an oxygen sensor's"),
    )


def _merge() -> Schema:
    area = {"at_mm": _number("downstream of the collector plane"), "area_mm2": _positive("square to the axis")}
    return _record(
        half_angle_deg=_positive("between a collector tube and the axis"),
        mitre_mm=_number("where the middles of the collector tubes turn inward, downstream of the collector plane"),
        cut_mm=_number("where the collector tubes end and the cone begins"),
        outlet_from_mm=_number("where the outlet begins"),
        outlet_to_mm=_number("where it ends"),
        closed_in_the_middle=_flag("the collector tubes meet before they are cut; else the spike closes the middle"),
        one_bore_mm2=_positive("of one tube that goes in"),
        smallest=_record(
            **area,
            to_one_bore=_positive("as a multiple of that one bore"),
            to_all_bores=_positive("as a share of all bores together"),
        ),
        areas=_list(_record(**area), description="sections of the gas from the collector plane to the outlet"),
        cut_line=_list(
            _record(
                around_deg=_number("round the collector tube, from the side farthest off the axis"),
                mitre_mm=_number("mitre of the leaning tube, along it from the middle of the mitre"),
                end_mm=_number("its other end, counted the same way"),
            ),
            description="cuts of one collector tube on its outside, for a wrap template",
        ),
    )


def _weight() -> Schema:
    return _record(
        mass_g=_positive("of all parts"),
        centre_mm=POINT,
        moment_at_flange_nm=_number("of the weight about the middle of the ports, the vehicle level", minimum=0),
    )


def _part() -> Schema:
    return _record(
        mass_g=_or_null(_positive("null when the material is not known")),
        centre_mm=POINT,
        name=TEXT,
        role=TEXT,
        files=_list(TEXT),
        volume_mm3=_number("of the solid"),
        mesh_volume_mm3=_number("enclosed by the written mesh"),
        closed=_flag("the written mesh is watertight"),
    )
