"""Lengths and angles as written."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headergen.spec.scalars import ScalarError
from headergen.spec.units import angle_in_degrees, length_in_mm


@pytest.mark.parametrize(
    ("written", "millimetres"),
    [
        # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)
        ("1-5/8 in", 41.275),
        ("1 5/8 in", 41.275),
        ('1-5/8"', 41.275),
        ("1.625 in", 41.275),
        ("1/2 in", 12.7),
        ("-1-1/2 in", -38.1),
        ("2 inches", 50.8),
        ("41.3 mm", 41.3),
        ("4.13cm", 41.3),
        ("1.2 m", 1200.0),
        ("1e3 mm", 1000.0),
        (" +.5 in ", 12.7),
    ],
)
def test_a_length_with_its_unit_is_the_same_in_any_file(written: str, millimetres: float) -> None:
    assert length_in_mm(written, "mm") == pytest.approx(millimetres, abs=1e-12)
    assert length_in_mm(written, "in") == pytest.approx(millimetres, abs=1e-12)


def test_a_plain_number_counts_in_the_unit_of_the_file() -> None:
    assert length_in_mm(2, "mm") == 2.0
    assert length_in_mm(2, "in") == 50.8
    assert length_in_mm("1-5/8", "in") == pytest.approx(41.275, abs=1e-12)


@pytest.mark.parametrize(
    "written",
    [
        "1,5 in",
        "1-5/8",
        "12",
        "1/0 in",
        "1-9/8 in",
        "3 ft",
        "in",
        "",
        "1-5/8 in in",
        "1--5/8 in",
        "٣ mm",
        "nan",
        "1e999 mm",
    ],
)
def test_what_is_no_length_in_a_file_of_millimetres(written: str) -> None:
    with pytest.raises(ScalarError):
        length_in_mm(written, "mm")


@pytest.mark.parametrize("value", [True, None, [1], {"a": 1}])
def test_only_numbers_and_text_are_lengths(value: object) -> None:
    with pytest.raises(ScalarError):
        length_in_mm(value, "mm")
    with pytest.raises(ScalarError):
        angle_in_degrees(value)


@given(st.integers(0, 99), st.integers(1, 63))
def test_mixed_fractions_in_sixty_fourths(whole: int, over: int) -> None:
    written = f"{whole}-{over}/64 in"
    assert length_in_mm(written, "mm") == pytest.approx((64 * whole + over) * 25.4 / 64, rel=1e-14)


def test_angles_are_degrees() -> None:
    assert [angle_in_degrees(value) for value in (45, 12.5, "12.5 deg", "12.5°", "-90 degrees")] == [
        45,
        12.5,
        12.5,
        12.5,
        -90,
    ]
    for written in ("12,5 deg", "1 rad", "90"):
        with pytest.raises(ScalarError):
            angle_in_degrees(written)
