"""Parts fitted to a header and things to be reached, as given in a spec: bosses and plugs."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Literal, Self

from pydantic import Field, model_validator

from headergen.geometry.frames import unit
from headergen.model import Boss, Plug, Run, primary_name, secondary_name
from headergen.spec.alike import Values, noun_of, values_of
from headergen.spec.complaint import Trouble
from headergen.spec.entry import Entry, exactly_one, needs_direction, one_of
from headergen.spec.fields import Counted, Diameter, Direction, Hole, Margin, Name, Point, Step, Turn, complain
from headergen.spec.fitted import (
    FittedList,
    Renamed,
    entries_of,
    host_troubles,
    named_twice,
    run_values,
)

SENSOR_THREAD = "M18x1.5"  # of oxygen sensors, from memory
METRIC = re.compile(r"M(\d+(?:\.\d+)?)x(\d+(?:\.\d+)?)")
LONGEST_THREAD = 20  # letters
SENSOR_BOSS, SENSOR_HEIGHT = 28.0, 14.0  # mm; common practice, no source


class BossEntry(Entry):
    """A round boss on a tube, with a hole through the wall."""

    model_config = one_of("primary", "collector", "secondary", together={})

    name: Name = Field(description="Name of the boss, as files and findings have it.")
    primary: Counted | None = Field(default=None, description="Number of the primary that the boss is on.")
    collector: Name | None = Field(default=None, description="Name of the collector whose outlet tube the boss is on.")
    secondary: Name | None = Field(
        default=None,
        description=(
            "Name of the collector whose outlet leads into the secondary that the boss is on, or of a run that leaves "
            "another one's side."
        ),
    )
    at: Margin = Field(
        description=(
            "Distance along the tube, from the flange face, or from where the outlet tube or the secondary begins."
        )
    )
    clock: Turn = Field(
        default=0.0,
        description=(
            "Degrees from straight up (from forward, where the tube stands upright), clockwise as the gas "
            "sees it. Default: 0."
        ),
    )
    kind: Literal["sensor", "plain"] = Field(
        default="sensor", description="What the boss is for. sensor: M18x1.5, and checked as one."
    )
    outside_diameter: Diameter = Field(default=SENSOR_BOSS, description="Outside diameter of the boss. Default: 28 mm.")
    height: Step = Field(default=SENSOR_HEIGHT, description="Height of the boss over the tube's skin. Default: 14 mm.")
    hole: Hole | None = Field(
        default=None,
        description=("Diameter of its hole. Default: the tapping drill of a metric thread; with no thread 16.5 mm."),
    )
    thread: Name | None = Field(
        default=None,
        description=(
            "Thread that its hole is tapped to: M18x1.5, M12x1.25, G1/8 … Default: M18x1.5 for a sensor, "
            "none for a plain boss."
        ),
    )

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        exactly_one(self, ("primary", "collector", "secondary"), "the place of a boss")
        if len(self.tapped) > LONGEST_THREAD:
            raise complain(f"a thread is said in at most {LONGEST_THREAD} letters", at=("thread",))
        if self.hole is None and self.tapped and not METRIC.fullmatch(self.tapped):
            message = f"the hole to be drilled for {self.tapped} is not known"
            raise complain(message, "add hole: its diameter; a metric thread is written M18x1.5", at=("thread",))
        if self.drilled > self.outside_diameter - 2:
            raise complain("the hole leaves no wall in the boss", at=("thread" if self.hole is None else "hole",))
        if self.drilled <= 0:
            raise complain("so coarse a thread leaves no hole", at=("thread",))
        return self

    @property
    def tapped(self) -> str:
        return self.thread or (SENSOR_THREAD if self.kind == "sensor" else "")

    @property
    def drilled(self) -> float:
        """As given, or the tapping drill of a metric thread."""
        found = METRIC.fullmatch(self.tapped or SENSOR_THREAD)
        if self.hole is not None or found is None:
            return self.hole or 0.0
        diameter, pitch = (float(each) for each in found.groups())
        return tapping_drill(diameter, pitch)


def tapping_drill(diameter: float, pitch: float) -> float:
    """The drill before tapping a metric thread, mm: nominal diameter minus pitch (ISO 2306, from memory), as sold.

    Drills step by 0.1 mm, and a size between two steps is rounded as in that standard, 10.75 to 10.8 and 10.25 to 10.2.
    The basic minor diameter, D − 1.0825·P (ISO 724), is smaller and is not the drill.
    """
    return round(round(diameter - pitch, 6), 1)


def _boss(entry: BossEntry) -> Boss:
    if entry.primary is not None:
        host = primary_name(entry.primary)
    else:
        host = entry.collector or secondary_name(entry.secondary or "")
    return noun_of(
        Boss,
        entry,
        host=host,
        hole=entry.drilled,
        sensor=entry.kind == "sensor",
        thread=entry.tapped,
        on_outlet=entry.collector is not None,
    )


def _boss_values(boss: Boss, runs: Mapping[str, Run]) -> Values:
    host = {"collector": boss.host} if boss.on_outlet else run_values(runs[boss.host])
    kind = "sensor" if boss.sensor else "plain"
    return values_of(boss, BossEntry, **host, kind=kind, thread=boss.thread or None)


def _boss_renamed(boss: Boss, names: Renamed) -> Boss:
    host = (names.name if boss.on_outlet else names.run)(boss.host)
    return replace(boss, name=names.name(boss.name), host=host)


def _boss_troubles(data: dict[str, Any]) -> Iterator[Trouble]:
    yield from named_twice(data, "bosses", "boss")
    for index, entry in entries_of(data, "bosses"):
        yield from host_troubles(data, entry, ("bosses", index))


BOSSES = FittedList(
    key="bosses",
    noun=Boss,
    noun_of=_boss,
    values_of=_boss_values,
    mirrored=lambda boss, _: replace(boss, clock=-boss.clock),
    renamed=_boss_renamed,
    troubles=_boss_troubles,
    field="bosses",
)


class PlugEntry(Entry):
    """A spark plug, or anything else that a tool must reach."""

    name: Name = Field(description="Name of the plug, as findings have it.")
    at: Point = Field(description="The middle of the plug's seat.")
    axis: Direction = Field(description="Direction in which the plug is pulled out.")
    diameter: Diameter = Field(default=24.0, description="Outside diameter of the tool. Default: 24 mm.")
    length: Step = Field(
        default=150.0, description="Length of room for tool and plug, along the axis. Default: 150 mm."
    )

    @model_validator(mode="after")
    def _points(self) -> Self:
        needs_direction(self.axis, "axis")
        return self


PLUGS = FittedList(
    key="plugs",
    noun=Plug,
    noun_of=lambda entry: noun_of(Plug, entry, seat=entry.at, axis=unit(entry.axis)),
    values_of=lambda plug, _: values_of(plug, PlugEntry, at=plug.seat),
    mirrored=lambda plug, ways: replace(plug, seat=ways.place(plug.seat), axis=ways.direction(plug.axis)),
    renamed=lambda plug, names: replace(plug, name=names.name(plug.name)),
    field="plugs",
)
