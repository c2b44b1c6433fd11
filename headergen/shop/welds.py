"""The welds of a header by their lengths, for filler; one pass along each seam."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.curves.stepped import tube_at
from headergen.geometry.merge.design import AnyMerge, bore_radii
from headergen.geometry.merge.flow import lobe_outline, outlet_arc
from headergen.geometry.merge.lobes import crossings
from headergen.geometry.merge.measures import Merge
from headergen.geometry.merge.uneven import UnevenMerge, cone_outline
from headergen.geometry.transition.development import patterns
from headergen.geometry.transition.rulings import rounds
from headergen.model import Collector, CutTemplate, Header, Outlet, OutletPlate, Shop, Weld
from headergen.parts.collector import merge_seats, spike_has_room
from headergen.parts.table import KINDS, parts_to_make
from headergen.parts.transition import TransitionSeat
from headergen.words.say import plural


def welds_of(header: Header, shop: Shop) -> tuple[Weld, ...]:
    """Every kind of weld of a header; that of a spike between tubes of several sizes is not among them."""
    found = (*_of_tubes(header, shop), *_of_merges(header, shop), *_of_parts(header))
    return tuple(weld for weld in found if weld.count)


def _of_tubes(header: Header, shop: Shop) -> Iterator[Weld]:
    """Once round the tube at each joint and at both ends of each run."""
    runs = {run.name: run for run in header.runs}
    yield _weld(
        "joints of pieces",
        [math.tau * tube_at(runs[joint.run], joint.at).radius for joint in shop.plan.joints],
    )
    flange = [math.tau * header.draft.tube_at(run.port).radius for run in header.primaries if not run.port.transition]
    yield _weld("tubes on the flange", flange)
    after = [run for run in header.runs if isinstance(run.start, Outlet) and run.start.side is None]
    yield _weld("tubes on outlets", [math.tau * run.tube.radius for run in after])
    yield _weld("tubes on the side of others", [_unrolled(t) for t in shop.templates if t.what == "fishmouth"])


def _weld(what: str, lengths: Sequence[float]) -> Weld:
    return Weld(what, len(lengths), sum(lengths))


def _unrolled(template: CutTemplate) -> float:
    """The length of a cut's edge on the outside of its tube: a wrapped template does not stretch."""
    heights = np.array(template.heights)
    step = math.tau * template.radius / len(heights)
    return float(np.hypot(step, np.roll(heights, -1) - heights).sum())


def _of_merges(header: Header, shop: Shop) -> Iterator[Weld]:
    """Bores, mitres, the seams between the tubes, and the cone with what follows it."""
    merges = {collector.name: merge for collector, merge in merge_seats(header)}
    for collector in header.draft.collectors:
        name, merge = collector.name, merges.get(collector.name)
        yield from _of_bores(header, collector)
        if merge is None:
            continue
        cuts = [cut for cut in shop.templates if cut.collector == name]
        mitres = [_unrolled(cut) for cut in cuts if cut.what == "mitre" for _ in range(cut.count)]
        yield _weld(f"mitres of {name}", mitres)
        ends = [_unrolled(cut) for cut in cuts if cut.what == "end" for _ in range(cut.count)]
        lobes, ruling = _of_cone(merge)
        seams = len(ends) if len(ends) > 2 else 1
        yield Weld(f"seams between the tubes of {name}", seams, max(sum(ends) - lobes, 0.0) / 2)
        yield _weld(f"cone of {name}: tubes, its own seam, outlet", [lobes, ruling, math.tau * merge.outlet_outer])
        if collector.spike and not isinstance(merge, UnevenMerge) and spike_has_room(merge):
            yield _weld(f"spike of {name}", _round_spike(merge))
        if collector.end is not None and not _ends_in_transition(collector):
            at_end = merge.taper_to if merge.taper_to is not None else merge.outlet_outer
            yield _weld(f"end of the outlet of {name}", [math.tau * at_end])


def _round_spike(merge: Merge) -> list[float]:
    """The opening between the tubes, which a spike fills, where they begin to lean: an arc of each tube."""
    found = crossings(merge.ring, merge.outer, 0.0, merge.sector)
    if found is None or found[1] is None:
        return []
    return [merge.count * 2 * merge.outer * (math.pi - found[1])]


def _of_bores(header: Header, collector: Collector) -> Iterator[Weld]:
    """Tubes that are welded on; those that slide in are welded round the mouth, unless tabs hold them.

    A plain end of a run is welded to nothing; what is welded to a transition is counted with that.
    """
    tube, runs = header.draft.tube, {run.name for run in header.runs}
    arrived = [bore for bore in collector.bores if bore.run in runs]
    if collector.mouth in ("side", "plain") or collector.tabs is not None:
        return
    if collector.mouth == "plate" and _ends_in_transition(collector):
        return
    if collector.join == "weld":
        around = [math.tau * bore_radii(tube, collector, bore)[0] for bore in arrived]
        yield _weld(f"tubes on {collector.name}", around)
    else:
        around = [math.tau * (bore_radii(tube, collector, bore)[1] - collector.gap) for bore in arrived]
        yield _weld(f"tubes in the mouths of {collector.name}", around)


def _ends_in_transition(collector: Collector) -> bool:
    """Whether a transition, which is welded at both of its ends, leads to its plate."""
    return isinstance(collector.end, OutletPlate) and collector.end.transition > 0.0


def _of_cone(merge: AnyMerge) -> tuple[float, float]:
    """The outline of the tubes' lobes at the cut, and a line of the cone from there to the outlet, mm."""
    if isinstance(merge, UnevenMerge):
        low, top = (cone_outline(merge, False, share) for share in (0.0, 1.0))
        around = _long(np.concatenate([low, low[:1]]))
    else:
        low, top = lobe_outline(merge, merge.outer), outlet_arc(merge, merge.outlet_outer)
        around = merge.count * _long(low)
    return around, math.hypot(merge.cone_end - merge.cut, *(top[0] - low[0]).tolist())


def _long(line: Array) -> float:
    """Of a line through places (n, 2)."""
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def _of_parts(header: Header) -> Iterator[Weld]:
    """Transitions at both ends and along their seams; other parts as their kinds say."""
    parts = parts_to_make(header)
    yield _weld("transitions", [_of_transition(p.seat) for p in parts if isinstance(p.seat, TransitionSeat)])
    yield from (_weld(plural(kind.role), list(kind.welds(header))) for kind in KINDS)


def _of_transition(seat: TransitionSeat) -> float:
    """Round port and tube at mid wall, and a seam from end to end for each half."""
    shape, length = seat.port.shape, seat.port.transition
    seams = 2 * seat.lead
    for half in patterns(shape, seat.tube, length):
        edges = [math.dist(half.port[k], half.tube[k]) for k in (0, -1)]
        seams += half.count * sum(edges) / 2
    return sum(rounds(shape, seat.tube)) + seams
