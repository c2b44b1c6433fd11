"""What the kernel says of a solid, and which solids are turned away."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from OCP.BRep import BRep_Builder
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
from OCP.TopAbs import TopAbs_FACE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import WORLD
from headergen.model import Bend, Straight
from headergen.solids.inspect import SolidError, SolidFacts, measure, refuse_unsound, tube_volume
from headergen.solids.tube import tube_solid

SOUND = SolidFacts(valid=True, shells=1, closed=True, volume=1000.0)


def box_without(left_out: int) -> Any:
    """A 10 mm cube in one shell, short of its first faces."""
    explorer, builder = TopExp_Explorer(BRepPrimAPI_MakeBox(10.0, 10.0, 10.0).Solid(), TopAbs_FACE), BRep_Builder()
    shell, solid = TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    builder.MakeSolid(solid)
    for _ in range(left_out):
        explorer.Next()
    while explorer.More():
        builder.Add(shell, explorer.Current())
        explorer.Next()
    builder.Add(solid, shell)
    return solid


def test_a_whole_box_is_sound() -> None:
    facts = measure(box_without(0))
    # a cube of 10 mm, to the rounding of its integration
    assert facts.volume == pytest.approx(1000.0, rel=1e-12)
    refuse_unsound(facts, "primary 1", 1000.0)


def test_a_missing_face_leaves_the_shell_open() -> None:
    facts = measure(box_without(1))
    assert not facts.closed
    with pytest.raises(SolidError, match=r"^primary 4: .* not one closed shell$"):
        refuse_unsound(facts, "primary 4", facts.volume)


def test_inside_out_is_a_negative_volume() -> None:
    solid = tube_solid(trace(WORLD, (Straight(50.0),), 1), 21.2, 19.7)
    assert measure(solid.Reversed()).volume == pytest.approx(-measure(solid).volume)
    with pytest.raises(SolidError):
        refuse_unsound(measure(solid.Reversed()), "primary 1", measure(solid).volume)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"valid": False}, "do not fit together"),
        ({"shells": 2}, "not one closed shell"),
        ({"shells": 0}, "not one closed shell"),
        ({"closed": False}, "not one closed shell"),
        ({"volume": 1000.002}, r"1000\.002 mm³ .* 1000\.000 mm³"),
        ({"volume": -1000.0}, r"-1000\.000 mm³"),
        ({"volume": math.nan}, "nan"),
    ],
)
def test_each_fault_is_told_in_words(change: dict[str, Any], words: str) -> None:
    refuse_unsound(SOUND, "primary 2", 1000.0005)
    with pytest.raises(SolidError, match=f"^primary 2: .*{words}"):
        refuse_unsound(replace(SOUND, **change), "primary 2", 1000.0)


def test_volume_by_hand() -> None:
    # 40 × 2 tube, 100 mm straight and a half turn of CLR 60: π·38·2·(100 + 60π)
    path = trace(WORLD, (Straight(100.0), Bend(math.pi, 60.0, 0.0)), 1)
    assert tube_volume(path, 20.0, 18.0) == pytest.approx(math.pi * 76 * (100 + 60 * math.pi), rel=1e-12)
