"""The side of a chassis mesh on which the tubes run, as far as its surface can tell.

An open surface has a fractional winding number about a point: only values near 0 or near 1 are trusted.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headergen.geometry.mesh.winding import INSIDE, OUTSIDE, is_wrong_side
from headergen.model import ChassisItem, Gap, Header, MeshRef, Survey
from headergen.model.finding import Finding, Level
from headergen.words.say import capital, say_runs


def mesh_sides(survey: Survey) -> Iterator[Finding]:
    for item in survey.header.draft.chassis:
        if isinstance(item.shape, MeshRef) and item.role != "surface":
            gaps = [gap for gap in survey.gaps if gap.b == item.name]
            yield from _through_holes(item, gaps)
            yield from _all_inside(item, gaps)
            yield from _cannot_say(survey.header, item, gaps)


def _through_holes(item: ChassisItem, gaps: list[Gap]) -> Iterator[Finding]:
    for gap in gaps:
        if _is_on_both_sides(gap):
            yield Finding(
                rule="mesh-hole",
                level="warning",
                where=gap.a,
                value=None,
                limit=None,
                unit="",
                message=(
                    f"{capital(gap.a)} passes from outside {item.name} to its inside without meeting its surface: "
                    "it goes through a hole in the mesh. Check whether the hole is in the metal, or only in the scan."
                ),
                point=gap.points[1],
            )


def _all_inside(item: ChassisItem, gaps: list[Gap]) -> Iterator[Finding]:
    around = [gap.winding for gap in gaps if gap.winding is not None]
    known = 0 < len(around) == len(gaps)
    if known and item.role == "obstacle" and is_wrong_side(item.role, True, np.array(around)).all():
        yield Finding(
            rule="mesh-role",
            level="error",
            where=item.name,
            value=None,
            limit=None,
            unit="",
            message=(
                f"All primaries run inside {item.name}, which they must keep away from. If it encloses the header, "
                "as an engine bay does, write role: enclosure."
            ),
        )


def _is_on_both_sides(gap: Gap) -> bool:
    return gap.winding is not None and gap.winding[0] < OUTSIDE and gap.winding[1] > INSIDE


def _cannot_say(header: Header, item: ChassisItem, gaps: list[Gap]) -> Iterator[Finding]:
    unknown = [gap for gap in gaps if gap.side_unknown and not gap.is_too_small and not _is_on_both_sides(gap)]
    doubtful = [gap for gap in gaps if gap not in unknown and _is_doubtful(gap)]
    if unknown:
        yield _said(item, "mesh-side", "warning", _side_unknown(header, item, unknown))
    if doubtful:
        keep = f"{say_runs(header, [gap.a for gap in doubtful])} {'keeps' if len(doubtful) == 1 else 'keep'}"
        yield _said(
            item,
            "mesh-open",
            "info",
            f"{item.name} is an open surface: how far {keep} from it is known, but not on which side. "
            "Write role: surface if only the distance matters.",
        )


def _is_doubtful(gap: Gap) -> bool:
    """Whether the winding number of an open surface about a tube is near a half."""
    if gap.winding is None or gap.runs_through or _is_on_both_sides(gap):
        return False
    least, most = gap.winding
    return least <= INSIDE and most >= OUTSIDE


def _side_unknown(header: Header, item: ChassisItem, gaps: list[Gap]) -> str:
    who, alone = say_runs(header, [gap.a for gap in gaps]), len(gaps) == 1
    if item.role == "enclosure":
        place = f"{who} must run inside {item.name}"
    else:
        place = f"{who} {'lies' if alone else 'lie'} within the outer bounds of {item.name}"
    return (
        f"{capital(place)}, whose surface is not a single closed one: it cannot tell whether "
        f"{'the tube is' if alone else 'the tubes are'} inside or outside, and only the distance to its triangles was "
        f"checked. Export {item.name} as closed bodies without doubled or reversed faces; or, if only the distance "
        "matters, write role: surface."
    )


def _said(item: ChassisItem, rule: str, level: Level, message: str) -> Finding:
    return Finding(rule, level, item.name, None, None, "", message)
