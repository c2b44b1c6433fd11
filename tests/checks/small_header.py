"""Small headers made by hand, for rules and gaps: straight tubes along y, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from headergen.checks.judge import judge
from headergen.checks.measure import survey
from headergen.geometry.frames import frame_from_normal, point_in, scaled
from headergen.geometry.mesh.index import index_of
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import (
    Bore,
    ChassisItem,
    Collector,
    Draft,
    Flange,
    Frame,
    Job,
    LengthTarget,
    Limits,
    Port,
    PortShape,
    Step,
    Straight,
    Survey,
    Tube,
    primary_name,
)
from headergen.model.finding import Finding
from headergen.solve.closing import close
from tests.runs import primary, with_tube

Meshes = Mapping[str, TriangleMesh]

LENGTH = 400.0
FACE = frame_from_normal((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))
LIMITS = Limits(0.0, 0.5, 0.0087, 5.0, 110.0, 0.05)


def draft(*paths: list[Step], pitch: float = 90.0, chassis: tuple[ChassisItem, ...] = (), **changes: Any) -> Draft:
    """A draft with one primary for each path, `pitch` apart along x, each with a bore straight ahead of its port."""
    paths = paths or ([Straight(LENGTH)],)
    ports, bores, primaries = [], [], []
    for number, steps in enumerate(paths, 1):
        at = (pitch * (number - 1), 0.0, 0.0)
        ports.append(Port(number, moved(FACE, point_in(FACE, at)), PortShape("round", (38.0,))))
        bores.append(Bore("main", number, primary_name(number), moved(FACE, point_in(FACE, (at[0], 0.0, LENGTH)))))
        primaries.append(primary(number, ports[-1], bores[-1], tuple(steps)))
    collector = Collector("main", moved(FACE, point_in(FACE, (0.0, 0.0, LENGTH))), "weld", 0.0, tuple(bores))
    made = Draft(
        job=Job("Small", "A", "2026-01-01"),
        tube=Tube(42.4, 1.5, "304L"),
        stock=None,
        flanges=(Flange(FACE, 10.0, (), tuple(ports)),),
        collectors=(collector,),
        length=LengthTarget(None, 3.0),
        runs=tuple(primaries),
        chassis=chassis,
        limits=LIMITS,
    )
    if "tube" in changes:
        made = with_tube(made, changes.pop("tube"))
    return replace(made, **changes)


def moved(frame: Frame, origin: tuple[float, float, float]) -> Frame:
    return Frame(origin, frame.x, frame.y, frame.z)


def turned_over(made: Draft) -> Draft:
    """The planes of all collectors, and their bores, as they are read when the normals have the wrong sign."""

    def turned(frame: Frame) -> Frame:
        return replace(frame, y=scaled(frame.y, -1.0), z=scaled(frame.z, -1.0))

    collectors = tuple(replace(each, frame=turned(each.frame)) for each in made.collectors)
    primaries = tuple(replace(p, end=replace(p.end, frame=turned(p.end.frame))) for p in made.primaries)
    return replace(made, collectors=collectors, runs=primaries)


def measured(made: Draft, meshes: Meshes | None = None) -> Survey:
    indices = {name: index_of(mesh) for name, mesh in (meshes or {}).items()}
    return survey(close(made), indices)


def findings(made: Draft, meshes: Meshes | None = None) -> tuple[Finding, ...]:
    return judge(measured(made, meshes))


def rules(made: Draft, meshes: Meshes | None = None) -> list[str]:
    return [finding.rule for finding in findings(made, meshes)]
