"""The facts of a sign-off in shop words; every length in them can be shown in either unit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from headergen.model import Vec
from headergen.model.sign_off import LeastGap, SignOff
from headergen.words.say import WAYS, capital, say_length, say_way

MOST_GAPS = 12  # rows; the larger gaps are counted
GRAMS_A_POUND = 453.59237


@dataclass(frozen=True)
class Length:
    """A length inside a text, mm."""

    value: float

    def said(self, units: str) -> str:
        return say_length(self.value, units)


@dataclass(frozen=True)
class Weight:
    """A mass inside a text, g."""

    grams: float

    def said(self, units: str) -> str:
        if units == "in":
            return f"{self.grams / GRAMS_A_POUND:.1f} lb"
        return f"{self.grams / 1000:.2f} kg"


Words = tuple[str | Length | Weight, ...]


@dataclass(frozen=True)
class Fact:
    label: str
    words: Words

    def said(self, units: str) -> str:
        return "".join(word if isinstance(word, str) else word.said(units) for word in self.words)


@dataclass(frozen=True)
class Group:
    title: str
    facts: tuple[Fact, ...]


def verdict(facts: SignOff) -> str:
    """One sentence, about nothing but what was checked."""
    if facts.clear and not facts.gaps:
        return "The header is clear of itself; nothing around it was given."
    if facts.clear:
        count = len(facts.gaps)
        told = f"all {count} things around it that were measured; the nearest are listed"
        return f"The header is clear of {told if count > 1 else f'{facts.gaps[0].item}, the one thing around it'}."
    return "NOT CLEARED: the report has errors, and this is not ready to be signed."


def glance(facts: SignOff) -> tuple[Fact, ...]:
    """The first questions of a customer: where it ends, and how near it comes to other things."""
    alone = len(facts.outlets) == 1
    ends = (
        Fact("Ends" if alone else f"Outlet {each.collector} ends", (*_place(each.place), " from the first port"))
        for each in facts.outlets
    )
    nearest = tuple(Fact("Nearest to", (*_near(gap),)) for gap in facts.gaps[:1])
    between = () if facts.between is None else (Fact("Tubes", (Length(facts.between.value), " apart at least")),)
    return (*ends, *nearest, *(between if facts.between is not None and facts.between.value >= 0 else ()))


def _near(gap: LeastGap) -> Words:
    if gap.value < 0:
        return (f"{gap.item}: {gap.part} is ", Length(-gap.value), " deep in it")
    return (f"{gap.item}: ", Length(gap.value), f" from {gap.part}")


def groups(facts: SignOff, most_gaps: int = MOST_GAPS) -> tuple[Group, ...]:
    """All that is signed for, in the order of the sheet; the `most_gaps` smallest gaps, and the count of the rest."""
    found = (
        Group("The header", tuple(_header(facts))),
        Group("Where it ends", tuple(_ends(facts))),
        Group("Lengths of the tubes", tuple(_lengths(facts))),
        Group("How near it comes", tuple(_gaps(facts, most_gaps))),
        Group("What is and is not included", tuple(_included(facts))),
    )
    return tuple(group for group in found if group.facts)


def _header(facts: SignOff) -> Iterator[Fact]:
    yield Fact("Job", (f"{facts.title}, revision {facts.revision}, {facts.date}",))
    if facts.customer:
        yield Fact("For", (facts.customer,))
    if facts.workshop:
        yield Fact("Made by", (facts.workshop,))
    yield Fact("Tube", (facts.tube,))
    yield Fact("Finish", (capital(facts.finish),))
    if facts.size is not None:
        length, width, height = (Length(value) for value in facts.size)
        yield Fact("Overall size", (length, " long, ", width, " wide, ", height, " high"))
    if facts.grams is not None:
        yield Fact("Weight", (Weight(facts.grams), ", computed from the drawing"))


def _ends(facts: SignOff) -> Iterator[Fact]:
    if facts.outlets or facts.sensors:
        yield Fact("Places", ("are counted from the middle of the first port, at the gasket",))
    for outlet in facts.outlets:
        yield Fact(
            f"Outlet {outlet.collector}",
            (Length(outlet.diameter), f" across, pointing {say_way(outlet.way)}; its middle ", *_place(outlet.place)),
        )
    for sensor in facts.sensors:
        yield Fact(capital(sensor.name), (f"on {sensor.host}; ", *_place(sensor.place)))
    if facts.ground is not None:
        yield Fact(
            "Clearance below", (Length(facts.ground.value), f" between {facts.ground.part} and {facts.ground.item}")
        )


def _place(place: Vec) -> Iterator[str | Length]:
    """A place in words for use beside the car, from the centre of the first port."""
    said = False
    for value, (positive, negative) in zip(place, WAYS, strict=True):
        yield ", " if said else ""
        said = True
        yield Length(abs(value))
        yield f" {(positive if value >= 0 else negative)}"


def _lengths(facts: SignOff) -> Iterator[Fact]:
    words: list[str | Length] = []
    for name, length in facts.lengths:
        words += [", " if words else "", f"{name}: ", Length(length)]
    if words:
        yield Fact("Along the middle", tuple(words))


def _gaps(facts: SignOff, most: int) -> Iterator[Fact]:
    if facts.between is not None:
        yield Fact("Between the tubes", _gap(facts.between, f"{facts.between.part} to {facts.between.item}"))
    for gap in facts.gaps[:most]:
        yield Fact(capital(gap.item), _gap(gap, gap.part))
    if len(facts.gaps) > most:
        yield Fact("Everything else", (f"{len(facts.gaps) - most} more items, each farther away",))
    if not facts.gaps:
        yield Fact("Around the header", ("Nothing was given, so nothing was checked.",))


def _gap(gap: LeastGap, between: str) -> Words:
    if gap.value < 0:
        return (Length(-gap.value), f" TOO DEEP: {between} crosses it")
    return (Length(gap.value), f" ({between})")


def _included(facts: SignOff) -> Iterator[Fact]:
    yield Fact("Included", (_sentence(facts.included),))
    others = _sentence(facts.excluded) if facts.excluded else "Everything that is not named above."
    yield Fact("Not included", (others,))


def _sentence(words: Iterable[str]) -> str:
    return f"{capital(', '.join(words))}."
