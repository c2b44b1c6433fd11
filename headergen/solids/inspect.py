"""The kernel's facts of a solid it has made, and the limits for them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from OCP.BRep import BRep_Tool
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_SHELL
from OCP.TopExp import TopExp_Explorer

from headergen.model import Centreline, Vec

VOLUME_TOLERANCE = 1e-6  # relative; the kernel agrees to 1e-14 on good tubes, so only real faults exceed this


class SolidError(RuntimeError):
    """A legal tube without a sound solid; the message gives the primary and the fault, in shop words."""


@dataclass(frozen=True)
class SolidFacts:
    """`valid`: geometry and topology agree; `closed`: no shell has a free edge; `volume` in mm³."""

    valid: bool
    shells: int
    closed: bool
    volume: float
    centre: Vec = (0.0, 0.0, 0.0)


def measure(solid: Any) -> SolidFacts:
    """The facts of a kernel solid. The volume is signed: negative if the material is outside."""
    shells = _shells(solid)
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, properties)
    centre = properties.CentreOfMass()
    return SolidFacts(
        valid=BRepCheck_Analyzer(solid).IsValid(),
        shells=len(shells),
        closed=all(BRep_Tool.IsClosed_s(shell) for shell in shells),
        volume=properties.Mass(),
        centre=(centre.X(), centre.Y(), centre.Z()),
    )


def tube_volume(centreline: Centreline, outer_radius: float, inner_radius: float) -> float:
    """Metal in a bent tube, π(OD − t)·t × developed length, in mm³ (second theorem of Pappus–Guldinus)."""
    return math.pi * (outer_radius + inner_radius) * (outer_radius - inner_radius) * centreline.length


def refuse_broken(facts: SolidFacts, name: str) -> None:
    """Raises SolidError, naming the part, unless the solid is valid and one closed shell with its material inside."""
    if facts.shells != 1 or not facts.closed:
        raise SolidError(f"{name}: the solid was made, but its skin is not one closed shell")
    if not facts.valid:
        raise SolidError(f"{name}: the solid was made, but its faces do not fit together")
    if not facts.volume > 0.0:
        raise SolidError(f"{name}: the solid was made, but it holds {facts.volume:.3f} mm³ of metal")


def refuse_unsound(facts: SolidFacts, name: str, expected_volume: float) -> None:
    """Raises SolidError, naming the part, if the solid is broken or does not have the expected volume."""
    refuse_broken(facts, name)
    if not abs(facts.volume - expected_volume) <= VOLUME_TOLERANCE * expected_volume:
        raise SolidError(
            f"{name}: the solid holds {facts.volume:.3f} mm³ of metal, but wall and centreline length make it "
            f"{expected_volume:.3f} mm³"
        )


def _shells(solid: Any) -> list[Any]:
    explorer = TopExp_Explorer(solid, TopAbs_SHELL)
    found = []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found
