"""Kept parts: the same bytes with them and without, made anew where anything differs, never trusted when damaged."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import WORLD, frame_from_normal
from headergen.model import (
    Bore,
    Draft,
    Flange,
    Frame,
    Header,
    Job,
    LengthTarget,
    Limits,
    Port,
    PortShape,
    Straight,
    Tube,
    primary_name,
)
from headergen.parts.table import parts_to_make
from headergen.solids import kept
from headergen.solids.build import make_parts
from headergen.solids.kept import KeptSolids, key_of, key_of_pair
from tests.runs import primary

FACE = frame_from_normal((10.0, 20.0, 30.0), (0.3, 0.9, 0.1), (1.0, 0.2, 0.0))  # no direction is a round number


def header(length: float = 80.0, thickness: float = 10.0) -> Header:
    ports = tuple(
        Port(k, Frame((FACE.origin[0] + 90.0 * k * FACE.x[0], *FACE.origin[1:]), FACE.x, FACE.y, FACE.z), round_38)
        for k, round_38 in ((0, PortShape("round", (38.0,))), (1, PortShape("round", (38.0,))))
    )
    ports = tuple(replace(port, number=port.number + 1) for port in ports)
    steps = (Straight(length),)
    runs = tuple(
        primary(
            p.number,
            p,
            Bore("main", p.number, primary_name(p.number), WORLD),
            steps if p.number == 1 else (Straight(80.0),),
        )
        for p in ports
    )
    draft = Draft(
        job=Job("Bogbean", "A", "2026-05-01"),
        tube=Tube(42.4, 1.5, "304L"),
        stock=None,
        flanges=(Flange(FACE, thickness, (), ports),),
        collectors=(),
        length=LengthTarget(None, 3.0),
        runs=runs,
        chassis=(),
        limits=Limits(20.0, 1.0, 0.01, 5.0, 100.0, 0.1),
    )
    return Header(draft, runs, tuple(trace(run.port.frame, run.steps, run.number) for run in runs))


def made(store: KeptSolids | None, folder: Path, what: Header) -> dict[str, bytes]:
    folder.mkdir()
    solids, _ = make_parts(what, folder, lambda *_: None, store=store)
    meshes = {
        f"{s.name} mesh": s.mesh.vertices.tobytes() + s.mesh.faces.tobytes() for s in solids if s.mesh is not None
    }
    return {path.name: path.read_bytes() for path in folder.iterdir()} | meshes


def test_kept_parts_give_the_same_bytes_and_are_not_made_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = KeptSolids(tmp_path / "store")
    first = made(store, tmp_path / "first", header())
    assert len(list(store.folder.glob("*.npz"))) == 3, "the flange, and its metal in common with each tube"
    monkeypatch.setattr("headergen.solids.flange.flange_solid", lambda *_: pytest.fail("made again"))
    monkeypatch.setattr("headergen.solids.build.shared", lambda *_: pytest.fail("compared again"))
    assert made(store, tmp_path / "second", header()) == first


def test_a_shelf_that_cannot_be_written_changes_no_byte(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with_one = made(KeptSolids(tmp_path / "store"), tmp_path / "first", header())
    assert made(KeptSolids(tmp_path / "file" / "store"), tmp_path / "second", header()) == with_one
    assert made(KeptSolids(Path("~nobody")), tmp_path / "third", header()) == with_one


def test_a_changed_primary_leaves_the_flange_and_its_other_tube(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = KeptSolids(tmp_path / "store")
    made(store, tmp_path / "first", header())
    monkeypatch.setattr("headergen.solids.flange.flange_solid", lambda *_: pytest.fail("made again"))
    made(store, tmp_path / "second", header(length=81.0))
    assert len(list(store.folder.glob("*.npz"))) == 4, "one tube was compared anew"


@pytest.mark.parametrize("harm", ["cut", "turned", "empty", "another"])
def test_a_damaged_part_is_removed_and_made_anew(harm: str, tmp_path: Path) -> None:
    store, what = KeptSolids(tmp_path / "store"), header()
    first = made(store, tmp_path / "first", what)
    path = store.folder / f"{flange_key(what)}.npz"
    content = bytearray(path.read_bytes())
    if harm == "another":  # whole as a file, and not what was kept
        with np.load(path) as arrays:
            np.savez(path, **{**arrays, "vertices": arrays["vertices"] + 1.0})
    else:
        content[len(content) // 2] ^= 1
        path.write_bytes({"cut": content[:-200], "turned": content, "empty": b""}[harm])
    assert store.part(flange_key(what)) is None and not path.exists()
    assert made(store, tmp_path / "second", what) == first


def flange_key(what: Header) -> str:
    key = key_of(parts_to_make(what)[0], (), what.draft)
    assert key is not None
    return key


def test_the_key_knows_all_that_a_part_is_made_from(monkeypatch: pytest.MonkeyPatch) -> None:
    what = header()
    draft, keys = what.draft, [flange_key(what)]
    assert flange_key(header(length=81.0)) == keys[0], "no primary has a part in the flange"
    keys.append(flange_key(header(thickness=10.0 + 1e-12)))
    keys.append(flange_key(replace(what, draft=replace(draft, tube=Tube(42.4, 1.6, "304L")))))
    keys.append(flange_key(replace(what, draft=replace(draft, limits=replace(draft.limits, chord_error=0.2)))))
    monkeypatch.setattr("headergen.store.keys.makers", lambda _: "another version")
    keys.append(flange_key(what))
    assert len(set(keys)) == len(keys)


def test_what_may_hide_something_has_no_key() -> None:
    part = parts_to_make(header())[0]
    assert key_of(replace(part, seat={1, 2}), (), header().draft) is None


def test_what_was_not_used_for_longest_goes_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = KeptSolids(tmp_path)
    for age, key in enumerate(("old", "older", "oldest")):
        store.keep_volume(key, float(age))
        os.utime(tmp_path / f"{key}.npz", (1e9 - age, 1e9 - age))
    (tmp_path / "left.npz.7.part").write_bytes(b"half")
    os.utime(tmp_path / "left.npz.7.part", (1e9, 1e9))
    assert store.volume("oldest") == 2.0, "used just now"
    monkeypatch.setattr(kept, "MOST_KEPT", 2 * (tmp_path / "old.npz").stat().st_size)
    store.tidy()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["old.npz", "oldest.npz"]


def test_after_a_change_of_one_primary_all_else_is_asked_for_and_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: dict[str, bool] = {}  # by key, whether it was there
    take = kept.taken

    def counted(folder: Path, key: str, *given: object) -> object:
        found = take(folder, key, *given)  # type: ignore[arg-type]
        asked[key] = found is not None
        return found

    monkeypatch.setattr(kept, "taken", counted)
    store = KeptSolids(tmp_path / "store")

    def answers(folder: str, what: Header) -> dict[str, bool]:
        asked.clear()
        made(store, tmp_path / folder, what)
        parts = {part.name: key_of(part, (), what.draft) or "" for part in parts_to_make(what)}
        names = {key: name for name, key in parts.items()}
        names |= {key_of_pair(one, other): f"{a}, {b}" for a, one in parts.items() for b, other in parts.items()}
        return {names[key]: there for key, there in asked.items()}

    flange, first, second = "flange", "flange, primary 1", "flange, primary 2"
    assert answers("new", header()) == {flange: False, first: False, second: False}
    assert answers("again", header()) == {flange: True, first: True, second: True}
    assert answers("longer", header(length=81.0)) == {flange: True, first: False, second: True}
