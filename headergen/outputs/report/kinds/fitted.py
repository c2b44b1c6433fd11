"""Parts on runs without a record of their own in the report: their places and sizes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pydantic import Field

from headergen.model import Header
from headergen.outputs.report.records.base import Mm, Record
from headergen.outputs.report.sections import Section, Table
from headergen.parts.table import KINDS
from headergen.words.numbers import both
from headergen.words.say import capital


class PlaceOnRunRecord(Record):
    """A place on a run."""

    run: str = Field(description="its name")
    at_mm: Mm = Field(description="from where the run begins, or back from where it ends")
    from_end: bool = Field(description="back from where the run ends")


class SizeRecord(Record):
    """A length of a part."""

    what: str = Field(description="which length it is")
    size_mm: Mm = Field(description="how long it is")


class FittedRecord(Record):
    """A part that stands on runs."""

    name: str = Field(description="as files and findings call it")
    role: str = Field(description="its kind")
    on: tuple[PlaceOnRunRecord, ...] = Field(description="the places that it stands on")
    sizes: tuple[SizeRecord, ...] = Field(description="its lengths")


def fitted_records(header: Header) -> tuple[FittedRecord, ...]:
    return tuple(
        FittedRecord(
            name=noun.part,
            role=kind.role,
            on=tuple(PlaceOnRunRecord(run=f.run, at_mm=f.at, from_end=f.from_end) for f in noun.feet),
            sizes=tuple(SizeRecord(what=what, size_mm=size) for what, size in kind.sizes(noun, header).items()),
        )
        for kind in KINDS
        for noun in header.draft.fitted
        if kind.noun is not None and isinstance(noun, kind.noun)
    )


def fitted_section(fitted: Sequence[FittedRecord], units: str) -> Iterator[Section]:
    rows = []
    for each in fitted:
        on = (
            f"{place.run}, {both(units, place.at_mm)} {'before its end' if place.from_end else 'from its start'}"
            for place in each.on
        )
        sizes = "; ".join(f"{size.what} {both(units, size.size_mm)}" for size in each.sizes)
        rows.append((capital(each.name), "; ".join(on), sizes))
    if rows:
        yield Section("Parts between tubes", (Table(("Part", "On", "Sizes"), rows),))
