"""What the bench is told beside its numbers, on paper and on a phone."""

from __future__ import annotations

NOT_CLEAR = "NOT CLEARED: read the report before anything is cut."
DRESSING = "Saw beyond the net line by what is to be left on, and by {} more on each face that is dressed."
CAUTIONS = (
    "Welding gives off fume and light that harm eyes, skin and lungs: ventilate, extract at the arc, and shield.",
    "Argon for purging puts out the air in a small or low room without a smell: keep the room open and aired.",
    "Deburr every cut, and clean with what leaves no chlorine; some cleaners give off poison under an arc.",
    "Fuel and brake lines near a hot header need room and shields by the local rules. Where those, the makers' manuals "
    "or a licensed practitioner ask for more than these sheets, follow them.",
)
