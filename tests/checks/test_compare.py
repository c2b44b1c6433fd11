"""Two banks side by side."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from headergen.checks.compare import compare_banks
from headergen.commands.line import commands
from headergen.geometry.frames import frame_from_normal, point_in
from headergen.model import Header, Straight
from headergen.pipeline import full_text, settle
from headergen.solve.closing import close
from tests.checks.small_header import draft, moved
from tests.spec.test_bank import OFFSET, write


def bank(y: float, shift: float = 0.0, length: float = 400.0) -> Header:
    """Two straight tubes that leave sideways from y: to the left for y > 0, to the right for y < 0."""
    made = draft([Straight(length)], [Straight(length)])
    face = frame_from_normal((0.0, 0.0, 0.0), (0.0, 1.0 if y > 0 else -1.0, 0.0), (1.0, 0.0, 0.0))

    def port(number: int):  # type: ignore[no-untyped-def]
        at = point_in(face, (90.0 * number + shift, 0.0, abs(y)))
        return replace(made.flanges[0].ports[number], frame=moved(face, at))

    primaries = tuple(replace(primary, start=port(k)) for k, primary in enumerate(made.primaries))
    collector = replace(made.collectors[0], frame=moved(face, point_in(face, (shift, 0.0, abs(y) + 400.0))))
    return close(replace(made, runs=primaries, collectors=(collector,)))


def test_mirror_images_are_alike() -> None:
    found = compare_banks(bank(50.0), bank(-50.0))
    assert found.lengths == (("primary 1", 400.0, 400.0), ("primary 2", 400.0, 400.0))
    assert [deviation for _, deviation in found.unlike] == pytest.approx([0, 0], abs=1e-9)
    assert found.gap == (pytest.approx(100.0), "primary 1", "primary 1"), "flat ends face each other across 100 mm"
    [(_, _, off, angle)] = found.collectors
    assert off == pytest.approx((0, 0, 0), abs=1e-9) and angle == pytest.approx(0, abs=1e-9)


def test_an_offset_and_a_longer_bank_show() -> None:
    found = compare_banks(bank(50.0), bank(-50.0, shift=24.0, length=410.0))
    assert [two - one for _, one, two in found.lengths] == pytest.approx([10, 10])
    assert found.collectors[0][2] == pytest.approx((24, 0, 0), abs=1e-9)
    assert max(deviation for _, deviation in found.unlike) == pytest.approx(24, abs=1e-9)


@pytest.mark.parametrize("second_first", [False, True], ids=["as mirrored", "the other way round"])
def test_banks_are_compared_across_the_plane_that_their_spec_names(second_first: bool, tmp_path: Path) -> None:
    """Planes off the middle and inclined: the straggling of a staggered bank is at most its offset along the crank,
    nothing else [C], and the collector stands off its mirror image by just that."""
    for normal in ("[0, 1, 0]", "[0, 0.8, 0.6]", "[0, -0.6, 0.8]"):
        spec = write(tmp_path, "staggered", 15.0, more=f", mirror: {{origin: [70, 150, -20], normal: {normal}}}")
        pair = [settle(tmp_path / "first.yaml"), settle(spec)]
        found = compare_banks(*(pair[::-1] if second_first else pair))
        assert found.collectors[0][2] == pytest.approx((-OFFSET if second_first else OFFSET, 0, 0), abs=1e-6)
        assert found.collectors[0][3] == pytest.approx(0, abs=1e-7)
        assert 0.5 * OFFSET < max(deviation for _, deviation in found.unlike) <= OFFSET + 1e-6


def test_a_bank_written_out_in_full_is_compared_across_the_same_plane(tmp_path: Path) -> None:
    """`resolve` keeps the plane: across y = 0 a bank mirrored across another plane is unlike its fellow everywhere."""
    spec = write(tmp_path, "staggered", 15.0, more=", mirror: {origin: [70, 150, -20], normal: [0, 0.8, 0.6]}")
    (tmp_path / "full.yaml").write_text(full_text(spec), encoding="utf-8")
    found = compare_banks(settle(tmp_path / "first.yaml"), settle(tmp_path / "full.yaml"))
    assert found.collectors[0][2] == pytest.approx((OFFSET, 0, 0), abs=1e-5)
    assert max(deviation for _, deviation in found.unlike) <= OFFSET + 1e-4


def test_the_command_names_the_plane(tmp_path: Path) -> None:
    spec = write(tmp_path, "staggered", more=", mirror: {origin: [0, 150, 0], normal: [0, 3, 4]}")
    said = CliRunner().invoke(commands, ["banks", str(tmp_path / "first.yaml"), str(spec)]).output
    assert "Mirrored across the plane through [0, 150, 0] mm square to [0, 0.6, 0.8]." in said
    plain = write(tmp_path, "staggered")
    said = CliRunner().invoke(commands, ["banks", str(tmp_path / "first.yaml"), str(plain)]).output
    assert "Mirrored across the plane y = 0 mm." in said
