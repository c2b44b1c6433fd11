"""Runs from an outlet or a port to a place of their own: read, closed, measured and made like other tubes."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from headergen.checks.envelopes import envelopes
from headergen.checks.rules.length import length, length_spread
from headergen.geometry.merge.design import merge_of
from headergen.mock.collected import plan_collectors
from headergen.model import Draft, MockSettings, Straight
from headergen.pipeline import check, full_text
from headergen.solids.build import make_parts
from headergen.solve.closing import close
from headergen.spec.complaint import SpecError
from headergen.spec.reader import read_spec
from headergen.spec.routed import routed_text

HEAD = """\
format: 1
job: {title: Test, revision: A, date: 2026-03-14}
units: mm
tube: {outside_diameter: 42.4, wall: 1.5, material: 304L}
flange:
  plane: {origin: [0, 0, 0], normal: [0, 1, 0], x: [1, 0, 0]}
  thickness: 10
  ports:
    1: {at: [0, 0], shape: {round: 38}}
    2: {at: [46, 0], shape: {round: 38}}
"""
MAIN = """\
  main:
    plane: {origin: [23, 200, 0], normal: [0, 1, 0], x: [1, 0, 0]}
    join: slip
    slip: 35
    pattern: line
    pitch: 46
    bores: [1, 2]
    half_angle: 9
    outlet: 50.8
    outlet_length: 60
"""
TUBES = "primaries: {1: [{straight: 200}], 2: [{straight: 200}]}\n"
PATH = "[{straight: 60}, {bend: 40, radius: 76, rotation: 90}, {straight: {fit: 90}}]"
PLATE = "plate: {shape: {rectangle: [50, 40, 8]}, transition: 60, thickness: 12, bolts: [{at: [44, 0], hole: 9}]}"


def read(folder: Path, text: str, name: str = "job.yaml") -> Draft:
    (folder / name).write_text(text, encoding="utf-8")
    return read_spec(folder / name)[1]


def tail(end: str = "", path: str = "[{straight: 150}]", at: str = "[23, 500, 0]", start: str = "main") -> str:
    end = f", {end}" if end else ""
    return f"runs:\n  tail: {{from: {start}, to: {{at: {at}, along: [0, 1, 0], x: [1, 0, 0]{end}}}, path: {path}}}\n"


def test_a_run_is_the_secondary_into_a_collector_of_one_bore(tmp_path: Path) -> None:
    """The same header in the other form has the same tubes, lengths, ends and gaps."""
    wall = "chassis: [{name: wall, box: {center: [60, 450, 0], size: [20, 200, 200]}, clearance: 12}]\n"
    mouth = "  silencer: {plane: {origin: [23, 500, 0], normal: [0, 1, 0], x: [1, 0, 0]}, join: slip, slip: 40, "
    mouth += "gap: 0.35, pattern: line, bores: [main]}\n"
    other = f"{HEAD}collectors:\n{MAIN}{mouth}secondaries: {{main: [{{straight: 150}}]}}\n{TUBES}{wall}"
    run = f"{HEAD}collectors:\n{MAIN}{tail('into: {diameter: 51.5, depth: 40}')}{TUBES}{wall}"
    one, two = (tmp_path / "one.yaml", tmp_path / "two.yaml")
    one.write_text(run, encoding="utf-8")
    two.write_text(other, encoding="utf-8")
    surveys = [check(path).result.survey for path in (one, two)]
    assert surveys[0].lengths == surveys[1].lengths
    assert [end.across for end in surveys[0].ends] == [end.across for end in surveys[1].ends]
    gaps = [[(gap.a, gap.b, gap.value) for gap in each.gaps] for each in surveys]
    assert gaps[0] == gaps[1] and any("wall" in (a, b) for a, b, _ in gaps[0])
    assert surveys[0].header.run("secondary main").tube == surveys[1].header.run("secondary main").tube


def test_where_it_does_not_end_is_said_in_its_own_words(tmp_path: Path) -> None:
    (tmp_path / "job.yaml").write_text(f"{HEAD}collectors:\n{MAIN}{tail()}{TUBES}", encoding="utf-8")
    said = [each.message for each in check(tmp_path / "job.yaml").result.findings]
    assert any("Secondary main" in each and "its place" in each for each in said), said
    assert not any("collector tail" in each for each in said), said


def test_values_to_fit_are_found(tmp_path: Path) -> None:
    """The place is where a path with known lengths ends, by hand; the guess of the last straight is off by 13 mm."""
    draft = read(tmp_path, f"{HEAD}collectors:\n{MAIN}{TUBES}")
    begin = 200.0 + merge_of(draft.tube, draft.collectors[0]).end
    turn, radius = math.radians(40), 76.0
    along, off = (
        60 + radius * math.sin(turn) + 103 * math.cos(turn),
        radius * (1 - math.cos(turn)) + 103 * math.sin(turn),
    )
    made = read(tmp_path, f"{HEAD}collectors:\n{MAIN}{tail(path=PATH)}{TUBES}").runs[-1]
    way = np.array(made.start.frame.x), np.array(made.start.frame.y)
    for side in (*way, *(-each for each in way)):
        at = np.array([23.0, begin + along, 0.0]) + off * side
        gas = math.cos(turn) * np.array([0.0, 1.0, 0.0]) + math.sin(turn) * side
        text = tail(path=PATH, at=str(at.tolist())).replace("along: [0, 1, 0]", f"along: {gas.tolist()}")
        run = close(read(tmp_path, f"{HEAD}collectors:\n{MAIN}{text.replace(', x: [1, 0, 0]', '')}{TUBES}")).runs[-1]
        if abs(getattr(run.steps[-1], "length", 0.0) - 103.0) < 1e-6:
            return
    pytest.fail("the last straight was found for none of the four ways the bend can go")


def test_a_plate_ends_before_its_face(tmp_path: Path) -> None:
    """The tube ends where transition, socket and setback begin: 60 + 9.7 + 2 before the gasket face at 600."""
    draft = read(tmp_path, f"{HEAD}collectors:\n{MAIN}{tail(PLATE, at='[23, 600, 0]')}{TUBES}")
    assert draft.runs[-1].end.frame.origin == pytest.approx((23.0, 600.0 - 60.0 - 9.7 - 2.0, 0.0))
    names = {each.name for each in envelopes(draft)}
    assert {"outlet plate of secondary main", "outlet transition of secondary main"} <= names


def test_a_pipe_inside_the_tube_takes_no_room(tmp_path: Path) -> None:
    into = read(tmp_path, f"{HEAD}collectors:\n{MAIN}{tail('into: {diameter: 51.5, depth: 40}')}{TUBES}")
    over = read(tmp_path, f"{HEAD}collectors:\n{MAIN}{tail('over: {diameter: 47, depth: 40}')}{TUBES}")
    mouths = [[each for each in envelopes(draft) if each.name == "mouth of secondary main"] for draft in (into, over)]
    assert [len(each) for each in mouths] == [1, 0]
    assert mouths[0][0].shape is not None and mouths[0][0].shape.length == pytest.approx(40.0)
    assert [draft.collectors[-1].gap for draft in (into, over)] == pytest.approx([0.35, 0.4])


def test_a_run_may_start_at_a_port(tmp_path: Path) -> None:
    """A single with a pipe of its own: no collector at all."""
    head = HEAD.replace("    2: {at: [46, 0], shape: {round: 38}}\n", "")
    text = head + tail("into: {diameter: 43, depth: 40}", "[{straight: 300}]", "[0, 300, 0]", "1")
    draft = read(tmp_path, text)
    [run] = draft.runs
    assert (run.name, run.end.collector, run.end.ends_run) == ("primary 1", "tail", True)
    assert not [each for each in check(tmp_path / "job.yaml").result.findings if each.level == "error"]


@pytest.mark.parametrize("end", ["", "into: {diameter: 51.5, depth: 40}", "over: {diameter: 47, depth: 40}", PLATE])
def test_it_is_written_as_it_was_read(end: str, tmp_path: Path) -> None:
    draft = read(tmp_path, f"{HEAD}collectors:\n{MAIN}{tail(end)}{TUBES}")
    again = read(tmp_path, full_text(tmp_path / "job.yaml"), "again.yaml")
    one, two = (each.collectors[-1] for each in (draft, again))
    assert replace(one, frame=two.frame, bores=two.bores, gap=two.gap) == two
    assert one.gap == pytest.approx(two.gap) and one.frame.origin == pytest.approx(two.frame.origin)
    assert again.runs[-1].steps == draft.runs[-1].steps


@pytest.mark.slow
def test_it_is_made_with_its_plate(tmp_path: Path) -> None:
    """The tube's metal by Pappus: the section of the ring times its length."""
    text = f"{HEAD}collectors:\n{MAIN}{tail(PLATE, path='[{straight: {fit: 150}}]', at='[23, 600, 0]')}{TUBES}"
    header = close(read(tmp_path, text))
    parts, overlaps = make_parts(header, tmp_path, lambda *_: None)
    volumes = {part.part.name: part.volume for part in parts}
    assert {"outlet plate tail", "outlet transition tail", "secondary main"} <= volumes.keys() and not overlaps
    ring = math.pi * (25.4**2 - 23.9**2)
    line = next(line for run, line in header.tubes if run.name == "secondary main")
    assert volumes["secondary main"] == pytest.approx(ring * line.length, rel=1e-9)


SINGLE = (
    HEAD.replace("    2: {at: [46, 0], shape: {round: 38}}\n", "")
    + "runs:\n  tail:\n    from: 1  # the only one\n    to: {at: [0, 300, 0], along: [0, 1, 0]}\n    find: true\n"
)


def test_a_path_that_was_found_is_put_in_the_place_of_find(tmp_path: Path) -> None:
    """The rest of the run stays as it is written, comment and all."""
    draft = read(tmp_path, SINGLE)
    found = draft.with_primaries(replace(run, steps=(Straight(300.0),), to_find=False) for run in draft.primaries)
    text = routed_text(SINGLE, found, "by hand")
    assert "from: 1          # the only one" in text or "from: 1  # the only one" in text
    assert "find" not in text.split("\n", 1)[1]
    assert read(tmp_path, text, "found.yaml").runs[0].steps == (Straight(300.0),)


def test_a_path_still_to_be_found_is_said_at_its_run(tmp_path: Path) -> None:
    read(tmp_path, SINGLE)
    with pytest.raises(SpecError) as raised:
        check(tmp_path / "job.yaml")
    (complaint,) = raised.value.complaints
    assert complaint.path == "runs.tail" and "still to be found" in complaint.message
    assert complaint.line == SINGLE[: SINGLE.index("    from: 1")].count("\n") + 1


def test_its_place_is_no_collector_to_be_printed(tmp_path: Path) -> None:
    header = close(read(tmp_path, f"{HEAD}collectors:\n{MAIN}{tail(path='[{straight: {fit: 150}}]')}{TUBES}"))
    plans, notes = plan_collectors(header, MockSettings(collector=True))
    assert [plan.collector.name for plan in plans] == ["main"]
    assert not any("tail" in note for note in notes)


def _from_port_beside(folder: Path, extra: str = "", second: int = 200, own: str = "") -> list[str]:
    """What the rules of length say of two primaries, and a run of 490 mm from a port of its own."""
    port = "    3: {at: [120, 0], shape: {round: 38}}\n"
    run = f"runs:\n  relief: {{from: 3, to: {{at: [120, 490, 0], along: [0, 1, 0]}}, path: [{{straight: 490}}]{own}}}\n"
    tubes = f"primaries: {{1: [{{straight: 200}}], 2: [{{straight: {second}}}]}}\n"
    (folder / "job.yaml").write_text(f"{HEAD}{port}collectors:\n{MAIN}{run}{tubes}{extra}", encoding="utf-8")
    survey = check(folder / "job.yaml").result.survey
    return [finding.message for rule in (length, length_spread) for finding in rule(survey)]


def test_a_run_from_a_port_is_none_of_the_equal_lengths(tmp_path: Path) -> None:
    """It ends in a place of its own: neither compared with the primaries, nor as long as they must be."""
    assert _from_port_beside(tmp_path) == []
    assert _from_port_beside(tmp_path, extra="length: {target: 200, tolerance: 5}\n") == []


def test_primaries_beside_a_run_from_a_port_are_still_compared(tmp_path: Path) -> None:
    (said,) = _from_port_beside(tmp_path, second=230)
    assert said.startswith("Primary 2 is 30.0 mm longer than primary 1 (230.0 mm against 200.0 mm)")


def test_a_run_from_a_port_keeps_a_target_of_its_own(tmp_path: Path) -> None:
    (said,) = _from_port_beside(tmp_path, own=", target: 520")
    assert said.startswith("Primary 3 is 490.0 mm along its centreline, 30.0 mm too short: 520.0 mm is required")


def test_the_halves_of_a_divided_plate_at_the_end_of_a_run_are_said(tmp_path: Path) -> None:
    """A tube of 50.8 × 1.5 less a wall of 4 through its middle: the two segments of a circle beside it."""
    plate = PLATE.replace("rectangle: [50, 40, 8]", "rectangle: [60, 40, 8]").replace(
        "thickness:", "divider: 4, thickness:"
    )
    (tmp_path / "job.yaml").write_text(f"{HEAD}collectors:\n{MAIN}{tail(plate)}{TUBES}", encoding="utf-8")
    [said] = [each for each in check(tmp_path / "job.yaml").result.findings if each.rule == "divided-outlet"]
    radius, away = 50.8 / 2 - 1.5, 2.0
    half = radius**2 * math.acos(away / radius) - away * math.sqrt(radius**2 - away**2)
    opening = 28.0 * 40.0 - (4 - math.pi) * 8.0**2
    assert said.level == "info" and said.message == (
        "The wall at the end of secondary main goes through the transition only, since one tube comes to it; before "
        f"it, the pulses of both halves mix. Where it begins, each half has {half:.0f} mm² ({half / 645.16:.3f} in²), "
        f"{half / (math.pi * radius**2 / 2):.2f} times half of the tube; in the plate it has {opening:.0f} mm² "
        f"({opening / 645.16:.3f} in²)."
    )
