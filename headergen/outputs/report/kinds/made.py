"""Every made part in the report, of any kind, and all of them together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pydantic import Field

from headergen.model import Part, Tube
from headergen.outputs.report.facts import TotalWeight, part_mass
from headergen.outputs.report.records.base import Mm3, Moment, Point, PositiveGrams, Record
from headergen.outputs.report.sections import Block, Section, Table
from headergen.words.numbers import both


class PartRecord(Record):
    """A made part with its files."""

    mass_g: PositiveGrams | None = Field(description="null when the material is not known")
    centre_mm: Point = Field(description="centre of gravity in engine axes: x forward, y left, z up")
    name: str = Field(description="as files and findings call it")
    role: str = Field(description="its kind")
    files: tuple[str, ...] = Field(description="names of its files")
    volume_mm3: Mm3 = Field(description="of the solid")
    mesh_volume_mm3: Mm3 = Field(description="enclosed by the written mesh")
    closed: bool = Field(description="the written mesh is watertight")


class WeightRecord(Record):
    """All parts together."""

    mass_g: PositiveGrams = Field(description="of all parts")
    centre_mm: Point = Field(description="centre of gravity in engine axes: x forward, y left, z up")
    moment_at_flange_nm: Moment | None = Field(
        description="of the weight about the middle of the ports, the vehicle level; null for several flanges, for "
        "which it is not computed"
    )


def part_record(part: Part, tube: Tube) -> PartRecord:
    return PartRecord(
        mass_g=part_mass(tube, part),
        centre_mm=part.centre,
        name=part.name,
        role=part.role,
        files=part.files,
        volume_mm3=part.volume,
        mesh_volume_mm3=part.mesh_volume,
        closed=part.closed,
    )


def weight_record(weight: TotalWeight | None) -> WeightRecord | None:
    if weight is None:
        return None
    return WeightRecord(mass_g=weight.grams, centre_mm=weight.centre, moment_at_flange_nm=weight.moment)


def parts_section(parts: Sequence[PartRecord], total: WeightRecord | None, units: str) -> Iterator[Section]:
    if parts:
        yield Section("Parts", tuple(_parts(parts, total, units)))


def _parts(parts: Sequence[PartRecord], total: WeightRecord | None, units: str) -> Iterator[Block]:
    rows = []
    for p in parts:
        weighs = "not known" if p.mass_g is None else f"{p.mass_g:.0f} g"
        closed = "yes" if p.closed else "NO"
        rows.append((p.name, p.role, f"{p.volume_mm3 / 1000:.2f} cm³", weighs, closed, ", ".join(p.files)))
    yield Table(("Part", "Role", "Metal", "Mass", "Closed", "Files"), rows)
    if total is not None:
        x, y, z = (both(units, value, 0) for value in total.centre_mm)
        yield (
            f"All parts: {total.mass_g / 1000:.2f} kg at nominal wall, without weld; centre of gravity at x {x}, "
            f"y {y}, z {z}. {_moment(total)}"
        )


def _moment(total: WeightRecord) -> str:
    if total.moment_at_flange_nm is None:
        return (
            "The moment at the flanges is not computed: how they share the weight depends on how stiff the tubes are."
        )
    return f"Moment at the flange if unsupported, the vehicle level: {total.moment_at_flange_nm:.1f} N·m."
