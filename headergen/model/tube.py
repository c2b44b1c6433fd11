"""Round tube by its size."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tube:
    outside_diameter: float
    wall: float
    material: str

    @property
    def radius(self) -> float:
        return self.outside_diameter / 2
