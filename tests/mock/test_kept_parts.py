"""Printed parts are kept one by one: only what depends on a change is made again, and a damaged one is made anew."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from manifold3d import CrossSection

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.mock import build
from headergen.mock.build import Mock, make_mock
from headergen.mock.kept import KeptMockParts
from headergen.mock.part import MockPart
from headergen.mock.solid import mesh_of, prism
from headergen.mock.strength import TubeSection
from headergen.model import Frame, Header, MockSettings, Straight
from headergen.store.files import DIGEST, keep
from tests.checks.small_header import draft, measured

SETTINGS = MockSettings(plates=False)
AXES = Frame((0.1, 1 / 3, -2e-17), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
RING = mesh_of(prism(CrossSection.circle(20.0, 32) - CrossSection.circle(16.0, 32), 0.0, 1 / 3))
PART = MockPart(
    name="P1-2",
    runs=("primary 1", "primary 2"),
    pieces=(2, 3),
    mesh=RING,
    home=AXES,
    smallest_section=0.1,
    spigot=replace(AXES, origin=(0.0, 0.0, 7.3)),
    sockets=(("primary 1", AXES),),
    notes=("leans 50° from the vertical",),
    sections=(TubeSection("primary 1", (0.1, 0.2, 0.3), 1 / 7, 2 / 7, 3 / 7),),
)


def header(first: float = 400.0) -> Header:
    return measured(draft([Straight(first)], [Straight(400.0)])).header


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was made and not taken from a store: the names of parts and of kinds of parts."""
    found: list[str] = []

    def counted(function: Callable[..., Any], name: Callable[..., str]) -> Callable[..., Any]:
        def counting(*given: Any) -> Any:
            found.append(name(*given))
            return function(*given)

        counting.__qualname__ = function.__qualname__
        return counting

    monkeypatch.setattr(build, "tube_part", counted(build.tube_part, lambda *given: str(given[-1])))
    monkeypatch.setattr(build, "flange_plates", counted(build.flange_plates, lambda *_: "plates"))
    monkeypatch.setattr(build, "collector_parts", counted(build.collector_parts, lambda plan, *_: plan.name))
    return found


def meshes(mock: Mock) -> dict[str, bytes]:
    return {part.name: part.mesh.vertices.tobytes() + part.mesh.faces.tobytes() for part in mock.printed}


@pytest.mark.slow
def test_a_changed_primary_has_only_what_depends_on_it_made_again(made: list[str], tmp_path: Path) -> None:
    store = KeptMockParts(tmp_path)
    first = make_mock(header(), SETTINGS, store=store)
    named = [name for name in made if name.startswith("P")]  # tube parts
    assert {name[:2] for name in named} == {"P1", "P2"} and len(made) == len(set(made)), made
    made.clear()
    again = make_mock(header(), SETTINGS, store=store)
    assert not made and meshes(again) == meshes(first) and again.facts == first.facts
    changed = make_mock(header(401.0), SETTINGS, store=store)
    assert sorted(made) == sorted(["plates", *(name for name in named if name.startswith("P1"))]), "its stub is on one"
    made.clear()
    assert meshes(make_mock(header(401.0), SETTINGS)) == meshes(changed), "as without a store"
    assert len(made) > len(named), "without a store all of it is made"


def giving(calls: list[str]) -> Callable[[MockPart], MockPart]:
    """A maker that gives what it gets, and notes that it was called."""

    def give(part: MockPart) -> MockPart:
        calls.append(part.name)
        return part

    return give


def bytes_of(mesh: TriangleMesh) -> bytes:
    return mesh.vertices.tobytes() + mesh.faces.tobytes()


@pytest.mark.parametrize("part", [PART, replace(PART, spigot=None, sockets=(), notes=(), sections=())])
def test_every_field_of_a_part_is_kept(part: MockPart, tmp_path: Path) -> None:
    calls: list[str] = []
    for _ in range(2):
        [again] = KeptMockParts(tmp_path).parts(partial(giving(calls), part))
        for field in fields(MockPart):
            ours, kept = getattr(part, field.name), getattr(again, field.name)
            if isinstance(ours, TriangleMesh):
                assert bytes_of(kept) == bytes_of(ours) and kept.closed
            else:
                assert kept == ours and type(kept) is type(ours), field.name
    assert calls == ["P1-2"]


@pytest.mark.parametrize("harm", ["cut", "turned", "another", "open"])
def test_a_damaged_part_is_made_anew(harm: str, tmp_path: Path) -> None:
    calls: list[str] = []
    make = partial(giving(calls), PART)
    KeptMockParts(tmp_path).parts(make)
    [path] = tmp_path.glob("*.npz")
    content = bytearray(path.read_bytes())
    with np.load(path) as file:
        arrays = {name: file[name] for name in file.files}
    if harm == "another":  # whole as a file, and not what was kept
        np.savez(path, **{**arrays, "0 vertices": arrays["0 vertices"] + 1.0})
    elif harm == "open":  # kept like that, by whatever mistake
        arrays.pop(DIGEST)
        keep(tmp_path, path.stem, {**arrays, "0 faces": arrays["0 faces"][1:]})
    else:
        content[len(content) // 2] ^= 1
        path.write_bytes(content[:-200] if harm == "cut" else content)
    for _ in range(2):
        [again] = KeptMockParts(tmp_path).parts(make)
        assert bytes_of(again.mesh) == bytes_of(RING)
    assert calls == ["P1-2"] * 2, "made anew once, and kept again"


def test_a_folder_that_cannot_be_written_is_not_missed(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    assert KeptMockParts(tmp_path / "file" / "store").parts(partial(giving([]), PART)) == (PART,)
