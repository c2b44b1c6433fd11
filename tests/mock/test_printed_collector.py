"""The printed collector: its outside against closed forms, that it goes on one way only, and that it prints."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from assembly import home, manifold
from layers import as_trimesh, starts_in_mid_air
from manifold3d import CrossSection, FillRule, Manifold
from random_headers import random_header

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.lobes import lobe_area
from headergen.geometry.merge.measures import Merge, ring_at
from headergen.geometry.mesh.tube import tube_mesh
from headergen.mock.build import Mock, make_mock
from headergen.mock.collected import plan_collectors
from headergen.mock.part import MockPart, overhang
from headergen.model import Collector, Header, MockSettings
from headergen.pipeline import settle

ROOT = Path(__file__).resolve().parents[2]
MISSED = 5.0  # mm³: a hundredth of a millimetre over the end of a tube, by which a spec's digits may miss the plane
Demo = Callable[[str], tuple[Header, Mock]]


@cache
def collected(name: str, height: float = 250.0) -> tuple[Header, Mock]:
    folder = "tests/two_steps" if "two_one" in name else "specs"
    header = settle(ROOT / folder / f"{name}.yaml")
    settings = MockSettings(bed=(220.0, 220.0, height), collector=True, plates=False, flange=False)
    return header, make_mock(header, settings)


def of_collector(header: Header, part: MockPart) -> tuple[Collector, Merge]:
    [collector] = [each for each in header.draft.collectors if set(part.runs) & {bore.run for bore in each.bores}]
    return collector, merge_of(header.draft.tube, collector)


def in_collector(collector: Collector, part: MockPart) -> Manifold:
    """The part in the axes of the collector's plane."""
    frame = collector.frame
    turn = np.array([frame.x, frame.y, frame.z])
    return manifold(part.mesh, home(part)).transform(np.column_stack([turn, -turn @ np.array(frame.origin)]))


def filled(section: CrossSection) -> float:
    """Area within the outer outlines."""
    return float(sum(CrossSection([polygon], FillRule.Positive).area() for polygon in section.to_polygons()))


@pytest.mark.slow
@pytest.mark.series
def test_its_outside_is_the_collectors(name: str) -> None:
    """The area of slices before the cut, filled, and of the outlet; touching tubes may be 0.1 mm wider, 1 % in area."""
    header, mock = collected(name)
    for part in mock.collectors:
        collector, merge = of_collector(header, part)
        solid = in_collector(collector, part)
        if part.name.endswith(".1") or "." not in part.name:
            on_axis = merge.mitre + (merge.ring - merge.outer / math.cos(merge.half_angle)) / math.tan(merge.half_angle)
            assert on_axis + 3.0 < merge.cut - 1.0  # from there on no middle is left open
            for at in np.linspace(on_axis + 3.0, merge.cut - 1.0, 5).tolist():
                exact = merge.count * lobe_area(ring_at(merge, at), merge.outer, merge.half_angle, merge.sector)
                assert filled(solid.slice(at)) == pytest.approx(exact, rel=0.01), (part.name, at)
        low, high = solid.bounding_box()[2], solid.bounding_box()[5]
        if high > merge.cone_end + 20.0 and high == pytest.approx(merge.end, abs=1e-3):
            assert filled(solid.slice(high - 1.0)) == pytest.approx(math.pi * merge.outlet_outer**2, rel=0.005)
        if low < 0.0:
            assert low == pytest.approx(min(merge.mouth, -10.0), abs=1e-3)  # the mouth, or the tips of the spigots
    for collector in header.draft.collectors:
        mine = [part for part in mock.collectors if of_collector(header, part)[0] is collector]
        if mine:
            ends = [in_collector(collector, part).bounding_box()[5] for part in mine]
            assert max(ends) == pytest.approx(merge_of(header.draft.tube, collector).end, abs=1e-3)


@pytest.mark.slow
def test_it_goes_on_in_one_way_only(name: str) -> None:
    """At home it shares no room with any part, its tubes stop on it, and one bore further round it does not go on."""
    header, mock = collected(name)
    last = {part.runs[0]: manifold(part.mesh, home(part)) for part in mock.parts}
    for part in mock.collectors:
        collector, merge = of_collector(header, part)
        solid = manifold(part.mesh, home(part))
        for number, tube in last.items():
            assert (solid ^ tube).volume() < MISSED, (part.name, number)
        if "." in part.name and not part.name.endswith(".1"):
            continue
        axes = np.array([collector.frame.x, collector.frame.y, collector.frame.z])
        to, back = -axes @ np.array(collector.frame.origin), np.array(collector.frame.origin)
        local = solid.transform(np.column_stack([axes, to]))
        pushed = local.translate((0.0, 0.0, -0.3)).transform(np.column_stack([axes.T, back]))
        for number in part.runs:
            assert (pushed ^ last[number]).volume() > 50.0, (part.name, number)  # 0.3 mm of the tube's end
        for k in range(1, merge.count):
            turned = local.rotate((0.0, 0.0, 360.0 * k / merge.count)).transform(np.column_stack([axes.T, back]))
            assert sum((turned ^ tube).volume() for tube in last.values()) > 4.0, (part.name, k)


def test_its_spigots_go_into_the_steel(name: str) -> None:
    header, mock = collected(name)
    tube = header.draft.tube
    for part in mock.collectors:
        solid = manifold(part.mesh, home(part))
        for line in header.centrelines:
            if line.run in part.runs:
                end = cut_out(line, line.length - 12.0, line.length)
                tight = tube_mesh(end, tube.radius, tube.radius - tube.wall - 0.1, 0.01)
                assert (solid ^ manifold(tight)).volume() < MISSED, (part.name, line.run)


@pytest.mark.slow
def test_it_prints_without_support(name: str) -> None:
    _, mock = collected(name)
    assert mock.collectors
    for part in mock.collectors:
        seen = as_trimesh(part.mesh)
        assert seen.is_watertight and seen.is_winding_consistent and seen.body_count == 1, part.name
        assert seen.volume == pytest.approx(part.volume, rel=1e-9) and part.volume > 0
        assert all(a <= b for a, b in zip(part.size, MockSettings().bed, strict=True))
        assert overhang(part.mesh, MockSettings().lean) < 0.01, part.name
        assert starts_in_mid_air(part.mesh) == [], part.name
    assert {place.name for place in mock.placed} >= {part.name for part in mock.collectors}


@pytest.mark.slow
def test_a_low_bed_divides_the_outlet_and_nothing_else() -> None:
    """The Bogbean's collector, 237 mm tall, under 200 mm: two parts, which go together in one rotation."""
    _, mock = collected("bogbean", 200.0)
    head, outlet = mock.collectors
    assert (head.name, outlet.name) == ("C1.1", "C1.2")
    assert head.size[2] <= 200.0 and outlet.size[2] <= 200.0
    one, other = manifold(head.mesh, home(head)), manifold(outlet.mesh, home(outlet))
    assert (one ^ other).volume() < 0.5
    rotation, shift = home(outlet)
    for degrees in range(15, 360, 15):
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        turned = manifold(outlet.mesh, (rotation @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]), shift))
        assert (one ^ turned).volume() > 2.0, degrees
    for part in (head, outlet):
        assert as_trimesh(part.mesh).is_watertight and starts_in_mid_air(part.mesh) == []


@pytest.mark.slow
def test_a_collector_too_large_for_the_bed_is_said() -> None:
    _, mock = collected("bogbean", 120.0)
    assert mock.collectors == ()
    assert any("Collector main is not printed" in note and "too large for the bed" in note for note in mock.notes)
    assert mock.parts[-1].sockets == ()


@pytest.mark.slow
def test_bores_without_a_merge_are_said() -> None:
    mock = make_mock(random_header(2), MockSettings(collector=True))
    assert mock.collectors == () and any("asks for no merge" in note for note in mock.notes)


def test_what_secondaries_go_into_comes_after_what_they_begin_on() -> None:
    """A collector takes what is printed: the runs from two outlets are, since both collectors are."""
    header = settle(ROOT / "tests/two_steps/bogbean_four_two_one.yaml")
    plans, notes = plan_collectors(header, MockSettings(collector=True))
    into = {plan.collector.name: {line.run for line in plan.ends} for plan in plans}
    assert list(into) == ["outer", "inner", "main"] and not any("is not printed" in note for note in notes)
    assert into["outer"] == {"primary 1", "primary 4"} and into["inner"] == {"primary 2", "primary 3"}
    assert into["main"] == {"secondary outer", "secondary inner"}
    lone = replace(header, draft=replace(header.draft, collectors=header.draft.collectors[1:]))
    without = lone.with_runs({run.name for run in header.runs} - {"secondary inner", "secondary outer"})
    plans, notes = plan_collectors(without, MockSettings(collector=True))
    assert [plan.collector.name for plan in plans] == ["inner"]
    assert "Collector main is not printed: no printed tube goes into it." in notes


def test_none_is_made_unless_asked_for(demo: Demo) -> None:
    assert demo("bogbean")[1].collectors == ()


@pytest.mark.slow
def test_the_primaries_bear_it() -> None:
    """A quarter of its mass more at each of four ends: the flange's parts are stressed by that much more."""
    header, with_it = collected("bogbean")
    without = make_mock(header, MockSettings(plates=False, flange=False))
    mass = sum(part.volume for part in with_it.collectors) * 1.24e-3
    assert 200.0 < mass < 600.0
    more = {fact.name: fact.stress for fact in with_it.facts}
    assert all(more[fact.name] > fact.stress for fact in without.facts if fact.name in more and fact.name[-2:] == "-1")


@pytest.mark.slow
def test_welded_collectors_of_two_steps() -> None:
    test_it_prints_without_support("bogbean_four_two_one")
    test_it_goes_on_in_one_way_only("bogbean_four_two_one")
