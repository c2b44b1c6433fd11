"""The file of a study, read as strictly as a spec: which spec, which of its values vary, and what counts as better."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from headergen.model import SpecPath
from headergen.model.study import MOST_CASES, SpecChange, Study, StudyCase
from headergen.spec.complaint import Complaint, SpecError, Trouble
from headergen.spec.entry import Entry, exactly_one
from headergen.spec.fields import Name, complain
from headergen.spec.files import read_file, unfit_name
from headergen.spec.reader import entries_of, in_order
from headergen.spec.scalars import ScalarError
from headergen.spec.text import LARGEST, Text, complaint_at, read_text

Values = Annotated[dict[str, Any], Field(min_length=1)]  # by key
Better = Literal["less", "more"]
Compared = Literal["length", "degrees", "bends", "joints", "gap"]
DEFAULT_BETTER: dict[Compared, Better] = {"degrees": "less", "joints": "less", "gap": "more"}
_FITS = re.compile(r"[A-Za-z0-9_.+-]+")  # in the name of a case, which is that of its files


class VaryEntry(Entry):
    """One thing that varies: a key with its values, or choices that change several keys together."""

    key: Name | None = Field(
        default=None, description="Key of the spec, written with points: collectors.main.plane.origin."
    )
    values: list[Any] | None = Field(default=None, description="Values to try for the key.", min_length=1)
    choices: dict[Name, Values] | None = Field(
        default=None,
        description="Choices by a name of your own, each with keys of the spec and their values.",
        min_length=1,
    )

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if exactly_one(self, ("values", "choices"), "what varies") == "values" and self.key is None:
            raise complain("values need the key that they are for", "write key: with the place in the spec")
        if self.choices is not None and self.key is not None:
            raise complain("choices name their keys themselves", "take key out", at=("key",))
        return self


class StudyFile(Entry):
    """A study of one spec."""

    format: Literal[1] = Field(description="Format of this file; write 1.")
    spec: Name = Field(description="File with the spec, relative to this file's folder; its primaries are marked find.")
    seed: int = Field(
        default=0, ge=0, description="Number that starts the search; change it for a different search. Default: 0."
    )
    seconds: Annotated[float, Field(ge=1, le=3600, strict=False)] = Field(
        default=20.0, description="Time for each case, in seconds. Default: 20."
    )
    rounds: int | None = Field(
        default=None,
        ge=1,
        description="Number of rounds for each case, whatever the time; with it a study can be repeated.",
    )
    places: int | None = Field(
        default=None, ge=1, description="Number of places to try for a collector that may move, in each case."
    )
    vary: dict[Name, VaryEntry] | None = Field(
        default=None,
        description="Values that vary, by a name of your own; each is combined with every other.",
        min_length=1,
    )
    cases: dict[Name, Values] | None = Field(
        default=None, description="Cases by name, each with keys of the spec and their values.", min_length=1
    )
    better: dict[Compared, Better] = Field(
        default=DEFAULT_BETTER,
        description=(
            "Figures that are compared, each with less or more as the better. Default: degrees: less, "
            "joints: less, gap: more."
        ),
        min_length=1,
    )

    @model_validator(mode="after")
    def _one_list(self) -> Self:
        exactly_one(self, ("vary", "cases"), "a study")
        return self


def read_study(path: Path) -> tuple[Study, Text]:
    """A study, and its text for complaints about single values. Raises SpecError with every complaint."""
    try:
        content = read_file(path, LARGEST)
    except ScalarError as refused:
        raise SpecError([Complaint(str(path), None, None, "", refused.message, hint=refused.hint)]) from None
    text = read_text(content, str(path))
    if isinstance(text.data, dict) and "spec" not in text.data and {"tube", "mirror_of"} & text.data.keys():
        message, hint = "this is a spec, not a study", "a study is a small file that names it: spec: NAME.yaml"
        raise SpecError([complaint_at(text, Trouble((), message, hint))])
    entry, troubles = entries_of(StudyFile, text)
    if entry is None or troubles or text.complaints:
        raise SpecError(in_order([*text.complaints, *(complaint_at(text, each) for each in troubles)]))
    cases = tuple(_listed(entry.cases) if entry.cases else _grid(entry.vary or {}))
    if troubles := list(_unfit(entry, cases)):
        raise SpecError([complaint_at(text, each) for each in troubles])
    return (
        Study(
            entry.spec,
            cases,
            entry.seed,
            entry.seconds,
            entry.rounds,
            entry.places,
            tuple((name, way == "less") for name, way in entry.better.items()),
        ),
        text,
    )


def _listed(cases: dict[str, dict[str, Any]]) -> Iterator[StudyCase]:
    for name, values in cases.items():
        yield StudyCase(name, (("case", name),), tuple(_changes(values, ("cases", name))))


def _changes(values: dict[str, Any], at: SpecPath) -> Iterator[SpecChange]:
    for key, value in values.items():
        yield SpecChange(key, value, (*at, key))


def _grid(vary: dict[str, VaryEntry]) -> Iterator[StudyCase]:
    """Every value with every other, the last one varying fastest; not more than one case beyond the most."""
    ways = [[(name, *choice) for choice in _choices(name, entry)] for name, entry in vary.items()]
    for combined in itertools.islice(itertools.product(*ways), MOST_CASES + 1):
        name = "_".join(f"{axis}_{label}" for axis, label, _ in combined)
        changes = tuple(change for _, _, changes in combined for change in changes)
        yield StudyCase(name, tuple((axis, label) for axis, label, _ in combined), changes)


def _choices(name: str, entry: VaryEntry) -> Iterator[tuple[str, tuple[SpecChange, ...]]]:
    """Each choice: its label, and what it changes. A list or mapping has its number in the file as label."""
    if entry.choices is not None:
        for label, values in entry.choices.items():
            yield label, tuple(_changes(values, ("vary", name, "choices", label)))
        return
    assert entry.key is not None and entry.values is not None, "the entry was checked"
    for k, value in enumerate(entry.values):
        label = str(k + 1) if isinstance(value, (list, dict)) else "_".join(str(value).split())
        yield label, (SpecChange(entry.key, value, ("vary", name, "values", k)),)


def _unfit(entry: StudyFile, cases: tuple[StudyCase, ...]) -> Iterator[Trouble]:
    """Cases that are too many, that cannot have their names, or that have the name of another."""
    above = ("cases",) if entry.cases else ("vary",)
    if len(cases) > MOST_CASES:
        yield Trouble(above, f"there are more than {MOST_CASES} cases", "vary fewer values at once")
        return
    seen: dict[str, str] = {}
    for case in cases:
        at = case.changes[0].asked_at
        if not _FITS.fullmatch(case.name) or unfit_name(case.name):
            yield Trouble(at, f"{case.name} cannot be the name of a file", "use letters, digits, _ and - in names")
        elif case.name.casefold() in seen:
            yield Trouble(at, f"two cases are called {case.name}", "give each value once")
        elif case.name.endswith("_routed"):
            yield Trouble(at, f"{case.name} is the name of a routed file", "choose a name with another end")
        seen[case.name.casefold()] = case.name
