"""The lists in a spec of parts on runs and of things that tools must reach: one row for each list, for all of spec/.

`spec/models.py` has the rows. A new list needs only its entry and its row in this room.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from headergen.model import Draft, Run, Vec
from headergen.spec.alike import Values
from headergen.spec.complaint import Trouble


@dataclass(frozen=True)
class Mirrored:
    """The image of a place and of a direction on the other bank."""

    place: Callable[[Vec], Vec]
    direction: Callable[[Vec], Vec]


@dataclass(frozen=True)
class Renamed:
    """The new name, on the other bank, of a thing and of a run."""

    name: Callable[[str], str]
    run: Callable[[str], str]


@dataclass(frozen=True)
class FittedList:
    """A list of a spec: its `key` in the file, and the `field` of the Draft with its nouns, of the class `noun`.

    `noun_of`: makes a noun of an entry; `values_of`: the values of an entry from a noun and the runs by name;
    `mirrored`, `renamed`: a noun as it is on the other bank; `troubles`: inconsistencies with the other plain values.
    """

    key: str
    noun: type
    noun_of: Callable[[Any], Any]
    values_of: Callable[[Any, Mapping[str, Run]], Values]
    mirrored: Callable[[Any, Mirrored], Any]
    renamed: Callable[[Any, Renamed], Any]
    troubles: Callable[[dict[str, Any]], Iterator[Trouble]] = lambda _: iter(())
    field: str = "fitted"


def fitted_nouns(spec: Any, lists: Iterable[FittedList]) -> dict[str, tuple[Any, ...]]:
    """Fields of a Draft → the nouns of a spec's lists."""
    found: dict[str, tuple[Any, ...]] = {}
    for each in lists:
        found[each.field] = (*found.get(each.field, ()), *map(each.noun_of, getattr(spec, each.key)))
    return found


def nouns_in(draft: Draft, listed: FittedList) -> tuple[Any, ...]:
    """The nouns of one list."""
    return tuple(noun for noun in getattr(draft, listed.field) if isinstance(noun, listed.noun))


def changed_nouns(draft: Draft, lists: Iterable[FittedList], change: Callable[[FittedList, Any], Any]) -> Draft:
    """The draft with every noun of the lists changed."""
    found: dict[str, tuple[Any, ...]] = {}
    for each in lists:
        found[each.field] = (*found.get(each.field, ()), *(change(each, noun) for noun in nouns_in(draft, each)))
    return replace(draft, **found)  # type: ignore[arg-type]


def named_twice(data: dict[str, Any], key: str, one: str) -> Iterator[Trouble]:
    """Entries of a list with the same name, by the plain values."""
    names = set[str]()
    for index, entry in entries_of(data, key):
        name = entry.get("name")
        if isinstance(name, str | int):
            said = str(name).strip().casefold()
            if said in names:
                yield Trouble((key, index, "name"), f"another {one} is called {name} as well")
            names.add(said)


def entries_of(data: dict[str, Any], key: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """The entries of a list in the plain values, as far as they are mappings, each with its number."""
    listed = data.get(key)
    for index, entry in enumerate(listed if isinstance(listed, list) else []):
        if isinstance(entry, dict):
            yield index, entry


HOSTS = {"collector": "collectors", "secondary": "secondaries"}  # what may carry a part, by name


def host_troubles(data: dict[str, Any], entry: dict[str, Any], at: tuple[str | int, ...]) -> Iterator[Trouble]:
    """The primary, collector or secondary that carries an entry must exist; `at`: the place of the entry."""
    primary, primaries = entry.get("primary"), [*_keys(data, "primaries"), *_starts(data)]
    numbers = [key for key in primaries if key.isascii() and key.isdigit() and key[0] != "0"]
    if isinstance(primary, int) and str(primary) not in numbers and numbers:
        yield Trouble((*at, "primary"), f"there is no primary {primary}")
    for key, said in (("collector", "no collector is called"), ("secondary", "no secondary comes from")):
        host, there = entry.get(key), [each.strip() for each in _keys(data, HOSTS[key])]
        there += [start for start in _starts(data) if key == "secondary" and not start.isdecimal()]
        if isinstance(host, str | int) and str(host).strip() not in there and (there or key == "secondary"):
            known = f"there is {', '.join(there)}" if there else "a header of one step has none"
            yield Trouble((*at, key), f"{said} {host}", known)


def _starts(data: dict[str, Any]) -> list[str]:
    """What the runs of a header start from: collectors by name, ports by number, and a branch from its own name."""
    runs = data.get("runs")
    entries = runs.items() if isinstance(runs, dict) else ()
    found = ((name, each) for name, each in entries if isinstance(each, dict))
    return [str(each.get("from", name)).strip() for name, each in found if "from" in each or "leaves" in each]


def _keys(data: dict[str, Any], key: str) -> list[str]:
    mapping = data.get(key)
    return [str(each) for each in mapping] if isinstance(mapping, dict) else []


def run_values(run: Run) -> Values:
    """The keys by which an entry names its run."""
    return {"primary": run.number} if run.is_primary else {"secondary": run.source}
