"""Rings, ball flanges and bosses on outlets that taper: metal by formula, flush with the outlet, made by the script."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from headergen.geometry.merge.design import merge_of
from headergen.model import Boss, Collector, Header, OutletBall, OutletRing
from headergen.outputs.cad_script import cad_script
from headergen.solids.assembly import named_solids
from headergen.solids.inspect import measure
from headergen.solids.outlet_end import end_solid
from headergen.solids.shapes import fused, shared
from tests.checks.small_header import draft
from tests.random_parts import TUBE, collector

STARTS, LENGTH = 63.5, 60.0  # mm: outside of the outlet where it begins, and its length
RING = OutletRing(120.0, 9.0, bolts=3, bolt_circle=98.0, hole=9.0)
ENDS = pytest.mark.parametrize("ends", [54.0, 76.1])


def tapered(ends: float) -> Collector:
    return replace(collector(TUBE, 4, 10.0, STARTS), outlet_length=LENGTH, outlet_to=ends, spike=False)


def frustum(one: float, other: float, height: float) -> float:
    """π·h·(R² + R·r + r²)/3."""
    return math.pi * height * (one**2 + one * other + other**2) / 3


@cache
def header_of(ends: float, ball: bool) -> Header:
    """Four tubes into one, a sensor boss 25 mm down the outlet, and a ring or a ball flange on its end."""
    asked = replace(tapered(ends), end=OutletBall(100.0, 12.0) if ball else RING)
    boss = Boss("sensor", "main", 25.0, 1.0, 26.0, 14.0, 16.0, sensor=True, on_outlet=True)
    return Header(draft(tube=TUBE, collectors=(asked,), bosses=(boss,)), (), ())


@ENDS
def test_metal_of_a_ring_with_a_conical_bore(ends: float) -> None:
    back = ends / 2 - (ends - STARTS) / 2 / LENGTH * 9.0
    volume = math.pi * 60.0**2 * 9.0 - frustum(back, ends / 2, 9.0) - 3 * math.pi * 4.5**2 * 9.0
    assert measure(end_solid(RING, merge_of(TUBE, tapered(ends)), "ring")).volume == pytest.approx(volume, rel=1e-9)


@pytest.mark.slow
@pytest.mark.series
@ENDS
@pytest.mark.parametrize("ball", [False, True])
def test_what_is_on_it_shares_no_metal_with_it_and_stands_against_it(ends: float, ball: bool) -> None:
    made: dict[str, Any] = {name: each.wrapped for name, each in named_solids(header_of(ends, ball)).items()}
    outlet = made["collector main"]
    for name in (f"outlet {'ball' if ball else 'ring'} main", "boss sensor"):
        assert measure(shared(made[name], outlet)).volume < 1e-3, name
        one = measure(fused([made[name], outlet]))
        assert one.shells == 1, f"{name} stands against the outlet"


@pytest.mark.slow
@pytest.mark.series
@ENDS
def test_the_cad_script_makes_the_same(ends: float) -> None:
    header = header_of(ends, False)
    ours = named_solids(header)
    text, left_out = cad_script(header, list(ours))
    assert left_out == ()
    names: dict[str, Any] = {"__name__": "header_cad"}
    exec(text, names)
    made = names["build"]()
    for name, solid in ours.items():
        assert made[name].Volume() == pytest.approx(solid.Volume(), rel=1e-4), name
