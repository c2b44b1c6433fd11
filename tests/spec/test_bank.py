"""The other bank in its three ways, against the closed form, and what it may borrow."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.frames import determinant, point_in
from headergen.geometry.plate.outline import points_on, port_outline
from headergen.model import Bend, Box, Draft, HeaderRef, LengthTarget, PortShape, Straight
from headergen.solve.closing import close
from headergen.spec.complaint import SpecError
from headergen.spec.mirror import _port_shape
from headergen.spec.reader import read_spec

OFFSET = 24.0
PLANE = "plane: {origin: [0, 0, 0], normal: [0, 0, 1]}"

FIRST = """\
format: 1
job: {{title: First, revision: A, date: 2026-01-01}}
units: mm
tube: {{outside_diameter: 42.4, wall: 1.5, material: 304L}}
flange:
  plane: {{origin: [0, 200, 100], normal: [0, 0.94, -0.34], x: [-1, 0, 0]}}
  thickness: 10
  bolts: [{{at: [40, 25], hole: 8}}]
  ports:
    1: {{at: [0, 0], shape: {{round: 38}}, tilt: {{angle: 5, toward: 30}}}}
    2: {{at: [100, 0], shape: {{round: 38}}}}
collectors:
  one:
    plane: {{origin: [-400, 330, -100], normal: [{x}, {y}, 0], x: [0, 0, 1]}}
    join: weld
    pattern: line
    bores: [1, 2]
primaries:
  1: [{{straight: {{fit: 40}}}}, {{bend: {{fit: 60}}, radius: 63.5, rotation: {{fit: -40}}}},
      {{straight: {{fit: 160}}}}, {{bend: {{fit: 60}}, radius: 63.5, rotation: {{fit: 50}}}},
      {{straight: {{fit: 150}}}}]
  2: [{{straight: {{fit: 50}}}}, {{bend: {{fit: 70}}, radius: 63.5, rotation: {{fit: -60}}}},
      {{straight: {{fit: 120}}}}, {{bend: {{fit: 60}}, radius: 63.5, rotation: {{fit: 60}}}},
      {{straight: {{fit: 150}}}}]
length: {{target: 600, tolerance: 2}}
chassis:
  - {{name: head, box: {{center: [-50, 150, 120], size: [300, 90, 90], normal: [0, 0.94, -0.34]}}, clearance: 10}}
  - {{name: rail, cylinder: {{from: [300, 430, -300], to: [-900, 430, -300], diameter: 40}}, clearance: 10}}
"""

OTHER = """\
format: 1
mirror_of: first.yaml
job: {{title: Other, revision: A, date: 2026-01-01}}
units: mm
bank: {{offset: {offset}, way: {way}{more}}}
{rest}
"""


def write(folder: Path, way: str, beta: float = 0.0, more: str = "", rest: str = "", offset: float = OFFSET) -> Path:
    x, y = -math.cos(math.radians(beta)), math.sin(math.radians(beta))
    if left := [name for name in ("head", "rail") if name not in more]:
        more += f", left_out: [{', '.join(left)}]"
    (folder / "first.yaml").write_text(FIRST.format(x=f"{x:.15f}", y=f"{y:.15f}"), encoding="utf-8")
    (folder / "other.yaml").write_text(OTHER.format(offset=offset, way=way, more=more, rest=rest), encoding="utf-8")
    return folder / "other.yaml"


def both(folder: Path, way: str, beta: float) -> tuple[Draft, Draft]:
    other = read_spec(write(folder, way, beta))[1]
    return read_spec(folder / "first.yaml")[1], other


def mirrored(point: tuple[float, float, float]) -> tuple[float, float, float]:
    return (point[0], -point[1], point[2])


def frames(draft: Draft):  # type: ignore[no-untyped-def]
    yield draft.flanges[0].frame
    yield from (port.frame for port in draft.flanges[0].ports)
    for collector in draft.collectors:
        yield collector.frame
        yield from (bore.frame for bore in collector.bores)


@pytest.mark.parametrize("beta", [0.0, 15.0, 30.0])
@pytest.mark.parametrize("way", ["staggered", "longer", "abreast"])
def test_the_three_ways(way: str, beta: float, tmp_path: Path) -> None:
    """Offset o along the crank (x). longer: each primary grows by o/cos β, since the axes run rearward, and the
    collector moves aside by o·tan β; abreast and staggered keep the length [C]."""
    first, other = both(tmp_path, way, beta)
    one, two = close(first), close(other)
    assert one.misses == () and two.misses == ()
    tangent, cosine = math.tan(math.radians(beta)), math.cos(math.radians(beta))
    wanted = {"staggered": 0.0, "longer": OFFSET / cosine, "abreast": 0.0}[way]
    for a, b in zip(one.centrelines, two.centrelines, strict=True):
        assert b.length - a.length == pytest.approx(wanted, abs=1e-6)
    here, there = mirrored(first.collectors[0].frame.origin), other.collectors[0].frame.origin
    moved = {"staggered": (OFFSET, 0, 0), "longer": (0, -OFFSET * tangent, 0), "abreast": (0, 0, 0)}[way]
    assert there == pytest.approx([p + m for p, m in zip(here, moved, strict=True)], abs=1e-9)
    for a, b in zip(first.flanges[0].ports, other.flanges[0].ports, strict=True):
        x, y, z = mirrored(a.frame.origin)
        assert b.frame.origin == pytest.approx((x + OFFSET, y, z), abs=1e-9)
    for frame in frames(other):
        assert determinant(frame) == pytest.approx(1, abs=1e-12)


def test_a_staggered_bank_is_the_mirror_image_point_by_point(tmp_path: Path) -> None:
    first, other = both(tmp_path, "staggered", 15.0)
    one, two = close(first), close(other)
    for a, b in zip(one.centrelines, two.centrelines, strict=True):
        for share in (0.0, 0.2, 0.5, 0.8, 1.0):
            x, y, z = mirrored(frame_at(a, share * a.length)[0])
            assert frame_at(b, share * b.length)[0] == pytest.approx((x + OFFSET, y, z), abs=1e-6)
    assert other.flanges[0].bolts[0].at == (40.0, -25.0)


def test_what_is_kept_and_what_is_mirrored(tmp_path: Path) -> None:
    spec = write(tmp_path, "staggered", more=", keep: [rail], mirrored: [head]", rest="chassis: []")
    first, other = read_spec(tmp_path / "first.yaml")[1], read_spec(spec)[1]
    rail, head = other.chassis
    assert rail == first.chassis[1]
    assert isinstance(head.shape, Box) and isinstance(first.chassis[0].shape, Box)
    x, y, z = mirrored(first.chassis[0].shape.frame.origin)
    assert (
        head.shape.frame.origin == pytest.approx((x + OFFSET, y, z)) and head.shape.size == first.chassis[0].shape.size
    )


@pytest.mark.parametrize(
    ("more", "names"),
    [
        ("keep: [rail]", ["head"]),
        ("mirrored: [head]", ["rail"]),
        ("left_out: [rail]", ["head"]),
        ("crank: [1, 0, 0]", ["head", "rail"]),
        ("keep: [rail], mirrored: [head]", []),
        ("keep: [rail], left_out: [head]", []),
        ("left_out: [head, rail]", []),
    ],
)
def test_nothing_around_the_first_bank_is_passed_over(more: str, names: list[str], tmp_path: Path) -> None:
    """What is neither kept, mirrored nor left out is an error with its name, at the key `bank`."""
    spec = write(tmp_path, "staggered")
    text = spec.read_text().replace("left_out: [head, rail]", more)
    spec.write_text(text, encoding="utf-8")
    if not names:
        assert len(read_spec(spec)[1].chassis) == more.count("keep") + more.count("mirrored")
        return
    with pytest.raises(SpecError) as caught:
        read_spec(spec)
    [complaint] = caught.value.complaints
    assert (complaint.line, complaint.column) == (5, 1) and f"nothing is said of {', '.join(names)}," in str(complaint)
    assert all(key in complaint.hint for key in ("keep", "mirrored", "left_out"))


def test_a_mesh_that_is_to_be_mirrored_is_told_where_it_is_asked_for(tmp_path: Path) -> None:
    spec = write(tmp_path, "staggered", more=", keep: [rail], mirrored: [head, hose]")
    first = (tmp_path / "first.yaml").read_text() + "  - {name: hose, header: second.yaml, clearance: 10}\n"
    (tmp_path / "second.yaml").write_text((tmp_path / "first.yaml").read_text(), encoding="utf-8")
    (tmp_path / "first.yaml").write_text(first, encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        read_spec(spec)
    [complaint] = caught.value.complaints
    line = spec.read_text().splitlines()[4]
    assert (complaint.line, complaint.column) == (5, line.index("hose") + 1), "under the item, not under way"
    assert "hose" in complaint.message and "left_out" in complaint.hint


def test_a_line_that_a_mirrored_tube_runs_along_is_not_passed_over(tmp_path: Path) -> None:
    def other(more: str = "", rest: str = "") -> Draft:
        spec = write(tmp_path, "staggered", more=more, rest=rest)
        first = (tmp_path / "first.yaml").read_text()
        runs = first.replace("  1: [", "  1:\n    parallel_to: [{step: 3, line: sill, angle: 2}]\n    path: [", 1)
        runs += "lines: {sill: {from: [0, 400, 0], to: [-500, 400, 0]}}\n"
        (tmp_path / "first.yaml").write_text(runs, encoding="utf-8")
        return read_spec(spec)[1]

    with pytest.raises(SpecError, match="primary 1 of the first bank runs along line sill, which is not here"):
        other()
    here = other(rest="lines: {sill: {from: [0, -400, 0], to: [-500, -400, 0]}}")
    assert [run.line for run in here.primaries[0].parallels] == ["sill"]
    assert other(more=", left_out: [head, rail, sill]").primaries[0].parallels == ()
    assert other(rest="primaries:\n  1: [{straight: 400}]").primaries[0].parallels == ()


def test_differences_take_the_place_of_what_was_mirrored(tmp_path: Path) -> None:
    tube = "tube: {outside_diameter: 45, wall: 2, material: 321}"
    rest = f"{tube}\nprimaries:\n  2: [{{straight: 400}}]\nlimits: {{between_tubes: 9}}"
    other = read_spec(write(tmp_path, "staggered", rest=rest))[1]
    assert other.tube.outside_diameter == 45 and other.limits.between_tubes == 9
    assert other.primaries[1].steps == (Straight(400.0),) and len(other.primaries[0].steps) == 5


def test_what_is_asked_of_the_first_bank_is_asked_of_the_other(tmp_path: Path) -> None:
    """A value that is given takes the place of the first bank's; those beside it stay, none falls to a default."""
    rest = "limits: {min_straight: 9}\nlength: {tolerance: 1}\nmock: {gap: 0.3}"
    spec = write(tmp_path, "staggered", rest=rest)
    first = tmp_path / "first.yaml"
    asked = "limits: {between_tubes: 12, end_angle: 0.2, forming: 7, bend_may_meet_bend: false}\n"
    first.write_text(f"{first.read_text()}{asked}mock: {{wall: 3, lean: 44, plates: false}}\n", encoding="utf-8")
    one, other = read_spec(first)[1], read_spec(spec)[1]
    assert (
        other.limits == replace(one.limits, min_straight=9.0, min_straight_given=True)
        and other.limits.between_tubes == 12
    )
    assert other.length == LengthTarget(600.0, 1.0)
    assert one.mock is not None and other.mock == replace(one.mock, gap=0.3)


def test_a_target_of_this_bank_leaves_no_range(tmp_path: Path) -> None:
    """A spec may not have both, so what is written out in full could not be read again."""
    spec, first = write(tmp_path, "staggered", rest="length: {target: 600}"), tmp_path / "first.yaml"
    ranged = first.read_text().replace("length: {target: 600, tolerance: 2}", "length: {tolerance: 2}")
    first.write_text(f"{ranged}route: {{length: shortest}}\n", encoding="utf-8")
    one, other = read_spec(first)[1], read_spec(spec)[1]
    assert one.routing.shortest and not other.routing.shortest and other.length.target == 600


def test_a_path_to_be_found_starts_from_the_mirrored_one(tmp_path: Path) -> None:
    rest = "primaries:\n  1: find\n  2: {find: true, path: [{straight: 400}]}\nroute: {most_bends: 3}"
    other = read_spec(write(tmp_path, "longer", rest=rest))[1]
    one, two = other.primaries
    assert one.to_find and two.to_find and other.routing.most_bends == 3 and other.routing.bores == "given"
    assert one.like == one.steps and len(one.steps) == 5 and len(one.fits) == 7
    assert two.like == () and two.steps == (Straight(400.0),)
    plain = read_spec(write(tmp_path, "longer"))[1]
    assert one.target == two.target == plain.primaries[0].target != 600.0  # as long as those that stay mirrored


def test_the_other_bank_as_chassis(tmp_path: Path) -> None:
    from headergen.pipeline import check

    rest = "chassis:\n  - {name: first bank, header: first.yaml, clearance: 15}"
    between = ", mirror: {origin: [0, 430, 0]}"  # outside the first bank, so that the bends' sides face each other
    result = check(write(tmp_path, "staggered", more=between, rest=rest)).result
    item, *_ = result.header.draft.chassis
    assert isinstance(item.shape, HeaderRef)
    gaps = [gap for gap in result.survey.gaps if gap.b == "first bank"]
    first = close(read_spec(tmp_path / "first.yaml")[1])
    assert item.shape.tubes[:2] == tuple((line, 42.4) for line in first.centrelines)
    # the nearest of densely sampled centreline points of both banks, less two radii: an upper bound within its grid
    ours = [frame_at(line, line.length * k / 300)[0] for line in result.header.centrelines[:1] for k in range(301)]
    theirs = [frame_at(line, line.length * k / 300)[0] for line in first.centrelines for k in range(301)]
    sampled = min(math.dist(p, q) for p in ours for q in theirs) - 42.4
    assert sampled - 0.1 <= gaps[0].value <= sampled + 1e-6


@pytest.mark.parametrize(
    ("way", "more", "rest", "said"),
    [
        ("sideways", "", "", "is not one of staggered, longer, abreast"),
        ("staggered", ", keep: [rial]", "", "no chassis item called rial"),
        ("staggered", ", keep: [rail], left_out: [head, rail]", "", r"bank.left_out.*rail is under keep already"),
        ("staggered", ", keep: [rail, rail, head]", "", "rail is under keep already"),
        ("staggered", "", f"chassis: [{{name: a, {PLANE}, clearance: 1}}, {{name: A, {PLANE}, clearance: 1}}]",
         "item 1 is called A as well"),
        ("staggered", "", "primaries:\n  2: {path: [{straight: 400}], parallel_to: [{step: 1, line: sill}]}",
         "no line is called sill"),
        ("staggered", ", letter: C", "", "is not one of A, B"),
        ("staggered", ", names: {port: starboard}", "", "bank.names.port: nothing that this bank takes over.*has port"),
        ("staggered", ", mirrored: [head, rail], names: {head: rail}", "", "two chassis items would be called rail"),
        ("staggered", ", crank: [1, 0.2, 0]", "", "the crank leaves the mirror plane"),
        ("staggered", "", "primaries:\n  7: [{straight: 400}]", "the first bank has no primary 7"),
        ("staggered", ", keep: [rail]", f"chassis: [{{name: Rail, {PLANE}, clearance: 1}}]", "of this bank already"),
        ("longer", "", "primaries:\n  2: [{straight: 400}, {bend: 20, radius: 63.5}]", ""),
        ("abreast", "", "flange: {}", "flange is not a key here"),
        ("staggered", "", "route: {bores: free}", "route.bores: the collectors of this bank stand"),
        ("staggered", "", "route: {move: {one: {lean: 3}}}", "route.move: the collectors of this bank"),
    ],
)  # fmt: skip
def test_complaints_about_a_bank(way: str, more: str, rest: str, said: str, tmp_path: Path) -> None:
    spec = write(tmp_path, way, more=more, rest=rest)
    if not said:
        read_spec(spec)  # a difference is this bank's own and is not stretched
        return
    with pytest.raises(SpecError, match="(?s)other.yaml:.*" + said.replace("[", "\\[")):
        read_spec(spec)


@pytest.mark.parametrize(
    ("plane", "is_same"),
    [
        ("origin: [7, 0, -30], normal: [0, -2, 0]", True),
        ("origin: [0, 1, 0]", False),
        ("normal: [0, 1, 0.01]", False),
    ],
)
def test_an_engine_has_one_plane_between_its_banks(plane: str, is_same: bool, tmp_path: Path) -> None:
    spec, first = write(tmp_path, "staggered"), tmp_path / "first.yaml"
    first.write_text(f"{first.read_text()}between_banks: {{{plane}}}\n", encoding="utf-8")
    if is_same:
        assert read_spec(spec)[1].between_banks is not None
        return
    with pytest.raises(SpecError, match="the first bank's spec has another plane between the banks"):
        read_spec(spec)


def test_a_bank_that_cannot_be_stretched_says_why(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match=r"no last straight that can become 1000\.0 mm shorter"):
        read_spec(write(tmp_path, "longer", offset=-1000.0))


def test_a_bank_in_inches_says_so_in_inches(tmp_path: Path) -> None:
    spec = write(tmp_path, "longer", offset=-1000.0)
    text = spec.read_text(encoding="utf-8").replace("offset: -1000.0", "offset: -1000 mm")
    spec.write_text(text.replace("units: mm", "units: in"), encoding="utf-8")
    with pytest.raises(SpecError, match=r"no last straight that can become 39\.370 in shorter"):
        read_spec(spec)
    spec.write_text(spec.read_text(encoding="utf-8").replace("-1000 mm", "1 mm"), encoding="utf-8")
    assert read_spec(spec)[1].units == "in"


def test_a_missing_and_a_broken_first_spec(tmp_path: Path) -> None:
    spec = write(tmp_path, "staggered")
    (tmp_path / "first.yaml").unlink()
    with pytest.raises(SpecError, match=r"other\.yaml:2:"):
        read_spec(spec)
    (tmp_path / "first.yaml").write_text("format: 2\n", encoding="utf-8")
    with pytest.raises(SpecError, match=r"first\.yaml:1:"):
        read_spec(spec)
    (tmp_path / "first.yaml").write_text("mirror_of: other.yaml\n", encoding="utf-8")
    with pytest.raises(SpecError, match="itself the mirror"):
        read_spec(spec)


def test_rotations_change_sign(tmp_path: Path) -> None:
    first, other = both(tmp_path, "staggered", 0.0)
    for a, b in zip(first.primaries, other.primaries, strict=True):
        pairs = zip(a.steps, b.steps, strict=True)
        turns = [(p.rotation, q.rotation) for p, q in pairs if isinstance(p, Bend) and isinstance(q, Bend)]
        assert all(q == -p for p, q in turns)
        assert trace(b.port.frame, b.steps).length == pytest.approx(trace(a.port.frame, a.steps).length)


@pytest.mark.slow
def test_a_d_shaped_port_is_mirrored_with_its_flat(tmp_path: Path) -> None:
    """Mirrored across y = 0, what lies at (u, v) of the first port's frame lies at (u, −v) of the second's."""
    shape = PortShape("d", (40.0, 36.0, 5.0), turn=math.radians(20))
    free = PortShape("free", (), ((-20.0, -10.0), (20.0, -10.0), (0.0, 25.0)), turn=0.3)
    for one in (shape, free):
        first = points_on(port_outline(one), 0.05) * (1.0, -1.0)
        second = points_on(port_outline(_port_shape(one)), 0.05)
        apart = np.linalg.norm(first[:, None] - second[None], axis=2).min(axis=1)
        assert apart.max() < 0.06


def test_words_in_a_comment_are_no_keys(tmp_path: Path) -> None:
    """A comment, a note and a name that say mirror_of leave a first bank a first bank."""
    spec = write(tmp_path, "staggered", more=", keep: [rail, head]")
    first = tmp_path / "first.yaml"
    text = first.read_text().replace("title: First,", 'title: First, notes: "has a mirror_of: other.yaml",')
    first.write_text(f"# other.yaml is the mirror_of this\n{text}", encoding="utf-8")
    assert len(read_spec(spec)[1].primaries) == 2


def texts_of(thing: object) -> Iterator[str]:
    """Every text in a tree of dataclasses, tuples and mappings."""
    if isinstance(thing, str):
        yield thing
    elif is_dataclass(thing):
        for each in fields(thing):
            yield from texts_of(getattr(thing, each.name))
    elif isinstance(thing, tuple | list | dict):
        for each in thing.values() if isinstance(thing, dict) else thing:
            yield from texts_of(each)


def test_names_of_the_first_bank_are_renamed_wherever_they_stand(tmp_path: Path) -> None:
    """Whatever the first bank calls left, in any field of its draft, is called right; what is kept stays as it was."""
    spec = write(tmp_path, "staggered", more=", mirrored: [head], keep: [rail], names: {left: right, left hand: other}")
    first = tmp_path / "first.yaml"
    text = first.read_text().replace("  one:", "  left:").replace("name: head,", "name: left head,")
    text = (
        text.replace("name: rail,", "name: left rail,")
        + """\
bosses:
  - {name: left lambda, collector: left, at: 30}
  - {name: left hand gauge, primary: 1, at: 30, kind: plain, hole: 6}
brackets: [{name: left brace, between: [{primary: 1, at: 50}, {primary: 2, before_end: 60}]}]
plugs: [{name: plug 1 left, at: [0, 250, 150], axis: [0, 1, 0]}, {name: cleft, at: [9, 250, 150], axis: [0, 1, 0]}]
"""
    )
    text = text.replace(
        "    bores: [1, 2]", "    bores: [1, 2]\n    half_angle: 9\n    outlet: 54\n    outlet_length: 60"
    )
    first.write_text(text, encoding="utf-8")
    named = spec.read_text().replace("[head]", "[left head]").replace("[rail]", "[left rail]")
    spec.write_text(named, encoding="utf-8")
    other = read_spec(spec)[1]
    words = [each for each in texts_of(other) if re.search(r"\bleft\b", each)]
    assert words == ["left rail"]
    assert sorted(item.name for item in other.chassis) == ["left rail", "right head"]
    assert other.collectors[0].name == "right" and other.primaries[0].end.collector == "right"
    assert [boss.name for boss in other.bosses] == ["right lambda", "other gauge"] and other.bosses[0].host == "right"
    assert [(each.name, each.hosts) for each in other.fitted] == [("right brace", ("primary 1", "primary 2"))]
    assert [plug.name for plug in other.plugs] == ["plug 1 right", "cleft"]
    assert close(other).misses == ()


def test_each_bank_has_its_letter(tmp_path: Path) -> None:
    spec = write(tmp_path, "staggered")
    assert read_spec(spec)[1].letter == "B" and read_spec(tmp_path / "first.yaml")[1].letter == ""
    first = tmp_path / "first.yaml"
    for letter, other in (("A", "B"), ("B", "A")):
        write(tmp_path, "staggered")
        first.write_text(f"{first.read_text()}letter: {letter}\n", encoding="utf-8")
        assert (read_spec(first)[1].letter, read_spec(spec)[1].letter) == (letter, other)
        spec.write_text(spec.read_text().replace("way: staggered", f"way: staggered, letter: {letter}"))
        with pytest.raises(SpecError, match=f"bank.letter: the first bank is {letter} as well"):
            read_spec(spec)


HEADS = """\
flanges:
  left head:
    plane: {origin: [0, 200, 100], normal: [0, 0.94, -0.34], x: [-1, 0, 0]}
    thickness: 10
    ports: {1: {at: [0, 0], shape: {round: 38}, tilt: {angle: 5, toward: 30}}}
  fore:
    plane: {origin: [-100, 200, 100], normal: [0, 0.94, -0.34], x: [-1, 0, 0]}
    thickness: 8
    ports: {2: {at: [0, 0], shape: {round: 38}}}
"""


@pytest.mark.parametrize(("place", "free", "flanges"), [("mirrored", 30.0, ("right head",)), ("keep", 0.0, ())])
def test_flanges_are_mirrored_and_renamed_with_their_ports(
    place: str, free: float, flanges: tuple[str, ...], tmp_path: Path
) -> None:
    """The head that goes with the bank stands under its flange; one that stays where it was is free for no tube here.

    In closed form: y of every place changes its sign, and the whole moves along the crank.
    """
    spec = write(tmp_path, "staggered", more=f", {place}: [head], left_out: [rail], names: {{left: right}}")
    spec.write_text(spec.read_text().replace(", left_out: [rail], left_out: [rail]", ", left_out: [rail]"))
    first = tmp_path / "first.yaml"
    text = first.read_text()
    text = text.replace(text[text.index("flange:") : text.index("collectors:")], HEADS)
    text = text.replace("[0, 0.94, -0.34]}, clearance: 10}", "[0, 0.94, -0.34]}, clearance: 10,\n     FREE}")
    first.write_text(text.replace("FREE", "free_from_flange: 30, flanges: [left head]"), encoding="utf-8")
    one, other = read_spec(first)[1], read_spec(spec)[1]
    assert [flange.name for flange in other.flanges] == ["right head", "fore"]
    assert [other.flange_of(run.port).name for run in other.primaries] == ["right head", "fore"]
    for a, b in zip(one.flanges, other.flanges, strict=True):
        x, y, z = a.frame.origin
        assert b.frame.origin == pytest.approx((x + OFFSET, -y, z))
        assert b.frame.z == pytest.approx((a.frame.z[0], -a.frame.z[1], a.frame.z[2]))
        assert (b.thickness, [port.number for port in b.ports]) == (a.thickness, [port.number for port in a.ports])
    (head,) = other.chassis
    assert (head.free_from_flange, head.flanges) == (free, flanges)


def test_a_head_of_this_bank_is_under_a_flange_of_this_bank(tmp_path: Path) -> None:
    rest = "chassis: [{name: block, " + PLANE + ", clearance: 1, free_from_flange: 9, flanges: [left head]}]"
    spec = write(tmp_path, "staggered", more=", names: {left: right}", rest=rest)
    first = tmp_path / "first.yaml"
    text = first.read_text()
    first.write_text(text.replace(text[text.index("flange:") : text.index("collectors:")], HEADS), encoding="utf-8")
    with pytest.raises(SpecError, match="no flange is called left head"):
        read_spec(spec)


def test_points_that_no_tube_follows_are_said_in_the_unit_of_the_bank(tmp_path: Path) -> None:
    """A bend of 90° with a radius of 100 mm takes 100 mm of each leg, and the second leg has 50.8 mm."""
    port = read_spec(write(tmp_path, "abreast"))[1].flanges[0].ports[1].frame
    ends = [(0.0, 0.0, 0.0), (0.0, 0.0, 200.0), (50.8, 0.0, 200.0)]
    points = ", ".join(str([f"{value:.9f} mm" for value in point_in(port, end)]) for end in ends)
    spec = write(tmp_path, "abreast", rest=f"primaries: {{2: {{points: [{points}], radii: [100 mm]}}}}")
    for units, said in (("mm", "50.8 mm long, but its bends need 100.0 mm"), ("in", "2.000 in long, .* 3.937 in")):
        spec.write_text(spec.read_text(encoding="utf-8").replace("units: mm", f"units: {units}"), encoding="utf-8")
        with pytest.raises(SpecError, match=said):
            read_spec(spec)
