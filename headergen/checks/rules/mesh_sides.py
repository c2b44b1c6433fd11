"""On which side of a chassis mesh the tubes run, as far as its surface can say.

A surface that does not close goes round a point by a fraction: believed is only what is nearly none or nearly once.
"""

from __future__ import annotations

from collections.abc import Iterator

from headergen.finding import Finding
from headergen.geometry.winding import INSIDE, OUTSIDE
from headergen.model import ChassisItem, Gap, MeshRef, Survey


def mesh_sides(survey: Survey) -> Iterator[Finding]:
    for item in survey.header.draft.chassis:
        if isinstance(item.shape, MeshRef) and item.role != "surface":
            gaps = [gap for gap in survey.gaps if gap.other == item.name]
            yield from _through_holes(item, gaps)
            yield from _all_inside(item, gaps)
            yield from _cannot_say(item, gaps)


def _through_holes(item: ChassisItem, gaps: list[Gap]) -> Iterator[Finding]:
    for gap in gaps:
        if _is_on_both_sides(gap):
            number = gap.place.primary
            yield Finding(
                rule="mesh-hole",
                level="warning",
                where=f"primary {number}",
                value=None,
                limit=None,
                unit="",
                message=(
                    f"Primary {number} passes from outside {item.name} to its inside without meeting its surface: "
                    "through a hole of the mesh. Look whether the hole is there in the metal, or only in the scan."
                ),
                point=gap.points[1],
            )


def _all_inside(item: ChassisItem, gaps: list[Gap]) -> Iterator[Finding]:
    if item.role == "obstacle" and gaps and all(gap.winding is not None and gap.winding[0] > INSIDE for gap in gaps):
        yield Finding(
            rule="mesh-role",
            level="error",
            where=item.name,
            value=None,
            limit=None,
            unit="",
            message=(
                f"All primaries run inside {item.name}, which they must keep off. If it is what holds the header, an "
                "engine bay for one, say role: enclosure."
            ),
        )


def _is_on_both_sides(gap: Gap) -> bool:
    return gap.winding is not None and gap.winding[0] < OUTSIDE and gap.winding[1] > INSIDE


def _is_doubtful(item: ChassisItem, gap: Gap) -> bool:
    """Whether a tube may be on the wrong side for all that the surface can say."""
    if gap.winding is None or gap.runs_through or _is_on_both_sides(gap):
        return False
    least, most = gap.winding
    return least <= INSIDE and (most >= OUTSIDE or item.role == "enclosure")


def _cannot_say(item: ChassisItem, gaps: list[Gap]) -> Iterator[Finding]:
    unknown = [str(gap.place.primary) for gap in gaps if _is_doubtful(item, gap)]
    if unknown:
        alone = len(unknown) == 1
        who = f"primary {unknown[0]} keeps" if alone else f"primaries {', '.join(unknown)} keep"
        yield Finding(
            rule="mesh-open",
            level="info",
            where=item.name,
            value=None,
            limit=None,
            unit="",
            message=(
                f"{item.name} is an open surface: it says how far {who} from it, but not on "
                "which side. Say role: surface if only the distance matters."
            ),
        )
