"""Where along a run something is mounted on the tube, so that a joint below it could not be welded, dressed or purged.

That is a boss, the foot of a bracket, the tab of a slip joint, or another tube. A joint keeps a distance of half the
torch's cup from its foot.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headergen.geometry.curves.sides import footprint, highest
from headergen.model import Header
from headergen.parts.kind import Footing
from headergen.parts.side import sound_joints
from headergen.parts.table import KINDS

Blocked = tuple[tuple[float, float, str], ...]  # stretches of a run, and why no joint may be there


def footings(header: Header) -> Iterator[Footing]:
    """All that stands on the runs of a header: parts by their kinds, and other tubes."""
    for kind in KINDS:
        yield from kind.footings(header)
    yield from _on_sides(header)


def _on_sides(header: Header) -> Iterator[Footing]:
    """Where another tube stands on a run, and the ends of those that do."""
    lengths = {run.name: line.length for run, line in header.tubes}
    for joint in sound_joints(header):
        low, high = footprint(joint)
        yield Footing(joint.host, joint.run, (low + high) / 2, high - low)
        yield Footing(joint.run, "its fishmouth", 0.0 if joint.at_start else lengths[joint.run], 2 * highest(joint))


def below(feet: Sequence[Footing], run: str, beside: float) -> Blocked:
    """Stretches of a run, in mm from its start, below a part or within `beside` mm of it, and why they are blocked."""
    mine = ((each, each.length / 2 + beside) for each in feet if each.run == run)
    return tuple(
        (each.at - half, each.at + half, f"{each.what} is on it, or nearer to it than half the torch's cup")
        for each, half in mine
    )
