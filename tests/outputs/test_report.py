"""report.json: against its schema, against the result it is made of, and against outside values for masses."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import sample_result as sample
from pydantic import ValidationError

from headergen.model import Draft, OwnCrossing, Place, Tube
from headergen.model.finding import Finding
from headergen.outputs.report import report_data, report_markdown, report_schema, write_report_json, write_reports
from headergen.outputs.report.facts import mass, smallest_gap
from headergen.outputs.report.records.gaps import gap_record
from headergen.outputs.report.records.report import report_of
from headergen.outputs.report.said import say_verdict, worst_first

SCHEMA_FILE = Path(__file__).parents[2] / "specs" / "report.schema.json"


def full_result() -> Any:
    """A result with something under every key."""
    made = sample.result((sample.NOTE, sample.ERROR, sample.WARNING))
    crossing = OwnCrossing(
        "primary 1", (Place("primary 1", 80.0, 2), Place("primary 1", 400.0, 5)), 30.0, (1.0, 2.0, 3.0)
    )
    return replace(made, survey=replace(made.survey, crossings=(crossing,)))


def test_report_meets_its_schema() -> None:
    schema = report_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(report_data(full_result(), "1.2.3"))


def test_an_empty_report_meets_the_schema_too() -> None:
    bare = sample.result(gaps=(), chassis=())
    bare = replace(bare, parts=(), survey=replace(bare.survey, second_opinions=()))
    jsonschema.Draft202012Validator(report_schema()).validate(report_data(bare, "1.2.3"))


def test_schema_refuses_what_a_report_never_holds() -> None:
    validator = jsonschema.Draft202012Validator(report_schema())
    for spoil in (
        lambda data: data.pop("gaps"),
        lambda data: data.update(extra=1),
        lambda data: data["gaps"][0].update(gap_mm="11.2"),
        lambda data: data["findings"][0].update(level="fatal"),
        lambda data: data["runs"][0]["steps"][1].pop("radius_mm"),
        lambda data: data["gaps"][0]["points_mm"].pop(),
    ):
        data = report_data(full_result(), "1.2.3")
        spoil(data)
        assert not validator.is_valid(data)


def test_kept_schema_is_the_one_in_the_code() -> None:
    assert json.loads(SCHEMA_FILE.read_text(encoding="utf-8")) == report_schema()


def test_every_number_says_its_unit() -> None:
    """Every key that holds a float ends in a unit, but for the two of a finding that have `unit` beside them."""
    units = ("_mm", "_deg", "_g", "_mm2", "_mm3", "_kg_m3", "_nm", "_percent")

    def walk(value: Any, key: str) -> None:
        if isinstance(value, dict):
            for name, inner in value.items():
                walk(inner, name)
        elif isinstance(value, list):
            for inner in value:
                walk(inner, key)
        elif isinstance(value, float):
            assert key.endswith(units) or key in ("value", "limit"), key

    walk(report_data(full_result(), "1"), "")


UNITS = {
    "mm": "mm",
    "mm2": "mm²",
    "mm3": "mm³",
    "deg": "°",
    "percent": "%",
    "g": "g",
    "m3": "kg/m³",
    "nm": "N·m",
}


def entries(schema: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Record, key and what the schema says of it, for each key there is."""
    for name, record in {**schema["$defs"], "Report": schema}.items():
        for key, said in record["properties"].items():
            yield name, key, said


def test_every_key_is_described() -> None:
    """By itself or, where it is a record or a list of them, by what that is."""
    for name, key, said in entries(report_schema()):
        inner = said.get("items", said)
        text = said.get("description") or report_schema()["$defs"][inner["$ref"].split("/")[-1]]["description"]
        assert len(text) > 4, f"{name}.{key}"


def test_the_unit_in_a_name_is_the_unit_in_the_schema() -> None:
    """A number has the unit that its name ends in; a name that ends in none has no unit."""
    seen = set()
    for name, key, said in entries(report_schema()):
        kinds = [said, *said.get("anyOf", ()), *said.get("prefixItems", ())]
        found = {each["unit"] for each in kinds if "unit" in each}
        last = key.rsplit("_", 1)[-1] if "_" in key else ""
        assert found == ({UNITS[last]} if last in UNITS else set()), f"{name}.{key}"
        seen |= found
    assert seen == set(UNITS.values())


def test_records_do_not_change() -> None:
    report = report_of(full_result(), "1")
    with pytest.raises(ValidationError, match="frozen"):
        report.gaps[0].gap_mm = 99.0
    with pytest.raises(ValidationError, match="extra"):
        report.weight.__class__(mass_g=1.0, centre_mm=(0.0, 0.0, 0.0), moment_at_flange_nm=0.0, colour="red")


def test_paper_says_exact_values_and_the_file_rounded_ones() -> None:
    """15 − 4e-7 is under 15: the file rounds it to 15, but the remark on paper must not."""
    near = replace(sample.GAPS[0], value=15.0 - 4e-7, near=())
    made = sample.result(gaps=(near,))
    assert report_data(made, "1")["gaps"][0]["gap_mm"] == 15.0
    assert report_of(made, "1").gaps[0].is_too_small and "TOO NEAR" in report_markdown(made, "1")


def test_what_is_measured_is_what_is_reported() -> None:
    data = report_data(full_result(), "1.2.3")
    first = data["runs"][0]
    assert first["developed_length_mm"] == pytest.approx(sample.LENGTH, abs=1e-6)  # rounded to 1e-6
    assert first["target_length_mm"] == 450.0
    assert first["length_difference_mm"] == pytest.approx(sample.LENGTH - 450.0, abs=1e-6)
    assert first["bends"] == 2
    assert first["bends_total_deg"] == 115.0
    assert first["smallest_gap_to_chassis_mm"] == 11.234568
    assert first["smallest_gap_to_tubes_mm"] == 57.6  # not the −0.004 where they converge on the collector
    assert first["end"] == {"along_mm": 0.25, "across_mm": 0.1, "angle_deg": 0.3, "point_mm": [1.0, 2.0, 3.0]}
    assert [step["kind"] for step in first["steps"]] == ["straight", "bend", "straight", "bend", "straight"]
    assert first["steps"][1]["rotation_deg"] == 100.0
    assert data["runs"][1]["smallest_gap_to_tubes_mm"] == 57.6  # a pair is measured once and counts for both
    assert data["counts"] == {"error": 1, "warning": 1, "info": 1}
    assert data["verdict"] == {"clear": False, "worst_level": "error", "of": "tubes and chassis"}
    assert data["tool"]["version"] == "1.2.3"


def test_gap_keeps_every_field() -> None:
    shaft, frame, pair, closing = report_data(full_result(), "1")["gaps"]
    assert shaft["at"] == [{"run": "primary 1", "from_start_mm": 131.25, "step": 2}]
    assert (shaft["a"], shaft["b"], shaft["pose"]) == ("primary 1", "steering shaft", "cold")
    assert (shaft["gap_mm"], shaft["required_mm"]) == (11.234568, 15.0)
    profile = [{"from_start_mm": at, "gap_mm": gap} for at, gap in ((120.0, 15.0), (130.25, 11.5), (140.5, 15.0))]
    assert shaft["too_near"] == [{"from_mm": 120.0, "to_mm": 140.5, "smallest_gap_mm": 11.234568, "profile": profile}]
    assert (frame["triangle_index"], frame["on_boundary"]) == (17, True)
    assert (pair["a"], pair["b"]) == ("primary 1", "primary 2")
    assert pair["at"][1] == {"run": "primary 2", "from_start_mm": 91.0, "step": 2}
    assert (pair["together"], closing["together"]) == (False, True)


def test_a_primarys_own_target_comes_first() -> None:
    made = sample.result()
    primaries = (replace(made.header.primaries[0], target=460.0), made.header.primaries[1])
    made = replace(made, header=replace(made.header, runs=primaries))
    assert [p["target_length_mm"] for p in report_data(made, "1")["runs"]] == [460.0, 450.0]


def test_no_folder_no_minus_zero_and_sorted_findings() -> None:
    text = json.dumps(report_data(full_result(), "1"))
    assert "/home" not in text and "/somewhere" not in text
    assert "-0.0," not in text and "-0.0]" not in text and "-0.0}" not in text
    assert [f["level"] for f in json.loads(text)["findings"]] == ["error", "warning", "info"]


def test_file_is_plain_sorted_utf8(tmp_path: Path) -> None:
    made = sample.result(job=replace(sample.header().draft.job, title="Flößer"))
    for name in ("a.json", "b.json"):
        write_report_json(tmp_path / name, made, "1")
    raw = (tmp_path / "a.json").read_bytes()
    assert raw == (tmp_path / "b.json").read_bytes()
    assert raw.endswith(b"}\n") and b"\r" not in raw
    assert "Flößer".encode() in raw
    data = json.loads(raw)
    assert list(data) == sorted(data)


def test_a_number_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="JSON"):
        write_report_json(tmp_path / "a.json", sample.result(gaps=(replace(sample.GAPS[0], value=math.nan),)), "1")
    assert not (tmp_path / "a.json").exists()


def test_both_reports_land_in_the_folder(tmp_path: Path) -> None:
    write_reports(tmp_path, full_result(), "1")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["report.json", "report.md"]
    assert (tmp_path / "report.md").read_text(encoding="utf-8").startswith("# Bogbean")


@pytest.mark.parametrize(
    ("diameter", "wall", "material", "grams_per_metre", "rounding"),
    [
        # π(OD − t)·t·ρ; a weight table of steel tube (7.85 g/cm³), from memory, prints 1.825 kg/m
        (75.0, 1.0, "mild steel", 1825.0, 0.5),
        # worked out apart from this code at 7900 kg/m³ (EN 10088-1), printed to 0.1 g/m
        (38.1, 1.5, "304", 1362.5, 0.05),
        (41.275, 1.651, "304L", 1623.6, 0.05),
        (42.4, 1.6, "AISI 321", 1620.2, 0.05),
        (50.8, 1.651, "1.4301", 2013.9, 0.05),
    ],
)
def test_mass_per_metre(diameter: float, wall: float, material: str, grams_per_metre: float, rounding: float) -> None:
    assert mass(Tube(diameter, wall, material), 1000.0) == pytest.approx(grams_per_metre, abs=rounding)


def test_unknown_material_has_no_mass() -> None:
    assert mass(Tube(42.4, 1.5, "unobtainium"), 1000.0) is None
    data = report_data(sample.result(tube=Tube(42.4, 1.5, "unobtainium")), "1")
    assert data["tube"]["density_kg_m3"] is None and data["runs"][0]["mass_g"] is None
    jsonschema.Draft202012Validator(report_schema()).validate(data)


def test_verdict_counts_in_words_and_says_of_what() -> None:
    def verdict(findings: tuple[Finding, ...], draft: Draft) -> str:
        report = report_of(sample.result(findings, chassis=draft.chassis), "1")
        return say_verdict(report.verdict, report.counts)

    whole = sample.header().draft
    assert verdict((), whole) == "Clear: no findings"
    assert verdict((sample.WARNING,), whole) == "Clear: no errors, 1 warning"
    assert verdict((sample.ERROR, sample.ERROR, sample.NOTE), whole) == "NOT CLEARED: 2 errors, 1 note"
    bare = replace(whole, chassis=())
    assert verdict((), bare) == "Clear (tubes only; nothing around them was given): no findings"
    assert verdict((sample.ERROR,), bare) == "NOT CLEARED (tubes only; nothing around them was given): 1 error"
    for draft, of in ((whole, "tubes and chassis"), (bare, "tubes only")):
        assert report_data(sample.result(chassis=draft.chassis), "1")["verdict"]["of"] == of


@pytest.mark.parametrize(
    ("density", "names"),
    [
        # EN 10088-1, by AISI name and by EN number
        (7900.0, ("304", "304L", "AISI 304l", "321", "347", "1.4301", "1.4307", "1.4541", "1.4550")),
        (8000.0, ("316", "316L", "1.4401", "1.4404")),
        (7700.0, ("409", "1.4512")),
        (7850.0, ("mild steel", "Mild  Steel", "carbon steel")),  # EN 1993-1-2
        # from memory; tolerance: none, the figure is one by agreement
        (4510.0, ("titanium grade 2", "Titanium Grade 2")),
        (8440.0, ("alloy 625",)),
    ],
)
def test_densities(density: float, names: tuple[str, ...]) -> None:
    for name in names:
        data = report_data(sample.result(tube=Tube(42.4, 1.5, name)), "1")["tube"]
        assert data["density_kg_m3"] == density and data["density_source"], name


def test_gaps_by_what_they_have_to_spare() -> None:
    """Tubes that only lie against each other at the collector are as they should be, and are left out."""
    roomy, tight, crossing = (
        gap_record(replace(sample.GAPS[0], required=required, value=value))
        for required, value in ((10.0, 12.0), (40.0, 41.0), (5.0, -3.0))
    )
    pressed, through = gap_record(sample.GAPS[3]), gap_record(replace(sample.GAPS[3], value=-0.4))
    assert worst_first((roomy, tight, crossing, pressed)) == [crossing, tight, roomy]
    assert not pressed.is_too_small and through.is_too_small
    assert worst_first((roomy, through)) == [through, roomy]


def test_smallest_gap_is_none_without_any() -> None:
    assert smallest_gap(sample.result(gaps=()), 1, to_tubes=True) is None
