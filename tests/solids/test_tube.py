"""Hollow tubes by the kernel: what it makes of anything a shop could bend, and what never reaches it."""

from __future__ import annotations

import math
from collections import Counter

import pytest
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_Cylinder, GeomAbs_Plane, GeomAbs_Torus
from OCP.TopAbs import TopAbs_FACE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import WORLD
from headergen.model import Bend, Step, Straight
from headergen.solids.inspect import measure
from headergen.solids.tube import tube_solid

OUTER, INNER = 21.2, 19.7
OD = 2 * OUTER
# the kernel integrates these surfaces exactly and agrees to about 1e-14; 1e-6 is what the project promises
VOLUME = 1e-6


def bend(angle: float, radius: float = 1.5 * OD, rotation: float = 0.0) -> Bend:
    return Bend(math.radians(angle), radius, math.radians(rotation))


def surfaces(solid: object) -> Counter[object]:
    explorer, kinds = TopExp_Explorer(solid, TopAbs_FACE), []
    while explorer.More():
        kinds.append(BRepAdaptor_Surface(TopoDS.Face_s(explorer.Current())).GetType())
        explorer.Next()
    return Counter(kinds)


def assert_sound(steps: tuple[Step, ...]) -> None:
    """Valid, one closed shell, and π(ro² − ri²)·(Σ straights + Σ R·θ) of metal (Pappus–Guldinus)."""
    facts = measure(tube_solid(trace(WORLD, steps, "primary 1"), OUTER, INNER))
    developed = sum(step.length if isinstance(step, Straight) else step.radius * step.angle for step in steps)
    assert (facts.valid, facts.shells, facts.closed) == (True, 1, True)
    assert facts.volume == pytest.approx(math.pi * (OUTER**2 - INNER**2) * developed, rel=VOLUME)


DEGENERATE: dict[str, tuple[Step, ...]] = {
    "one straight": (Straight(100.0),),
    "one bend": (bend(90),),
    "one half turn": (bend(180),),
    "half turn between straights": (Straight(20.0), bend(180), Straight(20.0)),
    "bend of 0.1 degrees": (Straight(20.0), bend(0.1), Straight(20.0)),
    "bend of 0.001 degrees": (Straight(20.0), bend(0.001), Straight(20.0)),
    "bends meet in one plane": (bend(40), bend(50)),
    "bends meet, second turned back": (bend(40), bend(50, rotation=180)),
    "bends meet out of plane": (bend(40), bend(50, rotation=77), bend(30, 4 * OD, -20)),
    "tightest bend": (Straight(20.0), bend(90, OUTER), Straight(20.0)),
    "tightest half turn": (bend(180, OUTER),),
    "a hair over the tightest": (Straight(20.0), bend(90, OUTER + 1e-4), Straight(20.0)),
    **{
        f"straight of {length:g} mm": (bend(40), Straight(length), bend(40, rotation=90))
        for length in (0.1, 1e-2, 1e-4, 1e-6, 1e-8, 0.0)
    },
    "tiny first and last": (Straight(1e-4), bend(40), Straight(1e-4)),
}


@pytest.mark.parametrize("steps", DEGENERATE.values(), ids=DEGENERATE.keys())
def test_degenerate_but_legal_tubes_are_sound(steps: tuple[Step, ...]) -> None:
    assert_sound(steps)


def test_surfaces_are_exact() -> None:
    steps = (Straight(30.0), bend(70, rotation=40), Straight(50.0), bend(30, rotation=-15), bend(20), Straight(40.0))
    kinds = surfaces(tube_solid(trace(WORLD, steps, "primary 1"), OUTER, INNER))
    # a wall and a bore for each step, and one flat at either end
    assert kinds == {GeomAbs_Plane: 2, GeomAbs_Cylinder: 6, GeomAbs_Torus: 6}


@pytest.mark.parametrize("radius", [OUTER - 1e-9, OUTER / 2])
def test_a_bend_tighter_than_the_tube_is_refused_by_name(radius: float) -> None:
    path = trace(WORLD, (Straight(30.0), bend(40), bend(40, radius)), "primary 3")
    with pytest.raises(ValueError, match=r"primary 3, step 3: .* tighter than half the tube's diameter of 42\.4 mm"):
        tube_solid(path, OUTER, INNER)


@pytest.mark.parametrize("inner", [OUTER, OUTER + 1, 0.0])
def test_a_tube_without_a_wall_or_a_bore_is_refused(inner: float) -> None:
    with pytest.raises(ValueError, match="leaves no wall"):
        tube_solid(trace(WORLD, (Straight(30.0),), "primary 1"), OUTER, inner)


def test_a_tube_without_length_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="primary 2 has no length"):
        tube_solid(trace(WORLD, (Straight(0.0),), "primary 2"), OUTER, INNER)
