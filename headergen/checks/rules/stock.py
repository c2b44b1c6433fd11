"""The material of the tube is known, and the shelf has bends of that tube."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.checks.part_findings import length_finding
from headergen.model import Header
from headergen.model.finding import Finding
from headergen.model.materials import MATERIALS, material_called
from headergen.model.stock import SAME_TUBE
from headergen.words.say import say_length, say_list


def tube_material(header: Header) -> Iterator[Finding]:
    name = header.draft.tube.material
    if material_called(name) is None:
        known = ", ".join(material.names[0] for material in MATERIALS)
        yield Finding(
            rule="tube-material",
            level="warning",
            where="material",
            value=None,
            limit=None,
            unit="",
            message=f"The material {name} is not in the table, so no weight is given; the table has {known}.",
        )


def stock_tube(header: Header) -> Iterator[Finding]:
    draft, stock = header.draft, header.draft.stock
    if stock is None:
        return
    own, sizes = draft.tube.outside_diameter, stock.diameters
    tubes = {tube.outside_diameter for run in header.runs for tube in run.tubes}
    if stock.outside_diameter is None and (None in stock.tubes or not sizes):
        yield Finding(
            rule="stock-tube",
            level="warning",
            where="stock list",
            value=None,
            limit=None,
            unit="",
            message="The stock list does not say which tube it is for, so whether its bends fit this one is not known; "
            "write the outside diameter of its tube into it.",
        )
    elif not any(abs(tube - of) <= SAME_TUBE for tube in tubes for of in sizes):
        said = (
            f"is for tube of {say_list([say_length(of, draft.units) for of in sizes])} outside, and this header is of "
            f"{say_length(own, draft.units)}; name the list of that tube, or correct the diameter that is wrong"
        )
        yield length_finding(draft, "stock list", (sizes[0], own, said), None, rule="stock-tube")
