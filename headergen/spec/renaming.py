"""Names on the other bank: a thing called left on the first bank may be called right here."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

from headergen.model import Collector, Draft, Flange, MockSettings, Port, Run, Side, secondary_name
from headergen.spec.complaint import Trouble
from headergen.spec.fitted import Renamed, changed_nouns, nouns_in
from headergen.spec.mirror_file import MirrorFile
from headergen.spec.models import FITTED

Names = Mapping[str, str]


def renamed(name: str, names: Names) -> str:
    """A name with every word (or sequence of words) replaced that `names` has; longer sequences first."""
    if not names:
        return name
    words = "|".join(re.escape(each) for each in sorted(names, key=len, reverse=True))
    return re.sub(rf"(?<!\w)(?:{words})(?!\w)", lambda found: names[found[0]], name)


def renamed_draft(draft: Draft, names: Names) -> Draft:
    """The draft with all names as on this bank, and its chassis unchanged."""
    runs = {run.name: _run(run, names) for run in draft.runs}
    here = Renamed(lambda name: renamed(name, names), lambda run: runs[run].name)
    fitted = changed_nouns(draft, FITTED, lambda listed, noun: listed.renamed(noun, here))
    collectors = tuple(_collector(each, draft, names) for each in draft.collectors)
    flanges = tuple(_flange(each, names) for each in draft.flanges)
    mock = None if draft.mock is None else _mock(draft.mock, runs)
    return replace(fitted, flanges=flanges, collectors=collectors, runs=tuple(runs.values()), mock=mock)


def _mock(mock: MockSettings, runs: Mapping[str, Run]) -> MockSettings:
    """The settings of the print with the names of its joints' runs on this bank."""
    free, adapted = (
        tuple((runs[run].name, joint) for run, joint in joints) for joints in (mock.without_key, mock.steel_after)
    )
    return replace(mock, without_key=free, steel_after=adapted)


def _flange(flange: Flange, names: Names) -> Flange:
    ports = tuple(_port(port, names) for port in flange.ports)
    return replace(flange, name=renamed(flange.name, names), ports=ports)


def _port(port: Port, names: Names) -> Port:
    return replace(port, flange=renamed(port.flange, names))


def _collector(collector: Collector, draft: Draft, names: Names) -> Collector:
    runs = {run.end.number: _run(run, names).end for run in draft.runs if run.end.collector == collector.name}
    return replace(collector, name=renamed(collector.name, names), bores=tuple(runs[b.number] for b in collector.bores))


def _run(run: Run, names: Names) -> Run:
    """A run with its collectors' names on this bank; a run from a collector is named after it."""
    end, start = run.end, run.start
    if isinstance(start, Port):
        start = _port(start, names)
    else:
        start = replace(start, collector=renamed(start.collector, names), side=_side(start.side, names))
        run = replace(run, name=secondary_name(start.collector))
    bore = replace(end, collector=renamed(end.collector, names), run=run.name, side=_side(end.side, names))
    return replace(run, start=start, end=bore)


def _side(side: Side | None, names: Names) -> Side | None:
    """A run from a collector, or from another run's side, is called after a name; a primary after its number."""
    called = secondary_name("")
    if side is None or not side.run.startswith(called):
        return side
    return replace(side, run=secondary_name(renamed(side.run.removeprefix(called), names)))


def name_troubles(changes: MirrorFile, first: Draft) -> Iterator[Trouble]:
    """Words that are in no name of the first bank, and things that would get the same name on this one."""
    names, bank = changes.bank.names, changes.bank
    kinds = {
        "flanges": [each.name for each in first.flanges],
        "collectors": [each.name for each in first.collectors],
        **{each.key: [noun.name for noun in nouns_in(first, each)] for each in FITTED},
        "chassis items": list(bank.mirrored),
    }
    every = [name for known in kinds.values() for name in known if name]
    for word in names:
        if all(renamed(name, {word: f"{word}'"}) == name for name in every):
            message = f"nothing that this bank takes over from the first has {word} in its name"
            hint = f"the names are {', '.join(dict.fromkeys(every))}"
            yield Trouble(("bank", "names", word), message, hint, on_key=True)
    for kind, known in kinds.items():
        others = [*bank.keep, *(item.name for item in changes.chassis)] if kind == "chassis items" else []
        here = [name.casefold() for name in (*others, *(renamed(name, names) for name in known))]
        twice = [name for name in dict.fromkeys(here) if here.count(name) > 1]
        if twice and names:
            yield Trouble(("bank", "names"), f"two {kind} would be called {twice[0]}", "give each its own name")
