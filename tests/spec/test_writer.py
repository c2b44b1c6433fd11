"""A spec written out in full reads back as the same header."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from headergen.geometry.curves.centreline import frame_at
from headergen.model import Tabs
from headergen.pipeline import full_text, settle
from headergen.spec.reader import read_spec
from headergen.spec.writer import spec_text

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ("bogbean", "withybed", "glasswort_left", "glasswort_right", "sedge", "sedge_turbine", "bulrush")


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
        assert q.end.frame.origin == pytest.approx(p.end.frame.origin, abs=2e-6)
        assert q.target == p.target and q.parallels == p.parallels
    assert [item.name for item in two.draft.chassis] == [item.name for item in one.draft.chassis]
    assert two.draft.limits == one.draft.limits and two.draft.stock == one.draft.stock


def beside_shared(folder: Path) -> Path:
    """A folder from which the demos' stock is where they name it."""
    (folder / "shared").symlink_to(ROOT / "shared")
    (folder / "written").mkdir()
    return folder / "written"


def test_writing_twice_changes_nothing(tmp_path: Path) -> None:
    one = beside_shared(tmp_path) / "a.yaml"
    one.write_text(full_text(ROOT / "specs" / "withybed.yaml"), encoding="utf-8")
    assert full_text(one) == one.read_text(encoding="utf-8")


def test_a_spec_in_inches_equals_its_millimetre_twin(tmp_path: Path) -> None:
    """The Withybed in inches, and the same written in millimetres: equal to what 1e-6 mm of writing leaves."""
    header = settle(ROOT / "specs" / "withybed.yaml")
    in_millimetres = replace(header, draft=replace(header.draft, units="mm"))
    written = beside_shared(tmp_path) / "mm.yaml"
    written.write_text(spec_text(in_millimetres), encoding="utf-8")
    inches, twin = read_spec(ROOT / "specs" / "withybed.yaml")[1], read_spec(written)[1]
    assert (inches.units, twin.units) == ("in", "mm")
    for mine, theirs in (
        (inches.tube.outside_diameter, twin.tube.outside_diameter),
        (inches.tube.wall, twin.tube.wall),
    ):
        assert theirs == pytest.approx(mine, abs=1e-6)
    assert inches.length.target == pytest.approx(26 * 25.4, abs=1e-9) and twin.length.target == pytest.approx(26 * 25.4)
    for a, b in zip(inches.flanges[0].ports, twin.flanges[0].ports, strict=True):
        assert b.frame.origin == pytest.approx(a.frame.origin, abs=1e-6)


def test_what_is_made_reads_back_too(tmp_path: Path) -> None:
    """Flange, ports, collectors, bosses and plugs with every key that is not a default."""
    text = (ROOT / "specs" / "glasswort_left.yaml").read_text(encoding="utf-8")
    changes = (
        (
            "  thickness: 10\n",
            "  thickness: 10\n  seat: butt\n  margin: 9\n  facing: 0.5\n  relief: 7\n"
            "  tool: {diameter: 21, length: 80}\n",
        ),
        (
            "1: {at: [0, 0], shape: {d: [38, 36, 5]}",
            "1: {at: [0, 0], turn: 15, shape: {free: [[-19, -17], [19, -17], [0, 22]]}",
        ),
        (
            "    half_angle: 10\n",
            "    half_angle: 10\n    wall: 2\n    gap: 0.25\n    tabs: {apart: 58, hole: 4.5, turn: 20}\n",
        ),
        (
            "stock: ../shared/stock/stainless_42.yaml\n",
            "up: [0, 0.1, 1]\nplugs: [{name: plug 1, at: [0, 300, 240], axis: [0, 1, 1]}]\n",
        ),
        ("limits: {", "limits: {forming: 12, "),
    )
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (tmp_path / "one.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "two.yaml").write_text(full_text(tmp_path / "one.yaml"), encoding="utf-8")
    one, two = (read_spec(tmp_path / name)[1] for name in ("one.yaml", "two.yaml"))
    for name in ("seat", "margin", "setback", "facing", "relief", "tool"):
        assert getattr(two.flanges[0], name) == getattr(one.flanges[0], name)
    for p, q in zip(one.flanges[0].ports, two.flanges[0].ports, strict=True):
        assert (q.shape.kind, q.shape.size, q.shape.points, q.transition) == (
            p.shape.kind,
            p.shape.size,
            p.shape.points,
            p.transition,
        )
        assert q.shape.turn == pytest.approx(p.shape.turn, abs=1e-9)
    for c, d in zip(one.collectors, two.collectors, strict=True):
        assert c.tabs is not None and d.tabs is not None and d.tabs.turn == pytest.approx(c.tabs.turn)
        assert replace(d.tabs, turn=0.0) == replace(c.tabs, turn=0.0) == Tabs(58.0, hole=4.5)
        assert (d.wall, d.gap, d.spike, d.outlet) == (c.wall, c.gap, c.spike, c.outlet) == (2.0, 0.25, True, c.outlet)
    for a, b in zip(one.bosses, two.bosses, strict=True):
        assert (b.name, b.host, b.at, b.sensor) == (a.name, a.host, a.at, a.sensor)
        assert b.thread == a.thread == "M18x1.5" and b.part == f"boss {a.name} M18x1.5"
        assert (b.clock, b.hole) == pytest.approx((a.clock, a.hole), abs=1e-6)
    assert [plug.name for plug in two.plugs] == ["plug 1"] and two.limits.forming == pytest.approx(0.12)
    assert two.plugs[0].axis == pytest.approx(one.plugs[0].axis) and two.up == pytest.approx(one.up)
