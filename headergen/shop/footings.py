"""Where along a run something is mounted on the tube, so that a joint below it could not be welded, dressed or purged.

That is a boss, the foot of a bracket, the tab of a slip joint, or another tube. A joint keeps a distance of half the
torch's cup from its foot.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from headergen.geometry.curves.sides import footprint, highest
from headergen.model import Header
from headergen.parts.bracket import bracket_seat
from headergen.parts.side import sound_joints
from headergen.parts.tabs import tab_seats

Blocked = tuple[tuple[float, float, str], ...]  # stretches of a run, and why no joint may be there


@dataclass(frozen=True)
class Footing:
    """A part on a run: the middle of its foot, in mm from the start of the run, and the foot's length along it."""

    run: str
    what: str
    at: float
    length: float


def footings(header: Header) -> Iterator[Footing]:
    draft = header.draft
    for boss in draft.bosses:
        if not boss.on_outlet:
            yield Footing(boss.host, boss.part, boss.at, boss.outside_diameter)
    for bracket in draft.fitted:
        seat = bracket_seat(header, bracket)
        for foot in seat.feet if seat is not None else ():
            yield Footing(foot.run.name, bracket.part, foot.at, bracket.length)
    yield from _on_sides(header)
    for collector in draft.collectors:
        for tab in tab_seats(header, collector):
            if tab.at is not None:
                yield Footing(tab.host, "its tab", tab.at, tab.tabs.length)


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
