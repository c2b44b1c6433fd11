"""The look of finishes on a page: tones of a ball from the lit side to the dark side."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.materials import FINISHES


@dataclass(frozen=True)
class Surface:
    """`shine`: brightness of the reflected light, 0 to 1."""

    name: str
    tones: tuple[str, ...]
    shine: float


SURFACES = tuple(
    Surface(name, tones, shine)
    for name, tones, shine in zip(
        FINISHES,
        (
            ("#f3f5f6", "#c3c9cd", "#7f878c", "#a7aeb2", "#565c60"),
            ("#6d7276", "#3c4043", "#1d1f21", "#2b2e30", "#101112"),
            ("#ecedec", "#d4d6d5", "#b4b7b5", "#a2a5a3", "#7c807e"),
            ("#a8a6a1", "#85827c", "#5d5a55", "#6e6a64", "#3b3834"),
        ),
        (0.85, 0.35, 0.25, 0.3),
        strict=True,
    )
)
