"""All primaries of a header at once: files, facts, progress, and who is named when one cannot be made."""

from __future__ import annotations

import errno
import math
from dataclasses import replace
from pathlib import Path

import pytest
from steputils import p21

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import WORLD
from headergen.model import (
    Bend,
    Bolt,
    Bore,
    Centreline,
    Draft,
    Flange,
    Frame,
    Header,
    Job,
    LengthTarget,
    Limits,
    Port,
    PortShape,
    Step,
    Straight,
    Tube,
    primary_name,
)
from headergen.parts.kind import file_stem
from headergen.solids import build, tube
from headergen.solids.build import make_parts
from headergen.solids.inspect import SolidError
from tests.runs import primary

TUBE = Tube(42.4, 1.5, "304L")


def header(*paths: tuple[Step, ...]) -> Header:
    frames = [Frame((90.0 * k, 0.0, 0.0), WORLD.x, WORLD.y, WORLD.z) for k in range(len(paths))]
    ports = tuple(Port(k, frame, PortShape("round", (38.0,))) for k, frame in enumerate(frames, 1))
    primaries = tuple(
        primary(port.number, port, Bore("main", port.number, primary_name(port.number), WORLD), steps)
        for port, steps in zip(ports, paths, strict=True)
    )
    draft = Draft(
        job=Job("Bogbean", "A", "2026-05-01"),
        tube=TUBE,
        stock=None,
        flanges=(Flange(WORLD, 10.0, (), ports),),
        collectors=(),
        length=LengthTarget(None, 3.0),
        runs=primaries,
        chassis=(),
        limits=Limits(20.0, 1.0, 0.01, 5.0, 100.0, 0.1),
    )
    lines = tuple(trace(p.port.frame, p.steps, p.name) for p in primaries)
    return Header(draft, primaries, lines)


GOOD = (
    (Straight(40.0), Bend(math.radians(60), 63.6, 0.2), Straight(80.0)),
    (Straight(50.0), Bend(math.radians(75), 63.6, -0.2), Straight(60.0)),
)


def test_every_primary_gets_its_file_and_all_stand_in_one(tmp_path: Path) -> None:
    heard: list[tuple[str, int, int, str]] = []
    made, overlaps = make_parts(header(*GOOD), tmp_path, lambda *progress: heard.append(progress))
    assert overlaps == ()
    names = ["flange", "primary 1", "primary 2"]
    assert [solid.name for solid in made] == names
    assert [solid.files for solid in made] == [(f"{name.replace(' ', '_')}.step", "header.step") for name in names]
    assert sorted(file.name for file in tmp_path.iterdir()) == sorted({file for solid in made for file in solid.files})
    assert all(solid.closed for solid in made)
    for solid, (first, bend, last) in zip(made[1:], GOOD, strict=True):
        assert isinstance(first, Straight) and isinstance(bend, Bend) and isinstance(last, Straight)
        # from the gasket face, less the 2 mm that a tube stops short of it for the bead inside
        developed = first.length + bend.radius * bend.angle + last.length - 2.0
        # π(OD − t)·t × length, to the promised 1e-6
        assert solid.volume == pytest.approx(math.pi * (42.4 - 1.5) * 1.5 * developed, rel=1e-6)
    assert heard == [("solids", k, 3, name) for k, name in enumerate([*names, ""])]
    instances = p21.readfile(str(tmp_path / "header.step")).data[0].instances.values()
    simple = [i.entity for i in instances if getattr(i, "entity", None) is not None]
    assert [str(e.params[0]) for e in simple if e.name == "PRODUCT"] == ["Bogbean", *names]


def test_a_primary_keeps_its_number_when_others_are_left_out(tmp_path: Path) -> None:
    whole = header(*GOOD)
    made, _ = make_parts(whole.with_runs({"primary 2"}), tmp_path, lambda *_: None)
    assert [solid.name for solid in made] == ["flange", "primary 2"]
    assert sorted(file.name for file in tmp_path.iterdir()) == ["flange.step", "header.step", "primary_2.step"]


def test_a_bend_tighter_than_the_tube_names_its_primary(tmp_path: Path) -> None:
    tight = (Straight(40.0), Bend(math.radians(60), 21.0, 0.0))
    with pytest.raises(ValueError, match="primary 2, step 2"):
        make_parts(header(GOOD[0], tight), tmp_path, lambda *_: None)


def test_an_unsound_solid_names_its_primary(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sound = tube.tube_solid
    monkeypatch.setattr(tube, "tube_solid", lambda line, outer, inner: sound(line, outer, inner + 0.1))
    with pytest.raises(SolidError, match=r"^primary 1: the solid holds"):
        make_parts(header(*GOOD), tmp_path, lambda *_: None)
    assert [file.name for file in tmp_path.iterdir()] == ["flange.step"], "nothing of the tube, and no whole header"


def test_a_part_that_fails_is_named_and_the_others_are_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sound, failed = tube.tube_solid, dict[str, str]()

    def once_unsound(line: Centreline, outer: float, inner: float) -> object:
        return sound(line, outer, inner + (0.1 if line.run == "primary 1" else 0.0))

    monkeypatch.setattr(tube, "tube_solid", once_unsound)
    made, _ = make_parts(header(*GOOD), tmp_path, lambda *_: None, lambda name, why: failed.update({name: str(why)}))
    assert [solid.name for solid in made] == ["flange", "primary 2"]
    assert list(failed) == ["primary 1"] and "the solid holds" in failed["primary 1"]
    assert sorted(file.name for file in tmp_path.iterdir()) == ["flange.step", "header.step", "primary_2.step"]


def test_parts_can_be_passed_over_by_name(tmp_path: Path) -> None:
    made, _ = make_parts(header(*GOOD), tmp_path, lambda *_: None, without={"primary 1"})
    assert [solid.name for solid in made] == ["flange", "primary 2"]


def test_a_full_disk_is_no_fault_of_a_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", "flange.step")

    monkeypatch.setattr(build, "write_part", full)
    with pytest.raises(OSError, match="No space left"):
        make_parts(header(*GOOD), tmp_path, lambda *_: None, lambda *_: None)


def test_any_name_gives_a_file_name() -> None:
    assert file_stem("primary 1") == "primary_1"
    assert file_stem("collector ../left & right") == "collector_left_right"
    assert file_stem("§") == "part"


def test_a_flange_whose_holes_run_together_is_left_out(tmp_path: Path) -> None:
    whole = header(GOOD[0])
    flange = replace(whole.draft.flanges[0], bolts=(Bolt((24.0, 0.0), 8.5),))
    made, _ = make_parts(replace(whole, draft=replace(whole.draft, flanges=(flange,))), tmp_path, lambda *_: None)
    assert [solid.name for solid in made] == ["primary 1"]
    assert not (tmp_path / "flange.step").exists()
