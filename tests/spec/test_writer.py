"""A spec written out in full reads back as the same header."""

from __future__ import annotations

from pathlib import Path

import pytest

from headergen.geometry.centreline import frame_at
from headergen.pipeline import full_text, settle
from headergen.spec.reader import read_spec

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ("bogbean", "withybed", "glasswort_left", "glasswort_right")


@pytest.mark.parametrize("name", DEMOS)
def test_reads_back_as_the_same_header(name: str, tmp_path: Path) -> None:
    """Lengths are written to 1e-6 mm and angles to 1e-9°, which over a metre of tube is 1e-5 mm."""
    spec = ROOT / "specs" / f"{name}.yaml"
    for folder in ("specs", "shared"):
        (tmp_path / folder).symlink_to(ROOT / folder)
    full = tmp_path / "written" / "full.yaml"
    full.parent.mkdir()
    text = full_text(spec)
    assert "fit:" not in text and "mirror_of" not in text
    full.write_text(text.replace("glasswort_left.yaml", "../specs/glasswort_left.yaml"), encoding="utf-8")
    one, two = settle(spec), settle(full)
    for a, b in zip(one.centrelines, two.centrelines, strict=True):
        assert b.length == pytest.approx(a.length, abs=1e-5)
        for share in (0.0, 0.5, 1.0):
            assert frame_at(b, share * b.length)[0] == pytest.approx(frame_at(a, share * a.length)[0], abs=1e-4)
    for p, q in zip(one.primaries, two.primaries, strict=True):
        assert q.bore.frame.origin == pytest.approx(p.bore.frame.origin, abs=2e-6)
        assert q.target == p.target and q.parallels == p.parallels
    assert [item.name for item in two.draft.chassis] == [item.name for item in one.draft.chassis]
    assert two.draft.limits == one.draft.limits and two.draft.stock == one.draft.stock


def test_writing_twice_changes_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(full_text(ROOT / "specs" / "withybed.yaml"), encoding="utf-8")
    assert full_text(tmp_path / "a.yaml") == (tmp_path / "a.yaml").read_text(encoding="utf-8")


def test_a_spec_in_inches_equals_its_millimetre_twin(tmp_path: Path) -> None:
    """The Withybed in inches, and the same written in millimetres: equal to what 1e-6 mm of writing leaves."""
    (tmp_path / "mm.yaml").write_text(full_text(ROOT / "specs" / "withybed.yaml"), encoding="utf-8")
    inches, twin = read_spec(ROOT / "specs" / "withybed.yaml")[1], read_spec(tmp_path / "mm.yaml")[1]
    assert (inches.units, twin.units) == ("in", "mm")
    for mine, theirs in (
        (inches.tube.outside_diameter, twin.tube.outside_diameter),
        (inches.tube.wall, twin.tube.wall),
    ):
        assert theirs == pytest.approx(mine, abs=1e-6)
    assert inches.length.target == pytest.approx(26 * 25.4, abs=1e-9) and twin.length.target == pytest.approx(26 * 25.4)
    for a, b in zip(inches.flange.ports, twin.flange.ports, strict=True):
        assert b.frame.origin == pytest.approx(a.frame.origin, abs=1e-6)
