"""Runs: tubes that go on from a collector's outlet, or from a port, to a place of their own.

The place is a collector with one bore and no merge, so that a run is a secondary or a primary like any other: closed,
checked, sawn and made by the same code. Here a run is brought into that form, and troubles found in it are led back to
where the file says it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from headergen.geometry.frames import add, unit
from headergen.model import SpecPath, Tube
from headergen.parts.outlet_plate import plate_reach
from headergen.spec.complaint import Trouble
from headergen.spec.draft import starts_of
from headergen.spec.ends import CollectorEntry
from headergen.spec.entry import PlaneEntry
from headergen.spec.models import PrimaryEntry, RunEntry, SecondaryEntry, SpecFile, TubeEntry
from headergen.spec.outlet_end import OutletEndEntry, hindrance, plate_of
from headergen.spec.places import PlaceEntry
from headergen.spec.plain import mapping_in
from headergen.spec.run_tubes import tubes_in, ways_of
from headergen.spec.units import Unit, length_text

OF_SECONDARIES = ("path", "find", "steps")  # keys that a run has like a secondary, and one from a port like a primary
OF_PRIMARIES = (*OF_SECONDARIES, "target", "tube")
LOOSEST = 3.0  # mm on each side between a tube and the mouth or pipe that it is to fit


class RunError(ValueError):
    """A run whose tube does not fit the place where it ends; `trouble` says where in the file, and why."""

    def __init__(self, trouble: Trouble) -> None:
        super().__init__(trouble.message)
        self.trouble = trouble


def run_troubles(data: dict[str, Any]) -> Iterator[Trouble]:
    """Names that are taken, and starts that are no outlet or have their tube elsewhere."""
    collectors = [name.strip() for name in mapping_in(data, "collectors")]
    runs, seen = mapping_in(data, "runs"), dict[str, str]()
    for name, raw in runs.items():
        if name.strip() in collectors:
            yield Trouble(("runs", name), f"a collector is called {name.strip()} as well", on_key=True)
        start = _start(raw)
        if start is None:
            continue
        path: SpecPath = ("runs", name, "from")
        kind = "primary" if start.isdecimal() else "outlet of collector"
        if start not in collectors and start in (each.strip() for each in runs):
            hint = f"write both as one path; a tube from its side is written leaves: {{run: {start}, at: …, along: …}}"
            yield Trouble(path, f"{start} is a run, and a run does not start where another ends", hint)
        elif start in seen:
            what = f"port {start}" if start.isdecimal() else f"the outlet of {start}"
            yield Trouble(path, f"run {seen[start]} starts from {what} already", "an outlet goes on in one tube")
        elif start in _others(data, "primaries" if start.isdecimal() else "secondaries"):
            key = "primaries" if start.isdecimal() else "secondaries"
            yield Trouble(path, f"the {kind} {start} has its path under {key} already", "keep one of them")
        seen.setdefault(start, name.strip())


def _start(raw: Any) -> str | None:
    start = raw.get("from") if isinstance(raw, dict) else None
    return None if not isinstance(start, int | str) or isinstance(start, bool) else str(start).strip()


def _others(data: dict[str, Any], key: str) -> list[str]:
    return [str(each).strip() for each in mapping_in(data, key)]


def without_runs(data: dict[str, Any]) -> dict[str, Any]:
    """The plain values with each sound run as what it is: a collector with one bore, and a secondary or a primary."""
    faulty = {trouble.path[1] for trouble in run_troubles(data)}
    made: dict[str, dict[str, Any]] = {"collectors": {}, "primaries": {}, "secondaries": {}}
    for name, raw in mapping_in(data, "runs").items():
        start = _start(raw)
        if start is None or name in faulty:
            continue
        made["collectors"][name] = {"bores": [int(start) if start.isdecimal() else start]}
        if start.isdecimal():
            made["primaries"][start] = {key: raw[key] for key in OF_PRIMARIES if key in raw}
        else:
            made["secondaries"][start] = {key: raw[key] for key in OF_SECONDARIES if key in raw}
    return {**data, **{key: {**mapping_in(data, key), **more} for key, more in made.items() if more}}


def led_back(data: dict[str, Any], troubles: Iterator[Trouble]) -> Iterator[Trouble]:
    """Troubles of the collectors, primaries and secondaries made of runs, at the runs, and in their words."""
    runs = mapping_in(data, "runs")
    starts = {_start(raw): name for name, raw in runs.items()}
    for trouble in troubles:
        head, rest = trouble.path[:2], trouble.path[2:]
        if head[:1] == ("collectors",) and len(head) > 1 and head[1] in runs:
            known = f"there is {', '.join(mapping_in(data, 'collectors'))}"
            hint = known if trouble.hint.startswith("there is") else trouble.hint
            trouble = replace(trouble, path=("runs", head[1], "from"), hint=hint)
        elif head[:1] in (("primaries",), ("secondaries",)) and len(head) > 1 and head[1] in starts:
            own = mapping_in(data, str(head[0]))
            if head[1] not in own:
                trouble = replace(trouble, path=("runs", starts[str(head[1])], *(rest or ("from",))), on_key=False)
        said = trouble.message
        for name in runs:
            said = said.replace(f"bore 1 of collector {name.strip()}", f"run {name.strip()}")
        yield replace(trouble, message=said)


def with_runs(spec: SpecFile) -> SpecFile:
    """The spec with its runs as collectors of one bore, and as secondaries and primaries. Raises RunError."""
    if not spec.runs:
        return spec
    starts = {start: spec.runs[name] for name, start in starts_of(spec).items()}
    secondaries = {start: _secondary(run) for start, run in starts.items() if isinstance(start, str)}
    primaries = {start: _primary(run) for start, run in starts.items() if isinstance(start, int)}
    collectors = {
        name: CollectorEntry.model_construct(**_collector(start, spec.runs[name], spec.tube))
        for name, start in starts_of(spec).items()
    }
    whole = spec.model_copy(
        update={
            "collectors": {**spec.collectors, **collectors},
            "secondaries": {**spec.secondaries, **secondaries},
            "primaries": {**spec.primaries, **primaries},
        }
    )
    gaps = {name: _gap(name, run.to, _last_tube(whole, name), spec.units) for name, run in spec.runs.items() if run.to}
    fitted = {name: made.model_copy(update={"gap": gaps.get(name)}) for name, made in collectors.items()}
    return whole.model_copy(update={"collectors": {**spec.collectors, **fitted}})


def _last_tube(spec: SpecFile, name: str) -> Tube:
    """The tube that arrives at the place of a run."""
    return tubes_in(ways_of(spec), name)[0]


def _primary(run: RunEntry) -> PrimaryEntry:
    return PrimaryEntry.model_construct(**{key: getattr(run, key) for key in OF_PRIMARIES})


def _secondary(run: RunEntry) -> SecondaryEntry:
    return SecondaryEntry.model_construct(**{key: getattr(run, key) for key in OF_SECONDARIES})


def _collector(start: int | str, run: RunEntry, tube: TubeEntry) -> dict[str, Any]:
    """The keys of a collector with one bore; a plate's tube ends as far before the face as plate and transition are.

    On another run's side it has no place yet. One whose run leaves another's side has that run's tube as its outlet.
    """
    own = run.tube or tube
    begins = {} if run.leaves is None else {"outlet": own.outside_diameter, "wall": own.wall}
    if run.joins is not None:
        plane = PlaneEntry.model_construct(origin=(0.0, 0.0, 0.0), normal=run.joins.along, x=None)
        return {"plane": plane, "join": "weld", "pattern": "line", "bores": [start], **begins}
    assert run.to is not None
    place, along = run.to, unit(run.to.along)
    origin, end = place.at, None
    if place.plate is not None:
        origin = add(origin, along, -plate_reach(plate_of(place.plate)))
        end = OutletEndEntry.model_construct(plate=place.plate)
    mouth = place.into or place.over
    return {
        "plane": PlaneEntry.model_construct(origin=origin, normal=place.along, x=place.x),
        "join": "weld" if mouth is None else "slip",
        "slip": None if mouth is None else mouth.depth,
        "pattern": "line",
        "bores": [start],
        "end": end,
        **begins,
    }


def _gap(name: str, place: PlaceEntry, tube: Tube, unit: Unit) -> float | None:
    """The clearance on each side between a tube and the mouth or pipe at its end.

    Raises RunError if it does not fit.
    """
    if place.plate is not None:
        found = hindrance(place.plate, tube.outside_diameter, unit)
        if found is not None:
            at, message, hint = found
            raise RunError(Trouble(("runs", name, "to", "plate", *at), message, hint))
    if place.into is not None:
        gap = (place.into.diameter - tube.outside_diameter) / 2
        said, wide = f"a mouth of {length_text(place.into.diameter, unit)}", tube.outside_diameter
        return _fitting(("runs", name, "to", "into", "diameter"), gap, (said, "does not take"), wide, unit)
    if place.over is not None:
        inner = tube.outside_diameter - 2 * tube.wall
        said = f"a pipe of {length_text(place.over.diameter, unit)}"
        gap = (inner - place.over.diameter) / 2
        return _fitting(("runs", name, "to", "over", "diameter"), gap, (said, "does not go into"), inner, unit)
    return None


def _fitting(path: SpecPath, gap: float, said: tuple[str, str], wide: float, unit: Unit) -> float:
    """`wide`: the tube's diameter outside or inside, mm."""
    side = "outside" if path[3] == "into" else "inside"
    tube = f"its tube, {length_text(round(wide, 3), unit)} {side}"
    if gap < 0:
        hint = f"it is {length_text(round(-2 * gap, 3), unit)} too {'narrow' if side == 'outside' else 'wide'}"
        raise RunError(
            Trouble(path, f"{' '.join(said)} {tube}", f"{hint}; let the outlet, or the tube, have another size")
        )
    if gap > LOOSEST:
        loose, most = length_text(round(gap, 3), unit), length_text(LOOSEST, unit)
        what = f"{said[0]} leaves {loose} on each side of {tube}; at most {most} can be closed"
        raise RunError(Trouble(path, what, "give the tube another size, or the end an adapter"))
    return gap
