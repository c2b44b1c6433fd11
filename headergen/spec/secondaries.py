"""Headers with two levels: collectors whose bores take other collectors' outlets, and the tubes between them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from headergen.geometry.curves.run import line_of
from headergen.geometry.curves.sides import hosts_first, placed, with_ends_of
from headergen.geometry.frames import point_in
from headergen.geometry.merge.design import FEWEST, merge_of
from headergen.geometry.merge.lobes import MergeError
from headergen.model import Bore, Centreline, Collector, Draft, Outlet, Run, SpecPath, secondary_name
from headergen.spec.complaint import Trouble
from headergen.spec.draft import fits_of, growths_in, joined_steps, plain_steps, starts_of
from headergen.spec.growth import without_idle_growths
from headergen.spec.models import SpecFile
from headergen.spec.run_tubes import first_tube, ways_of
from headergen.spec.sides import side_of
from headergen.words.say import say_length


class NoOutletError(ValueError):
    """A collector whose merge cannot be made, so that its outlet has no place: `collector` is its name."""

    def __init__(self, collector: str, why: MergeError, units: str) -> None:
        said = f"{why.what} {say_length(why.value, units)}; {why.bound} {say_length(why.limit, units)}"
        super().__init__(f"the merge of collector {collector} cannot be made, so that its outlet is nowhere: {said}")
        self.collector = collector


def with_secondaries(draft: Draft, spec: SpecFile) -> Draft:
    """The draft of a spec with its secondaries. Raises NoOutletError."""
    sources = {secondary_name(each.name): each for each in draft.collectors}
    bores = [bore for collector in draft.collectors for bore in collector.bores if bore.run in sources]
    secondaries = (_secondary(draft, spec, sources[bore.run], bore) for bore in bores)
    return with_sides(replace(draft, runs=(*draft.primaries, *secondaries)))


def with_sides(draft: Draft) -> Draft:
    """The draft with every end on the side of another run where that run's path, or the guess at it, has it."""
    runs, lines = list[Run](), dict[str, Centreline]()
    for run in hosts_first(draft.runs):
        runs.append(placed(run, lines))
        if run.steps:  # else its path is still to be found
            lines[run.name] = line_of(runs[-1])
    return with_ends_of(draft, runs)


def _secondary(draft: Draft, spec: SpecFile, source: Collector, bore: Bore) -> Run:
    entry, tube = spec.secondaries[source.name], first_tube(ways_of(spec), source.name)
    assert tube is not None, "the outlet's size is given"
    path = entry.path or ()
    return Run(
        bore.run,
        tube,
        _outlet(draft, spec, source),
        bore,
        without_idle_growths(plain_steps(path), tube),
        tuple(fits_of(path, spec.limits)),
        joined=joined_steps(path),
        to_find=bool(entry.find),
        grows=growths_in(entry),
    )


def _outlet(draft: Draft, spec: SpecFile, source: Collector) -> Outlet:
    """The outlet of a collector; the run that leaves another's side gets its place from that one's path."""
    run = spec.runs.get(source.name)
    if run is not None and run.leaves is not None:
        return Outlet(source.name, source.frame, side_of(run.leaves, starts_of(spec)))
    try:
        end = merge_of(draft.tube, source).end
    except MergeError as error:
        raise NoOutletError(source.name, error, draft.units) from None
    return Outlet(source.name, replace(source.frame, origin=point_in(source.frame, (0.0, 0.0, end))))


def secondary_troubles(data: dict[str, Any]) -> Iterator[Trouble]:
    """Each outlet must go into at most one bore, by its own tube, and none may lead back to its own collector."""
    collectors = {name: entry for name, entry in _mapping(data, "collectors").items() if isinstance(entry, dict)}
    users: dict[str, str] = {}
    items = data.get("chassis")
    found = [each for each in items if isinstance(each, dict)] if isinstance(items, list) else []
    banks = [str(each.get("name")).strip() for each in found if "header" in each]
    for name, entry in collectors.items():
        listed = entry.get("bores")
        bores: list[Any] = listed if isinstance(listed, list) else []
        named = [(k, bore.strip()) for k, bore in enumerate(bores) if isinstance(bore, str) and not bore.isdigit()]
        for k, source in named:
            here = f"bore {k + 1} of collector {name}"
            yield from _user(collectors, ("collectors", name, "bores", k), source, users.get(source), banks)
            users[source] = here
    yield from _circles(collectors)
    yield from _paths(data, collectors, users)


def _user(
    collectors: dict[str, Any], path: SpecPath, source: str, before: str | None, banks: Sequence[str]
) -> Iterator[Trouble]:
    if source not in collectors:
        yield from _unknown(collectors, path, source, banks)
    elif before is not None:
        yield Trouble(path, f"the outlet of {source} goes into two bores: here and into {before}")
    elif missing := _missing(collectors[source]):
        yield Trouble(path, f"collector {source} has no outlet to come from", f"give it {' and '.join(missing)}")
    elif "end" in collectors[source]:
        yield Trouble(("collectors", source, "end"), f"the outlet of {source} goes on, so it has no end of its own")
    elif isinstance(bores := collectors[source].get("bores"), list) and len(bores) < FEWEST:
        yield Trouble(path, f"collector {source} has one bore only, so it has no merge and no outlet to come from")


def _unknown(collectors: dict[str, Any], path: SpecPath, source: str, banks: Sequence[str]) -> Iterator[Trouble]:
    if source in banks:
        message = f"{source} is a header in a file of its own, so its outlet cannot go into a collector here"
        hint = "write both headers in one spec: flanges: has a plate for each head"
        yield Trouble(path, message, hint)
    else:
        yield Trouble(path, f"no collector is called {source}", f"there is {', '.join(collectors)}")


def _missing(entry: dict[str, Any]) -> list[str]:
    """The keys that a collector lacks for a merge."""
    return [
        key for key in ("half_angle", "outlet") if key not in entry and not (key == "half_angle" and "lean" in entry)
    ]


def _circles(collectors: dict[str, Any]) -> Iterator[Trouble]:
    """From each collector back along its first sources, until one is repeated."""
    told: set[str] = set()
    for name in collectors:
        way: list[str] = []
        waiting = [(name, way)]
        while waiting:
            at, before = waiting.pop()
            if at in before:
                if at == name and not told & set(before):
                    told |= set(before)
                    shown = " from ".join([*before, at])
                    message = f"collector {name} takes its own gas: {shown}"
                    yield Trouble(("collectors", name, "bores"), message)
                continue
            bores = collectors.get(at, {}).get("bores")
            sources = [bore.strip() for bore in bores if isinstance(bore, str)] if isinstance(bores, list) else []
            waiting += [(source, [*before, at]) for source in sources]


def _paths(data: dict[str, Any], collectors: dict[str, Any], users: dict[str, str]) -> Iterator[Trouble]:
    paths = _mapping(data, "secondaries")
    for source, bore in users.items():
        if source in collectors and source not in [str(name).strip() for name in paths]:
            message = f"the outlet of {source} goes into {bore}, but secondaries has no path for it"
            yield Trouble(
                ("collectors", source),
                message,
                f"secondaries: {{{source}: [{{straight: 100}}]}}, or {source}: find",
                on_key=True,
            )
    for name in paths:
        if str(name).strip() not in users:
            message = f"the outlet of {name} goes into no bore: no collector lists it under bores"
            yield Trouble(("secondaries", name), message, on_key=True)


def _mapping(data: dict[str, Any], key: str) -> dict[str, Any]:
    found = data.get(key)
    return found if isinstance(found, dict) else {}
