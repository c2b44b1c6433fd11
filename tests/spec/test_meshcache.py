"""What is kept of large meshes: damage of any kind is as good as nothing kept, and what is not used goes first."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.mesh.index import TriangleIndex, build_index
from headergen.model import FileFacts
from headergen.spec.complaint import SpecError
from headergen.spec.mesh import cache as meshcache
from headergen.spec.mesh.cache import MOST_KEPT, cache_folder, store_index, stored_index
from headergen.spec.mesh.load import take
from headergen.spec.scalars import ScalarError

FACTS = FileFacts(200, assumed=("the commas in its numbers were read as points",))
FLIPS = 600


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("platformdirs.user_cache_path", lambda name: tmp_path / "cache" / name)


def small() -> TriangleIndex:
    corners = np.random.default_rng(4).normal(size=(200, 3, 3)).astype(np.float32)
    return replace(build_index(corners), closed=True, spacing=2.5)


def same(one: TriangleIndex, other: TriangleIndex) -> bool:
    runs = [(getattr(one, level), getattr(other, level)) for level in ("leaves", "branches")]
    arrays = [(one.raw, other.raw), (one.order, other.order), (one.box, other.box)]
    arrays += [(getattr(a, name), getattr(b, name)) for a, b in runs for name in meshcache.RUNS]
    return one.closed == other.closed and all(np.array_equal(a, b) for a, b in arrays)


def test_what_is_kept_comes_back() -> None:
    facts = replace(FACTS, spacing=2.5)
    store_index("a", small(), facts)
    index, found = stored_index("a") or pytest.fail("nothing was kept")
    assert same(index, small()) and found == facts and index.spacing == 2.5


@pytest.mark.slow
def test_any_bit_that_changes_ends_in_measuring_anew() -> None:
    """Seeded flips all over the file, and every bit of the zip's directory at its end, where readers stumble most."""
    store_index("a", small(), FACTS)
    [kept] = cache_folder().glob("*.npz")
    whole = kept.read_bytes()
    anywhere = np.random.default_rng(0).integers(0, 8 * len(whole), FLIPS)
    at_the_end = np.arange(8 * (len(whole) - 80), 8 * len(whole))
    removed = 0
    for bit in np.r_[anywhere, at_the_end].tolist():
        damaged = bytearray(whole)
        damaged[bit // 8] ^= 1 << bit % 8
        kept.write_bytes(damaged)
        found = stored_index("a")
        removed += found is None
        assert same(found[0], small()) and found[1] == FACTS if found else not kept.exists()
    assert removed > FLIPS / 2


@pytest.mark.parametrize("error", [MemoryError, NotImplementedError, RuntimeError, AttributeError, RecursionError])
def test_whatever_a_reader_raises_is_no_fault(error: type[Exception], monkeypatch: pytest.MonkeyPatch) -> None:
    store_index("a", small(), FACTS)

    def broken(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(np, "load", broken)
    assert stored_index("a") is None
    assert not list(cache_folder().glob("*.npz"))


def test_what_was_not_used_for_longest_goes_first() -> None:
    for number in range(MOST_KEPT):
        store_index(str(number), small(), FACTS)
        age = time.time() - 1000 + number
        os.utime(next(cache_folder().glob(f"{number}.*")), (age, age))
    assert stored_index("0")
    store_index("one more", small(), FACTS)
    assert stored_index("0") and stored_index("one more") and stored_index("1") is None


def test_leftovers_of_ended_runs_are_removed_and_those_of_others_kept() -> None:
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    folder = cache_folder()
    folder.mkdir(parents=True)
    left = [folder / f"b.2.npz.{ended.pid}.part", folder / "c.2.npz.part"]
    alive, long_ago = folder / f"d.2.npz.{os.getppid()}.part", folder / f"e.2.npz.{os.getppid()}.part"
    for part in (*left, alive, long_ago):
        part.write_bytes(b"half")
    os.utime(long_ago, (1e9, 1e9))
    store_index("a", small(), FACTS)
    assert sorted(folder.glob("*.part")) == [alive]


def test_a_mesh_is_kept_by_the_bytes_that_were_read(tmp_path: Path) -> None:
    """A file that changes between two reads must not be kept under the hash of what it was before."""
    file = tmp_path / "scan.stl"
    corners = np.random.default_rng(0).normal(size=(60_000, 3, 3)).astype("<f4")
    records = np.zeros(len(corners), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    records["corners"] = corners
    file.write_bytes(b"\0" * 80 + np.array([len(corners)], "<u4").tobytes() + records.tobytes())
    with pytest.raises((ScalarError, SpecError), match="changed while"):
        take(file, sha256(b"what it was before").hexdigest())
    assert not list(cache_folder().glob("*"))
    now = sha256(file.read_bytes()).hexdigest()
    take(file, now)
    assert stored_index(now)
