"""The bare straights of a run: where something may be mounted on its tube."""

from __future__ import annotations

from headergen.geometry.curves.centreline import locate
from headergen.geometry.curves.sides import highest, side_joints
from headergen.geometry.curves.stepped import growth_places
from headergen.geometry.plate.flange import bare_from
from headergen.model import Centreline, Header, Line, Run


def bare_about(header: Header, run: Run, line: Centreline, at: float) -> tuple[float, str]:
    """From a place along a run to the nearer end of the bare straight there, and what is at that end, in shop words.

    Negative if the place is inside something around the tube, 0 in a bend.
    """
    index, _ = locate(line, at)
    if not isinstance(line.segments[index], Line):
        return 0.0, "a bend"
    starts, last = line.starts, len(line.segments) - 1
    slip = next((each.slip for each in header.draft.collectors if each.name == run.end.collector), 0.0)
    before = starts[index], "its start" if index == 0 else _what(line, index - 1)
    after = starts[index + 1], "its end" if index == last else _what(line, index + 1)
    ends = [(at - before[0], before[1]), (after[0] - at, after[1])]
    if run.is_primary:
        on_flange = "the transition" if run.port.transition else "the flange"
        ends.append((at - bare_from(header.draft.flange_of(run.port), run.port, run.tube), on_flange))
    ends += [(max(place.start - at, at - place.end), "a step to a larger tube") for place in growth_places(run)]
    if slip > 0:
        what = run.end.called if run.end.ends_run else f"the slip sleeve of collector {run.end.collector}"
        ends.append((line.length - slip - at, what))
    for joint in side_joints(header.tubes):
        if joint.run == run.name and joint.is_possible:
            away = at if joint.at_start else line.length - at
            ends.append((away - highest(joint), f"its joint on {joint.host}"))
    return min(ends, key=lambda end: end[0])


def _what(line: Centreline, index: int) -> str:
    return "a joint" if isinstance(line.segments[index], Line) else "a bend"
