"""A plate keeps metal round its holes and gets its relief slots; a transition is long enough for its step."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headergen.geometry.frames import tilted
from headergen.model import PortShape, Step, Straight
from headergen.model.finding import Finding
from tests.checks.small_header import LENGTH, draft, findings

ONE: list[Step] = [Straight(LENGTH)]


def of_plate(rule: str, pitch: float = 90.0, **changes: float) -> list[Finding]:
    made = draft(ONE, ONE, pitch=pitch)
    return [
        each for each in findings(replace(made, flanges=(replace(made.flanges[0], **changes),))) if each.rule == rule
    ]  # type: ignore[arg-type]


@pytest.mark.parametrize(("margin", "said"), [(2.9, 1), (3.0, 0), (12.0, 0)])
def test_metal_round_the_holes(margin: float, said: int) -> None:
    found = of_plate("plate-edge", margin=margin)
    assert [each.level for each in found] == ["warning"] * said
    assert [each.value for each in found] == [margin] * said


def test_a_slot_that_has_no_room_is_missed() -> None:
    """Sockets of 42.8 mm, 60 apart, leave 8.6 mm to each side of the middle: 6 of land, a slot of 5.2, none of 8."""
    (missed,) = of_plate("plate-relief", pitch=60.0, relief=8.0)
    assert (missed.level, missed.value, missed.limit) == ("warning", 0.0, 8.0)
    assert missed.point == pytest.approx((30.0, 0.0, 0.0), abs=1e-6), "midway between the two"
    assert of_plate("plate-relief", pitch=60.0, relief=5.0) == []
    assert of_plate("plate-relief", pitch=60.0) == [], "none is asked for"


@pytest.mark.parametrize(("length", "said"), [(8.0, 1), (9.0, 0), (0.0, 0)])
def test_a_transition_shorter_than_its_step(length: float, said: int) -> None:
    """From the corner of a square of 40, 20·√2 off the middle, to the bore of 39.4: 8.58 mm."""
    made = draft(ONE)
    port = replace(made.flanges[0].ports[0], shape=PortShape("rectangle", (40.0, 40.0, 0.0)), transition=length)
    flange, primary = replace(made.flanges[0], ports=(port,)), replace(made.primaries[0], start=port)
    found = [each for each in findings(replace(made, flanges=(flange,), runs=(primary,))) if each.rule == "port-slope"]
    assert len(found) == said
    for each in found:
        assert each.value == 8.0
        assert each.limit == pytest.approx(20 * math.sqrt(2) - 19.7, abs=0.05)


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    ("degrees", "seat", "begins"), [(8.0, "socket", None), (40.0, "socket", 29.25), (8.0, "butt", 15.6)]
)
def test_a_square_end_leaves_the_hole_of_a_leaning_port_open(degrees: float, seat: str, begins: float | None) -> None:
    """A tube of 42.4 from 2 mm over the face (9.7 on it): its far side begins 42.4·sin higher (trigonometry)."""
    made = draft()
    port = made.ports[0]
    port = replace(port, frame=tilted(port.frame, math.radians(degrees), 0.0))
    flange = replace(made.flanges[0], ports=(port,), seat=seat)  # type: ignore[arg-type]
    found = [each.value for each in findings(replace(made, flanges=(flange,))) if each.rule == "port-lean"]
    assert found == ([] if begins is None else [pytest.approx(begins, abs=0.06)])


def test_two_ports_that_share_an_opening_are_said_to_be_one() -> None:
    """Openings 20 mm apart run into each other; as one oval port of both there is nothing against the plate."""
    (found,) = [each for each in findings(draft(ONE, ONE, pitch=20.0)) if each.rule == "plate-web"]
    assert "written as one port" in found.message
    made = draft()
    port = replace(made.ports[0], shape=PortShape("oval", (58.0, 38.0)), transition=50.0)
    alone = replace(made, flanges=(replace(made.flanges[0], ports=(port,)),), runs=(replace(made.runs[0], start=port),))
    assert [each.rule for each in findings(alone) if each.level == "error"] == []
