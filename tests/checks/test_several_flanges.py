"""A header on several flanges: each tube and plate as it would be alone, and what is between them measured too."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.frames import point_in
from headergen.model import Box, ChassisItem, Gap, Header, Survey, primary_name
from headergen.outputs.shop.order import order_list
from headergen.parts.rooms import rooms
from headergen.parts.table import parts_of
from headergen.shop.course import courses_of
from headergen.shop.heights import finished_tube
from headergen.shop.stage import shop_of
from headergen.solve.narrowing import least_straight
from tests.checks.two_heads import both_text, header_of, one_text

NAMES = {1: "left", 2: "right"}
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Header:
    return header_of(both_text(), tmp_path_factory.mktemp("both"))


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Header]:
    return {number: header_of(one_text(number), tmp_path_factory.mktemp(f"one_{number}")) for number in NAMES}


@pytest.fixture(scope="module")
def measured(both: Header) -> Survey:
    return survey(both, {})


def figures(gap: Gap) -> tuple[object, ...]:
    return gap.b, gap.value, gap.required, gap.at, gap.points, gap.near


@pytest.mark.parametrize("number", NAMES)
def test_each_half_measures_as_it_does_alone(number: int, measured: Survey, alone: dict[int, Header]) -> None:
    """Gaps of tubes and of plates to the chassis, ends and lengths, to the last bit; the plate has another name."""
    single = survey(alone[number], {})
    run, plate = primary_name(number), f"flange {NAMES[number]}"
    mine = [figures(gap) for gap in measured.gaps if gap.a == run and not gap.is_between_runs]
    assert mine == [figures(gap) for gap in single.gaps]
    assert len(mine) == 4
    wanted = [figures(gap) for gap in single.part_gaps if gap.a == "flange"]
    items = {item.name for item in measured.header.draft.chassis}
    assert [figures(gap) for gap in measured.part_gaps if gap.a == plate and gap.b in items] == wanted
    assert wanted, "some gap of the plate is told"
    assert [end for end in measured.ends if end.run == run] == list(single.ends)
    sockets = [figures(gap) for gap in measured.reaches if gap.a.endswith(plate)]
    assert sockets == [figures(gap) for gap in single.reaches]


@pytest.mark.parametrize("number", NAMES)
def test_the_bench_has_for_each_half_what_it_has_alone(number: int, both: Header, alone: dict[int, Header]) -> None:
    """By the axes and the plate of its own flange: where tubes begin, where they end, what is bought."""
    single = alone[number]
    place = [run.number for run in both.primaries].index(number)
    run, line = both.tubes[place]
    assert finished_tube(both, run, line) == finished_tube(single, *single.tubes[0])
    (course,) = courses_of(single, single.draft.shop, None)
    assert courses_of(both, both.draft.shop, None)[place] == course
    assert least_straight(run, both.draft, 1) == least_straight(single.primaries[0], single.draft, 1)
    plates = {line.what: (line.size, line.quantity) for line in order_list(both, shop_of(both))}
    (wanted,) = [line for line in order_list(single, shop_of(single)) if line.what == "plate for the flange"]
    assert plates[f"plate for flange {NAMES[number]}"] == (wanted.size, wanted.quantity)


def test_every_plate_is_a_part_with_its_sockets(both: Header) -> None:
    assert [part.name for part in parts_of(both)][:3] == ["flange left", "flange right", "transition 1"]
    assert [room.what for room in rooms(both)] == [
        f"socket on bolt {bolt} of flange {name}" for name in ("left", "right") for bolt in (1, 2)
    ]


def test_a_plate_keeps_off_the_tubes_of_another_head(both: Header) -> None:
    """The second flange set across the first one's tube: only tubes of its own stand in a plate."""
    line = both.centrelines[0]
    at = point_in(both.draft.ports[0].frame, (0.0, 0.0, 50.0))
    moved = replace(both.draft.flanges[1], frame=replace(both.draft.flanges[1].frame, origin=at))
    draft = replace(both.draft, flanges=(both.draft.flanges[0], moved))
    found = survey(replace(both, draft=draft), {}, twice=False)
    pairs = {(gap.a, gap.b): gap.value for gap in found.part_gaps}
    assert pairs["flange right", line.run] < 0
    assert ("flange left", line.run) not in pairs
    assert any(f.rule == "gap-part" or "flange right" in f.message for f in judge(found) if f.level == "error")


def test_a_socket_meets_the_plate_of_another_flange_and_never_its_own(both: Header) -> None:
    """The second plate in the way of the first one's socket, 20 mm out along it."""
    left, right = both.draft.flanges
    on = point_in(left.frame, (*left.bolts[0].at, left.finished + 20.0))
    over = replace(right, frame=replace(right.frame, origin=on))
    found = survey(replace(both, draft=replace(both.draft, flanges=(left, over))), {}, twice=False)
    reaches = {gap.a: gap for gap in found.reaches}
    assert reaches["socket on bolt 1 of flange left"].b == "flange right"
    assert all(not gap.a.endswith(gap.b) for gap in found.reaches)


@pytest.mark.slow
def test_a_head_is_free_for_the_tubes_of_its_own_flanges_alone(both: Header) -> None:
    """A box round the right port: with all flanges on it both are free of it near their flange; named, one."""
    port = both.draft.ports[1].frame
    head = ChassisItem("head", Box(replace(port, origin=point_in(port, (0.0, 0.0, -40.0))), (90.0, 90.0, 80.0)), 10.0)

    def values(item: ChassisItem) -> dict[str, float]:
        draft = replace(both.draft, chassis=(item,))
        return {gap.a: gap.value for gap in survey(replace(both, draft=draft), {}, twice=False).gaps if gap.b == "head"}

    free = replace(head, free_from_flange=45.0)
    assert values(head)["primary 2"] < 0 < values(free)["primary 2"]
    own, other = replace(free, flanges=("right",)), replace(free, flanges=("left",))
    assert values(own)["primary 2"] == values(free)["primary 2"]
    assert values(own)["primary 1"] == values(head)["primary 1"]
    assert values(other)["primary 2"] == values(head)["primary 2"]


def test_a_plate_stands_on_its_own_head_alone(both: Header) -> None:
    port = both.draft.ports[1].frame
    box = Box(replace(port, origin=point_in(port, (0.0, 0.0, -40.0))), (90.0, 90.0, 80.0))
    gaps = {}
    for names in ((), ("right",), ("left",)):
        item = ChassisItem("head", box, 10.0, free_from_flange=45.0, flanges=names)
        found = survey(replace(both, draft=replace(both.draft, chassis=(item,))), {}, twice=False)
        gaps[names] = {gap.a for gap in found.part_gaps if gap.b == "head"}
    assert "flange right" not in gaps[()] | gaps["right",]
    assert "flange right" in gaps["left",]


def test_a_flange_that_faces_into_its_head_is_told_by_its_name(tmp_path: Path) -> None:
    """The Sedge with the normal of one flange turned round: that is said first, and of that flange alone."""
    text = (ROOT / "specs" / "sedge.yaml").read_text(encoding="utf-8").replace("../shared", str(ROOT / "shared"))
    plane, rest = "plane: {origin: [-24, -296, 0], normal: [0.9, -0.1, -0.42]", ", x: [0, 1, 0]}"
    assert text.count(plane + rest) == 1
    text = text.replace(plane, plane.replace("[0.9, -0.1, -0.42]", "[-0.9, 0.1, 0.42]"))
    found = judge(survey(header_of(text, tmp_path), {}, twice=False))
    turned = [each for each in found if each.rule == "turned-over"]
    assert [each.where for each in turned] == ["flange right"]
    assert not any(each.where == "primary 2" and each.rule.startswith("end-") for each in found)


def test_the_pictures_look_from_between_the_heads(both: Header) -> None:
    """The mean of both normals; of heads that face each other the first."""
    left, right = (np.array(flange.frame.z) for flange in both.draft.flanges)
    mean = (left + right) / np.linalg.norm(left + right)
    assert both.draft.outward == pytest.approx(tuple(mean))
    facing = replace(both.draft.flanges[1], frame=replace(both.draft.flanges[0].frame, z=tuple(-left)))
    assert replace(both.draft, flanges=(both.draft.flanges[0], facing)).outward == both.draft.flanges[0].frame.z
