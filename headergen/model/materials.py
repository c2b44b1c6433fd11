"""Tube materials: the names a spec may use, the density, and its source."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Material:
    """`names`: as people write them; the first is the one shown. `density`: kg/m³."""

    names: tuple[str, ...]
    density: float
    source: str


STAINLESS, CARBON, USUAL = "EN 10088-1", "EN 1993-1-2", "from memory"
MATERIALS = (
    Material(("304", "1.4301"), 7900.0, STAINLESS),
    Material(("304L", "1.4307"), 7900.0, STAINLESS),
    Material(("316", "1.4401"), 8000.0, STAINLESS),
    Material(("316L", "1.4404"), 8000.0, STAINLESS),
    Material(("321", "1.4541"), 7900.0, STAINLESS),
    Material(("347", "1.4550"), 7900.0, STAINLESS),
    Material(("409", "1.4512"), 7700.0, STAINLESS),
    Material(("mild steel", "carbon steel"), 7850.0, CARBON),
    Material(("titanium grade 2", "titanium", "grade 2", "3.7035"), 4510.0, USUAL),
    Material(("alloy 625", "625", "2.4856"), 8440.0, USUAL),
)
_BY_NAME = {name.casefold(): material for material in MATERIALS for name in material.names}


def material_called(name: str) -> Material | None:
    """The material of that name, in any capitals and with or without AISI; None if unknown."""
    return _BY_NAME.get(" ".join(name.casefold().removeprefix("aisi").split()))


FINISHES = ("bare stainless", "black ceramic", "silver ceramic", "mild steel")  # looks that a spec may choose


def finish_of(material: str, finish: str) -> str:
    """The chosen finish, or the material's own look."""
    known = material_called(material)
    return finish or (FINISHES[3] if known is not None and known.names[0] == "mild steel" else FINISHES[0])
