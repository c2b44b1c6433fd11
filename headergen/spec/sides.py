"""Ends of runs on the side of another run: crossovers, balance pipes and branches, as given in a spec."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Self

from pydantic import Field, ValidationInfo, model_validator

from headergen.geometry.frames import unit
from headergen.model import Side, SpecPath, primary_name, secondary_name
from headergen.spec.complaint import Trouble
from headergen.spec.entry import Entry, needs_direction
from headergen.spec.fields import Arrival, Diameter, Direction, JointAngle, Step, Wall, complain, unit_of
from headergen.spec.plain import listed, mapping_in, numbers_in
from headergen.spec.units import length_text

ENDS = {"leaves": "from", "joins": "to"}  # the key of the other kind of place, for each


class SideEntry(Entry):
    """A place on the side of another run, where this one's tube is cut to a fishmouth and welded on."""

    run: Arrival = Field(
        description=("Run that it joins or leaves: its name under runs or secondaries, or the number of a primary.")
    )
    at: Step = Field(description="Length along that run, from its start, to where the axes of both meet.")
    along: Direction = Field(description="Direction of the gas in this tube at the joint; any length.")
    angle: JointAngle | None = Field(
        default=None,
        description="Degrees between the gas in both tubes, to which along is turned. Default: as along lies.",
    )

    @model_validator(mode="after")
    def _points(self) -> Self:
        needs_direction(self.along, "along")
        return self


class OwnTubeEntry(Entry):
    """The tube with which a run begins, where it is not that of the header; its material is."""

    outside_diameter: Diameter = Field(description="Outside diameter of the tube.")
    wall: Wall = Field(description="Wall thickness of the tube.")

    @model_validator(mode="after")
    def _hollow(self, info: ValidationInfo) -> Self:
        if 2 * self.wall >= self.outside_diameter:
            units = unit_of(info) or "mm"
            wall, diameter = length_text(self.wall, units), length_text(self.outside_diameter, units)
            message = f"two walls of {wall} leave no bore in a tube of {diameter}"
            raise complain(message, "is the wall in the same unit as the diameter?", at=("wall",))
        return self


def side_of(entry: SideEntry, starts: dict[str, int | str]) -> Side:
    """The noun of an entry; `starts`: what each run under `runs` comes from, by its name."""
    host = starts.get(str(entry.run), entry.run)
    turned = None if entry.angle is None else math.radians(entry.angle)
    name = primary_name(host) if isinstance(host, int) else secondary_name(host)
    return Side(name, entry.at, unit(entry.along), turned)


def side_troubles(data: dict[str, Any]) -> Iterator[Trouble]:
    """Sides of runs that are not there, of the run itself, of a path still to be found, or in a circle."""
    runs = {name: raw for name, raw in mapping_in(data, "runs").items() if isinstance(raw, dict)}
    on = {name: dict(_hosts(raw)) for name, raw in runs.items()}
    for name, hosts in on.items():
        for key, host in hosts.items():
            path: SpecPath = ("runs", name, key, "run")
            yield from _of_host(data, runs, (name.strip(), host), path)
    yield from _circles(runs, on)


def _hosts(raw: dict[str, Any]) -> Iterator[tuple[str, str]]:
    for key in ENDS:
        side = raw.get(key)
        host = side.get("run") if isinstance(side, dict) else None
        if isinstance(host, int | str) and not isinstance(host, bool):
            yield key, str(host).strip()


def _of_host(data: dict[str, Any], runs: dict[str, Any], which: tuple[str, str], path: SpecPath) -> Iterator[Trouble]:
    name, host = which
    if host in (name, _own_start(runs.get(name))):
        yield Trouble(path, f"run {name} would stand on its own side", "name the run that it is welded onto")
        return
    primaries = mapping_in(data, "primaries")
    names = [*(each.strip() for each in runs), *(str(each).strip() for each in mapping_in(data, "secondaries"))]
    starts = [start for raw in runs.values() if (start := _own_start(raw))]
    if host not in (*names, *starts, *(str(number) for number in primaries)):
        said = [
            *(each for each in names if each != name),
            listed(("primary", "primaries"), numbers_in(primaries)) if primaries else "",
        ]
        known = ", ".join(each for each in said if each)
        yield Trouble(path, f"no run is called {host}", f"there is {known}" if known else "")
    elif not _is_to_find(runs.get(name)) and _is_still_to_find(data, host):
        message = f"the path of {host} is still to be found, so no run with a path can stand on its side"
        yield Trouble(path, message, "write find: true for this run too, or let headergen route find the other first")


def _is_still_to_find(data: dict[str, Any], host: str) -> bool:
    runs = {name: raw for name, raw in mapping_in(data, "runs").items() if isinstance(raw, dict)}
    own = (mapping_in(data, key).get(host) for key in ("primaries", "secondaries"))
    return any(_is_to_find(raw) for raw in (*own, *_named(runs, host)))


def _named(runs: dict[str, Any], host: str) -> Iterator[Any]:
    yield from (raw for name, raw in runs.items() if host in (name.strip(), _own_start(raw)))


def _own_start(raw: Any) -> str:
    start = raw.get("from") if isinstance(raw, dict) else None
    return str(start).strip() if isinstance(start, int | str) and not isinstance(start, bool) else ""


def _is_to_find(raw: Any) -> bool:
    return raw == "find" or (isinstance(raw, dict) and "find" in raw)


def _circles(runs: dict[str, Any], on: dict[str, dict[str, str]]) -> Iterator[Trouble]:
    """Runs that stand on each other, so that none of them has a place."""
    key_of = {name.strip(): name for name in runs} | {start: name for name in runs if (start := _own_start(runs[name]))}
    for name, hosts in on.items():
        way, waiting = [name], [key_of.get(host) for host in hosts.values()]
        while waiting:
            at = waiting.pop()
            if at is None or at in way[1:]:
                continue
            if at == name:
                if len(way) > 1:
                    said = " and ".join(each.strip() for each in sorted(way, key=list(runs).index))
                    message = f"{said} stand on each other's sides, so neither has a place"
                    yield Trouble(("runs", name), message, "let one of them start and end elsewhere", on_key=True)
                    return
                continue
            way.append(at)
            waiting += [key_of.get(host) for host in on[at].values()]
