"""Where a part or a tool is too near: what is moved by its numbers, or led past it, keeps its promise."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import add, cross
from headergen.model import Header, Help, Result, Vec
from headergen.parts.bracket import bracket_seat
from headergen.parts.rooms import rooms
from headergen.parts.tabs import tab_seats
from headergen.pipeline import check, settle
from tests.solve.test_suggestions import keeps_its_promises

SPECS = Path(__file__).parents[2] / "specs"
SMALL = 8.0  # mm, of the box that is put in the way


def beside_tab(header: Header) -> Vec:
    seat = next(each for each in tab_seats(header, header.draft.collectors[0]) if each.host == "main")
    return add(seat.frame.origin, seat.frame.y, seat.reach + SMALL + 5.0)


def beside_bracket(header: Header) -> Vec:
    [bracket] = header.draft.fitted
    seat = bracket_seat(header, bracket)
    assert seat is not None
    edge = add(add(seat.frame.origin, seat.frame.x, seat.apart / 2), seat.frame.y, bracket.length / 2 - 4.0)
    return add(edge, seat.frame.z, SMALL + 4.0)


def under_outlet_socket(header: Header) -> Vec:
    room = next(each for each in rooms(header) if each.what.startswith("socket on outlet bolt 2"))
    frame = room.shape.frame
    return add(add(frame.origin, frame.z, room.shape.length - 2.0), frame.x, room.shape.start)


FAULTS = {
    "tab on bore 1 of main": (beside_tab, 6.0, "all tabs"),
    "bracket front": (beside_bracket, 6.0, "bracket"),
    "socket on outlet bolt 2 of main": (under_outlet_socket, 1.0, "the outlet ring"),
}


def written(folder: Path, **more: list[dict[str, Any]]) -> Path:
    content = yaml.safe_load((SPECS / "guide_fittings.yaml").read_text(encoding="utf-8"))
    for key, entries in more.items():
        content[key] = [*content[key], *entries]
    spec = folder / "fittings.yaml"
    spec.write_text(yaml.safe_dump(content, sort_keys=False), encoding="utf-8")
    return spec


def rounded(place: Vec) -> list[float]:
    return [round(x, 3) for x in place]


def help_of(known: Result, name: str) -> Help:
    return next(each for each in known.helps if each.a.startswith(name))


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.slow] if name.startswith("tab") else []) for name in FAULTS]
)
def test_a_part_is_moved_by_its_numbers_and_gives_the_gap_it_promised(name: str, tmp_path: Path) -> None:
    where, clearance, said = FAULTS[name]
    box = {"center": rounded(where(settle(SPECS / "guide_fittings.yaml"))), "size": [2 * SMALL] * 3}
    spec = written(tmp_path, chassis=[{"name": "fault", "box": box, "clearance": clearance}])
    known = check(spec).result
    help = help_of(known, name)
    moved = [each for each in help.suggestions if each.kind == "part"]
    assert moved and said in moved[0].what, help
    short, count = keeps_its_promises(spec, known)
    assert short >= 1 and count >= 1


@pytest.mark.slow
def test_a_tube_is_led_past_the_tool_of_a_plug(tmp_path: Path) -> None:
    header = settle(SPECS / "guide_fittings.yaml")
    run, line = header.tubes[0]
    place, along, normal = frame_at(line, 0.55 * line.length)
    out = cross(along, normal)
    seat = add(place, out, run.tube.radius - 2.0)  # the end of the tool is 2 mm in the tube
    spec = written(tmp_path, plugs=[{"name": "plug 9", "at": rounded(seat), "axis": rounded(out)}])
    known = check(spec).result
    help = help_of(known, "tool on plug 9")
    assert help.gap == pytest.approx(-2.0, abs=0.1) and help.b == "primary 1"
    assert "tool on plug 9 stands where the engine has it" in help.tried
    assert help.suggestions and all(each.values for each in help.suggestions)
    assert keeps_its_promises(spec, known)[1] >= 1


@pytest.mark.slow
def test_a_sensor_is_turned_or_moved_with_its_boss(tmp_path: Path) -> None:
    """A bar over the connector of a sensor whose boss leans."""
    boss = {"name": "lambda", "primary": 2, "at": 190, "clock": 60}
    header = settle(written(tmp_path, bosses=[boss]))
    room = next(each for each in rooms(header) if each.what == "sensor in lambda")
    end = add(room.shape.frame.origin, room.shape.frame.z, room.shape.length + SMALL - 3.0)
    box = {"center": rounded(end), "size": [2 * SMALL] * 3}
    spec = written(tmp_path, bosses=[boss], chassis=[{"name": "fault", "box": box, "clearance": 1.0}])
    known = check(spec).result
    moved = help_of(known, "sensor in lambda").suggestions
    assert {each.settings[0].key for each in moved if each.settings} & {"at", "clock"}
    assert keeps_its_promises(spec, known)[1] >= 1
