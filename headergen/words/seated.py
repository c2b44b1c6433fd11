"""How printed tubes that stand on the side of others go on, for the mock's sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headergen.model import SeatFacts
from headergen.words.say import say_list


def said_of_seats(seats: Sequence[SeatFacts], order: Sequence[str]) -> Iterator[str]:
    """A sentence for each end, after one for all; `order`: the names of all parts as they go on."""
    if seats:
        yield "Tubes on the side of others: tape holds each in its groove."
    place = {name: k for k, name in enumerate(order)}
    for each in seats:
        on = f"{say_list(list(each.on))} ({each.host})"
        if not each.nipple:
            yield f"{each.part}: push its two pins into the holes of {on}."
            continue
        first = f"{each.part}: push the nipple {each.nipple} into the part before it, then {each.part} onto the nipple"
        if all(place.get(name, -1) > place.get(each.part, -1) for name in each.on):
            yield f"{first}. {on} then goes in through the fishmouth, until that is in its groove."
        else:
            yield f"{first}, and its fishmouth over {on}."
