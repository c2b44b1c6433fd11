"""The cautions for the bench besides its numbers, on paper and on a phone."""

from __future__ import annotations

from headergen.model import ShopSettings
from headergen.words.say import say_length

NOT_CLEAR = "NOT CLEARED: read the report before anything is cut."
NOT_CLEAR_SHORT = "NOT CLEARED: read the report first."
LEFT_ON = (
    "What is left on is where the saw leaves the piece, beyond the net line: {dressing} to dress each face, "
    "{shrinkage} that each weld shrinks, {trim} to trim at the collector. The kerf of {kerf} is beyond that. Where "
    "the stock has less beyond the line, grind to the line."
)
CAUTIONS = (
    "Welding gives off fume and light that harm eyes, skin and lungs: ventilate, extract at the arc, and shield.",
    "Argon for purging puts out the air in a small or low room without a smell: keep the room open and aired.",
    "Deburr every cut, and clean with what leaves no chlorine; some cleaners give off poison under an arc.",
    "Fuel and brake lines near a hot header need room and shields by the local rules. Where those, the makers' manuals "
    "or a licensed practitioner ask for more than these sheets, follow them.",
)


def left_on(shop: ShopSettings, units: str) -> str:
    """What `leave on` includes, with this shop's figures."""
    names = ("dressing", "shrinkage", "trim", "kerf")
    return LEFT_ON.format(**{name: say_length(getattr(shop, name), units) for name in names})
