"""Gaps in the report: between which two things, how wide, where, and the requirement."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from headergen.model import Gap, OwnCrossing, Place, SecondOpinion, Stretch, falls_short
from headergen.outputs.report.records.base import Count, Mm, Ordinal, Point, Record

Pose = Annotated[str, Field(description="pose in which the gap was measured: cold, or how the engine moved")]
TwoPoints = tuple[Point, Point]


class PlaceRecord(Record):
    """A place along a run."""

    run: str = Field(description="its name")
    from_start_mm: Mm = Field(description="length along the centreline, from flange or outlet")
    step: Ordinal


class GapAlongRecord(Record):
    """The gap of the disc at one place along a run."""

    from_start_mm: Mm = Field(description="length along the centreline")
    gap_mm: Mm = Field(description="of the disc there")


class StretchRecord(Record):
    """Part of a run that is nearer than required."""

    from_mm: Mm = Field(description="length from the flange")
    to_mm: Mm = Field(description="length from the flange")
    smallest_gap_mm: Mm = Field(description="within the stretch")
    profile: tuple[GapAlongRecord, ...] = Field(description="how the gap runs from its start to its end")


class GapRecord(Record):
    """The smallest gap between a run and another run or an item of the chassis."""

    a: str = Field(description="name of the run")
    b: str = Field(description="name of the other run, or of the chassis item")
    pose: Pose
    at: tuple[PlaceRecord, ...] = Field(min_length=1, max_length=2, description="along each of its runs")
    gap_mm: Mm = Field(description="between the surfaces; negative: depth where they cross")
    required_mm: Mm = Field(description="the least that is allowed at that place")
    points_mm: TwoPoints = Field(description="on the run, on the other body")
    too_near: tuple[StretchRecord, ...]
    triangle_index: Count | None = Field(description="triangle of the mesh, counted from 0")
    together: bool = Field(
        description="between tubes, within the length where those of one collector converge; there the requirement "
        "grows with the distance from the collector, and the gap is the one with the least margin"
    )
    on_boundary: bool = Field(description="it is at the edge of a length that is not checked")
    runs_through: bool = Field(description="the centreline itself meets the other body")
    uncertainty_mm: Mm = Field(description="what a scan's spacing and placing leave open")
    side_unknown: bool = Field(
        description="the mesh cannot tell whether the tube, which does not cross it, is on the wrong side"
    )
    winding_numbers: tuple[float, float] | None = Field(
        description="least and greatest winding number about the tube of a mesh that is not crossed; 1 inside, 0 out"
    )

    @property
    def is_too_small(self) -> bool:
        return falls_short(self.gap_mm, self.required_mm, self.together)

    @property
    def is_between_runs(self) -> bool:
        return len(self.at) == 2

    @property
    def to_spare_mm(self) -> float:
        return self.gap_mm - self.required_mm


class PartGapRecord(Record):
    """The smallest gap between a part that is no tube, or a tool, and what it must avoid."""

    a: str = Field(description="flange, sleeve, merge or outlet as a simple envelope, a made part, or a tool")
    b: str = Field(description="name of the chassis item, or the run that goes elsewhere")
    pose: Pose
    gap_mm: Mm = Field(description="between the surfaces; negative: how deep the other reaches in")
    required_mm: Mm = Field(description="the least that is allowed")
    points_mm: TwoPoints = Field(description="on the part, on the other body")
    wholly_on_the_wrong_side: bool = Field(description="within what it must avoid, or outside what must hold it")
    crosses_by_an_unknown_depth: bool = Field(
        description="it crosses an open surface, which cannot say how deep; the gap reads 0"
    )

    @property
    def to_spare_mm(self) -> float:
        return self.gap_mm - self.required_mm


class OwnCrossingRecord(Record):
    """Two places of one tube where it runs into itself."""

    run: str = Field(description="its name")
    places: tuple[PlaceRecord, PlaceRecord] = Field(description="where along the run")
    centreline_distance_mm: Mm = Field(description="between the two places")
    point_mm: Point


class SecondOpinionRecord(Record):
    """The same gap by another method."""

    a: str = Field(description="name of the run")
    b: str = Field(description="name of the other run, or of the chassis item")
    exact_gap_mm: Mm = Field(description="the gap as reported")
    other_method_gap_mm: Mm = Field(description="the same gap between the meshes")
    allowed_difference_mm: Mm = Field(description="what chordal deviations let the two differ by")
    agrees: bool = Field(description="the two differ by no more than that")


def _place(place: Place) -> PlaceRecord:
    return PlaceRecord(run=place.run, from_start_mm=place.at, step=place.step)


def _stretch(stretch: Stretch) -> StretchRecord:
    return StretchRecord(
        from_mm=stretch.start,
        to_mm=stretch.end,
        smallest_gap_mm=stretch.smallest,
        profile=tuple(GapAlongRecord(from_start_mm=at, gap_mm=value) for at, value in stretch.profile),
    )


def gap_record(gap: Gap) -> GapRecord:
    return GapRecord(
        a=gap.a,
        b=gap.b,
        pose=gap.pose,
        at=tuple(_place(place) for place in gap.places),
        gap_mm=gap.value,
        required_mm=gap.required,
        points_mm=gap.points,
        too_near=tuple(_stretch(stretch) for stretch in gap.near),
        triangle_index=gap.triangle,
        together=gap.together,
        on_boundary=gap.on_boundary,
        runs_through=gap.runs_through,
        uncertainty_mm=gap.uncertainty,
        side_unknown=gap.side_unknown,
        winding_numbers=gap.winding,
    )


def part_gap_record(gap: Gap) -> PartGapRecord:
    return PartGapRecord(
        a=gap.a,
        b=gap.b,
        pose=gap.pose,
        gap_mm=gap.value,
        required_mm=gap.required,
        points_mm=gap.points,
        wholly_on_the_wrong_side=gap.inside,
        crosses_by_an_unknown_depth=gap.crosses,
    )


def own_crossing_record(crossing: OwnCrossing) -> OwnCrossingRecord:
    first, second = crossing.places
    return OwnCrossingRecord(
        run=crossing.run,
        places=(_place(first), _place(second)),
        centreline_distance_mm=crossing.distance,
        point_mm=crossing.point,
    )


def second_opinion_record(opinion: SecondOpinion) -> SecondOpinionRecord:
    return SecondOpinionRecord(
        a=opinion.a,
        b=opinion.b,
        exact_gap_mm=opinion.exact,
        other_method_gap_mm=opinion.other_method,
        allowed_difference_mm=opinion.allowed,
        agrees=opinion.agrees,
    )
