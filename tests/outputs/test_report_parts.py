"""What the reports say of made parts and collectors: masses, their centre, the moment at the flange, flow areas."""

from __future__ import annotations

import math
from dataclasses import replace
from io import StringIO

import jsonschema
import pytest
import sample_result as sample
from rich.console import Console

from headergen.model import Draft, Gap, Part, PortShape, Result
from headergen.outputs.report import report_markdown, report_schema
from headergen.outputs.report.data import report_data
from headergen.outputs.report.facts import weight
from headergen.outputs.report.terminal import summary
from tests.random_parts import TUBE, collector

LITRE = 1e6  # mm³; 7.9 kg of 304L


def result(**changes: object) -> Result:
    """Two parts of one and three litres, a metre apart forward, the middle between the ports at zero."""
    made = sample.result()
    draft: Draft = made.header.draft
    ports = tuple(replace(p, frame=replace(p.frame, origin=(0.0, 0.0, 0.0))) for p in draft.flanges[0].ports)
    asked = {
        "flanges": (replace(draft.flanges[0], ports=ports),),
        "collectors": (collector(TUBE, 4, 10.0, 63.5),),
        "tube": TUBE,
        **changes,
    }
    parts = (
        Part("flange", "flange", ("flange.step",), LITRE, LITRE, True, (0.0, 0.0, 0.0)),
        Part("collector main", "collector", ("c.step",), 3 * LITRE, 3 * LITRE, True, (1000.0, 0.0, -500.0)),
    )
    gaps = (Gap("flange", "sump", 15.0, 42.0, ((0.0, 0.0, 0.0), (42.0, 0.0, 0.0))),)
    header = replace(made.header, draft=replace(draft, **asked))  # type: ignore[arg-type]
    return replace(made, header=header, survey=replace(made.survey, header=header), parts=parts, part_gaps=gaps)


def test_weight_by_the_lever() -> None:
    """4 litres of 7.9 kg/l: 31.6 kg at three quarters of a metre; 31.6 · 9.80665 · 0.75 = 232.4 N·m."""
    found = weight(result())
    assert found is not None
    assert found.grams == pytest.approx(31_600.0)
    assert found.centre == pytest.approx((750.0, 0.0, -375.0))
    assert found.moment == pytest.approx(31.6 * 9.80665 * 0.75)


def test_of_several_flanges_no_moment_is_told() -> None:
    """How they share the weight is not known; mass and centre are."""
    one = result().header.draft.flanges[0]
    found = weight(result(flanges=(one, replace(one, name="right", ports=()))))
    assert found is not None and found.moment is None and found.grams == pytest.approx(31600.0)
    made = result(flanges=(one, replace(one, name="right", ports=())))
    assert report_data(made, "1")["weight"]["moment_at_flange_nm"] is None
    assert "The moment at the flanges is not computed" in report_markdown(made, "1")


def test_the_moment_depends_on_what_is_up() -> None:
    """With forward up, the parts hang 0.375 m beside the flange."""
    found = weight(result(up=(1.0, 0.0, 0.0)))
    assert found is not None and found.moment == pytest.approx(31.6 * 9.80665 * 0.375)


def test_no_weight_of_what_is_not_known() -> None:
    assert weight(result(tube=replace(TUBE, material="unobtainium"))) is None
    assert weight(sample.result()) is not None and weight(replace(result(), parts=())) is None


def test_the_report_says_it_all() -> None:
    data = report_data(result(), "1")
    jsonschema.Draft202012Validator(report_schema()).validate(data)
    assert data["weight"]["mass_g"] == 31_600.0
    assert [part["mass_g"] for part in data["parts"]] == [7900.0, 23_700.0]
    (found,) = data["collectors"]
    outlet, bore = math.pi * 30.25**2, math.pi * 19.7**2
    assert found["merge"]["smallest"]["area_mm2"] == pytest.approx(outlet, abs=1e-5)
    assert found["merge"]["smallest"]["to_one_bore"] == pytest.approx(outlet / bore, abs=1e-6)
    assert found["merge"]["smallest"]["to_all_bores"] == pytest.approx(outlet / bore / 4, abs=1e-6)
    assert found["merge"]["areas"][0]["area_mm2"] == pytest.approx(4 * math.pi * 21.5**2, abs=1e-5)
    assert [line["around_deg"] for line in found["merge"]["cut_line"]] == [10.0 * k for k in range(37)]
    assert data["made_part_gaps"][0]["gap_mm"] == 42.0


def test_transitions_say_area_and_stretch() -> None:
    """A square port of 38 with sharp corners: 1444 mm², and round it 4·38 + 2π·0.75 against π·40.9 (plane geometry)."""
    made = result()
    port = replace(
        made.header.draft.flanges[0].ports[0], shape=PortShape("rectangle", (38.0, 38.0, 0.0)), transition=30.0
    )
    flange = replace(made.header.draft.flanges[0], ports=(port,))
    data = report_data(result(flanges=(flange,)), "1")
    jsonschema.Draft202012Validator(report_schema()).validate(data)
    (found,) = data["transitions"]
    change = (4 * 38 + 2 * math.pi * 0.75) / (math.pi * 40.9) - 1
    assert found["stretch_percent"] == pytest.approx(100 * change, abs=1e-5) and found["made_of"] == "sheet"
    assert (found["areas"][0]["area_mm2"], found["areas"][-1]["at_mm"]) == pytest.approx((1444.0, 30.0))
    around = (4 * 38 + 2 * math.pi * 0.75, math.pi * 40.9)
    assert (found["round_port_mm"], found["round_tube_mm"]) == pytest.approx(around, abs=1e-5)
    made = result(flanges=(flange,))
    text = report_markdown(made, "1")
    assert f"{100 * change:+.1f} %, make of sheet" in text
    assert f"from {around[0]:.1f} mm ({around[0] / 25.4:.3f} in) round to {around[1]:.1f} mm" in text
    part = Part("transition 1", "transition", ("t.step", "transition_1.dxf"), 1.0, 1.0, True)
    assert "of sheet: cut its flat pattern transition_1.dxf" in report_markdown(replace(made, parts=(part,)), "1")


def test_a_transition_that_is_swaged_says_from_what_to_what() -> None:
    """42.9 across the middle of the wall at the port against 40.9 of the tube: 5 % more (plane geometry)."""
    port = replace(result().header.draft.flanges[0].ports[0], shape=PortShape("round", (41.4,)), transition=30.0)
    flange = replace(result().header.draft.flanges[0], ports=(port,))
    text = report_markdown(result(flanges=(flange,)), "1")
    assert f"swage the end of a tube from {math.pi * 40.9:.1f} mm" in text and f"to {math.pi * 42.9:.1f} mm" in text


def test_a_collector_without_a_merge_has_none() -> None:
    data = report_data(result(collectors=(replace(collector(TUBE, 4, 10.0, 63.5), outlet=None),)), "1")
    jsonschema.Draft202012Validator(report_schema()).validate(data)
    assert data["collectors"][0]["merge"] is None
    text = report_markdown(result(collectors=(replace(collector(TUBE, 4, 10.0, 63.5), outlet=None),)), "1")
    assert "no merge is made. Its keys half" in text
    assert "## Collectors" not in report_markdown(result(collectors=()), "1")


def test_paper_and_terminal_say_the_same() -> None:
    ratio = (30.25 / 19.7) ** 2
    text = report_markdown(result(), "1")
    assert f"| {ratio:.2f} | {ratio / 4:.2f} |" in text and "31.60 kg" in text and "232.4 N·m" in text
    console = Console(file=StringIO(), width=80, no_color=True)
    console.print(summary(result()))
    assert isinstance(console.file, StringIO)
    said = " ".join(console.file.getvalue().split())
    assert f"{ratio:.2f} times the area of one inlet, {ratio / 4:.2f} times that of its 4 inlets added up" in said
    assert "2 parts weigh 31.60 kg, centred 750 forward, 0 left and -375 up (mm)" in said and "232.4 N·m" in said


def test_a_welded_collector_says_in_which_order_it_goes_on() -> None:
    assert "welded on" not in report_markdown(result(), "1")
    spiked = collector(TUBE, 4, 10.0, 63.5, join="weld")
    said = report_markdown(result(collectors=(spiked,)), "1")
    assert "close the middle between them from their open ends with its spike" in said
    bare = report_markdown(result(collectors=(replace(spiked, spike=False),)), "1")
    assert "with a piece of plate cut to fit" in bare
    pair = report_markdown(result(collectors=(collector(TUBE, 2, 10.0, 54.0, join="weld"),)), "1")
    assert "welded on" not in pair, "two tubes leave no middle"
