"""A small header made by hand, and results of it, for the tests of what is written of a result."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from headergen.geometry.curves.centreline import frame_at, trace
from headergen.geometry.frames import frame_from_normal
from headergen.model import (
    Bend,
    Bore,
    Box,
    ChassisItem,
    Collector,
    Cylinder,
    Draft,
    End,
    Flange,
    Frame,
    Gap,
    Header,
    Job,
    LengthTarget,
    Limits,
    MeshRef,
    Part,
    Place,
    Port,
    PortShape,
    Result,
    SecondOpinion,
    Source,
    Step,
    Straight,
    Stretch,
    Survey,
    Tube,
    TubeRun,
    primary_name,
)
from headergen.model.finding import Finding
from tests.runs import primary, with_tube

WORLD = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
STEPS: tuple[Step, ...] = (
    Straight(60.0),
    Bend(math.radians(75), 63.5, math.radians(100)),
    Straight(120.0),
    Bend(math.radians(40), 63.5, math.radians(-150)),
    Straight(150.0),
)
# Σ straights + Σ Rθ
LENGTH = 60.0 + 120.0 + 150.0 + 63.5 * math.radians(75 + 40)


def header(**changes: Any) -> Header:
    """Two primaries of the same steps from ports 100 mm apart, among a box, a shaft, a brake line and a mesh."""
    flange_frame = frame_from_normal((0.0, 0.0, 0.0), (0.0, 1.0, -0.2), (1.0, 0.0, 0.0))
    primaries, lines = [], []
    for number, x in ((1, 50.0), (2, -50.0)):
        port = Port(number, replace(flange_frame, origin=(x, 0.0, 0.0)), PortShape("round", (38.0,)))
        line = trace(port.frame, STEPS, primary_name(number))
        end, tangent, _ = frame_at(line, line.length)
        primaries.append(
            primary(number, port, Bore("main", number, primary_name(number), frame_from_normal(end, tangent)), STEPS)
        )
        lines.append(line)
    draft = Draft(
        job=Job("Bogbean", "A", "2026-03-14"),
        tube=Tube(42.4, 1.5, "304L"),
        stock=None,
        flanges=(Flange(flange_frame, 10.0, (), tuple(p.port for p in primaries)),),
        collectors=(Collector("main", primaries[0].end.frame, "slip", 40.0, tuple(p.end for p in primaries)),),
        length=LengthTarget(450.0, 3.0),
        runs=tuple(primaries),
        chassis=(
            ChassisItem("head", Box(replace(WORLD, origin=(0.0, -110.0, 0.0)), (300.0, 200.0, 120.0)), 0.0),
            ChassisItem("steering shaft", Cylinder((300.0, 260.0, 60.0), (-300.0, 200.0, -20.0), 22.0), 15.0),
            ChassisItem("brake line", TubeRun(((300, 0, -200), (0, 0, -220), (-300, 60, -200)), 6.0), 40.0),
            ChassisItem("frame", MeshRef("/somewhere/else/frame.stl", "c" * 64, "mm", WORLD), 15.0),
        ),
        limits=Limits(0.0, 0.5, math.radians(0.5), 5.0, 110.0, 0.05),
    )
    if "tube" in changes:
        draft = with_tube(draft, changes.pop("tube"))
    draft = replace(draft, **changes)
    return Header(draft, draft.runs, tuple(lines))


GAPS = (
    Gap(
        a="primary 1",
        b="steering shaft",
        at=(Place("primary 1", 131.25, 2), None),
        required=15.0,
        value=11.234_567_89,
        points=((1.0, 2.0, -0.000_000_01), (4.0, 5.0, 6.0)),
        near=(Stretch(120.0, 140.5, 11.234_567_89, ((120.0, 15.0), (130.25, 11.5), (140.5, 15.0))),),
    ),
    Gap(
        "primary 2",
        "frame",
        15.0,
        80.0,
        ((0.0, 0.0, 0.0), (80.0, 0.0, 0.0)),
        (Place("primary 2", 20.0, 1), None),
        triangle=17,
        on_boundary=True,
    ),
    Gap(
        "primary 1",
        "primary 2",
        5.0,
        57.6,
        ((0.0, 0.0, 0.0), (57.6, 0.0, 0.0)),
        (Place("primary 1", 90.0, 2), Place("primary 2", 91.0, 2)),
    ),
    Gap(
        "primary 1",
        "primary 2",
        0.0,
        -0.004,
        ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
        (Place("primary 1", 450.0, 5), Place("primary 2", 451.0, 5)),
        together=True,
    ),
)
ERROR = Finding(
    "gap-chassis",
    "error",
    "primary 1",
    11.2,
    15.0,
    "mm",
    "Primary 1 is 11.2 mm from steering shaft; 15.0 mm required; nearest 131.2 mm from the flange, in step 2 (bend).",
    (4.0, 5.0, 6.0),
)
WARNING = Finding("bend-shelf", "warning", "primary 2", 63.5, 60.0, "mm", "Primary 2, step 2: not in the stock list.")
NOTE = Finding("length", "info", "primary 1", None, None, "", "Primary 1 may be cut from one length.")


def result(findings: tuple[Finding, ...] = (), gaps: tuple[Gap, ...] = GAPS, **changes: Any) -> Result:
    """A result with these findings and gaps; `changes` go into the draft."""
    made = header(**changes)
    ends = (
        End("primary 1", 0.25, 0.1, math.radians(0.3), (1.0, 2.0, 3.0)),
        End("primary 2", -0.000_000_1, 0.0, 0.0, (4.0, 5.0, 6.0)),
    )
    opinions = (
        SecondOpinion("primary 1", "steering shaft", 11.234_567_89, 11.3, 0.15),
        SecondOpinion("primary 1", "primary 2", 57.6, 57.61, 0.15),
    )
    part = Part("primary 1", "primary", ("primary_1.step", "primary_1.stl"), 88_000.5, 87_990.0, True)
    survey = Survey(made, gaps, opinions, ends, (), tuple(line.length for line in made.centrelines))
    return Result(Source("/home/shop/specs/bogbean.yaml", "a" * 64, {}), made, survey, (part,), findings)
