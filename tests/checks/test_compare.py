"""Two banks side by side."""

from __future__ import annotations

from dataclasses import replace

import pytest

from headergen.checks.compare import compare_banks
from headergen.geometry.frames import frame_from_normal, point_in
from headergen.model import Header, Straight
from headergen.solve.closing import close
from tests.checks.small_header import draft, moved


def bank(y: float, shift: float = 0.0, length: float = 400.0) -> Header:
    """Two straight tubes that leave sideways from y: to the left for y > 0, to the right for y < 0."""
    made = draft([Straight(length)], [Straight(length)])
    face = frame_from_normal((0.0, 0.0, 0.0), (0.0, 1.0 if y > 0 else -1.0, 0.0), (1.0, 0.0, 0.0))

    def port(number: int):  # type: ignore[no-untyped-def]
        at = point_in(face, (90.0 * number + shift, 0.0, abs(y)))
        return replace(made.flange.ports[number], frame=moved(face, at))

    primaries = tuple(replace(primary, port=port(k)) for k, primary in enumerate(made.primaries))
    collector = replace(made.collectors[0], frame=moved(face, point_in(face, (shift, 0.0, abs(y) + 400.0))))
    return close(replace(made, primaries=primaries, collectors=(collector,)))


def test_mirror_images_are_alike() -> None:
    found = compare_banks(bank(50.0), bank(-50.0))
    assert found.lengths == ((1, 400.0, 400.0), (2, 400.0, 400.0))
    assert [strays for _, strays in found.unlike] == pytest.approx([0, 0], abs=1e-9)
    assert found.gap == (pytest.approx(100.0), 1, 1), "flat ends face each other across 100 mm"
    [(_, _, off, angle)] = found.collectors
    assert off == pytest.approx((0, 0, 0), abs=1e-9) and angle == pytest.approx(0, abs=1e-9)


def test_an_offset_and_a_longer_bank_show() -> None:
    found = compare_banks(bank(50.0), bank(-50.0, shift=24.0, length=410.0))
    assert [two - one for _, one, two in found.lengths] == pytest.approx([10, 10])
    assert found.collectors[0][2] == pytest.approx((24, 0, 0), abs=1e-9)
    assert max(strays for _, strays in found.unlike) == pytest.approx(24, abs=1e-9)
