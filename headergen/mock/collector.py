"""The printed collector: it stands on its outlet and fits the ends of its tubes by a keyed spigot for each.

Every spigot has its own key, so the collector fits in one way only. The outside is the collector's own shape, except
for sleeves that are too thin to print. Inside, each tube has its own passage, closed before the cone, so that nothing
overhangs between them. If the bed is too low, the outlet continues in separate parts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold, OpType

from headergen.geometry.frames import add, cross, point_in, scaled
from headergen.geometry.merge.design import AnyMerge
from headergen.geometry.merge.flow import lobe_outline, outlet_arc
from headergen.geometry.merge.lobes import valley
from headergen.geometry.merge.measures import Merge, with_seams
from headergen.geometry.merge.uneven import UnevenMerge, apart
from headergen.geometry.mesh.triangles import Points, TriangleMesh
from headergen.mock.joint import SIDES, JointFit, joint_frame, socket, spigot
from headergen.mock.lettering import HEIGHT, TO_COLLECTOR, Surface, on_round, text_solid
from headergen.mock.part import MockPart, sound_mesh
from headergen.mock.solid import inverse, placement, prism, seen_in, solid_of
from headergen.mock.strength import sections_at
from headergen.mock.uneven_collector import (
    cores_of,
    least_reach,
    outside_of_tubes,
    reach_back,
    rings_of,
    sleeve_bores_of,
    sleeves_of,
    steepest_lean,
    tubes_at,
    ways_of,
    words_on_tube,
)
from headergen.model import Centreline, Collector, Frame, Line, MockSettings, Tube, Vec

BACK = 3.0  # mm of a spigot's core inside the collector
OVERLAP = 0.5  # mm of tube inside the cone, so that no two faces coincide
ACROSS = 0.02  # mm of overlap of a mitre's halves, so that rounding leaves no gap between them
FLOOR = 3.0  # mm between the passages of the tubes and the hollow of the outlet
STEPS = 48  # on each lobe
TAPER = 2.0  # mm along a tube in which its passage widens by one
LEAD = 4.0  # mm past the mitre before it widens
FAR = 500.0  # mm
SECTIONS = 8


@dataclass(frozen=True, eq=False)
class Collected:
    """The data of a printed collector: `ends`, the runs that go in, and the fits of their spigots.

    `outlet` is the joint at which the outlet continues in separate parts, or a run begins, with its frame in engine
    axes; None if there is none. `follows`: the name of that run, or "" for a part of its own.
    """

    name: str
    collector: Collector
    merge: AnyMerge
    ends: tuple[Centreline, ...]
    fits: Mapping[str, JointFit]
    outlet: tuple[Frame, JointFit] | None
    follows: str = ""


def height_to(merge: AnyMerge, at: float, settings: MockSettings) -> float:
    """Printed height of a collector that ends `at` mm downstream of the plane."""
    if isinstance(merge, UnevenMerge):
        return at + reach_back(merge, settings.spigot)
    return at - min(merge.mouth, -settings.spigot)


def outlet_line(collector: Collector, merge: AnyMerge, at: float, following: Centreline | None = None) -> Centreline:
    """The centreline of the outlet from `at` mm downstream of the plane, without a name.

    Its witness line is that of the run `following` at its outlet, else on the side of the first bore.
    """
    axes = _axes(collector, merge)
    toward = axes.x if following is None else joint_frame(following, 0.0).x
    return Centreline("", (Line(1, point_in(axes, (0.0, 0.0, at)), axes.z, toward, merge.end - at),))


def outlet_tube(merge: AnyMerge, tube: Tube) -> Tube:
    """The outlet as a tube; one that tapers, where it is narrowest."""
    return Tube(2 * min(merge.outlet_outer, merge.end_outer), merge.outlet_outer - merge.outlet_inner, tube.material)


def outlet_radius(merge: AnyMerge, at: float) -> float:
    """Outside of the outlet `at` mm downstream of the plane."""
    if merge.taper_to is None:
        return merge.outlet_outer
    share = (at - merge.cone_end) / (merge.end - merge.cone_end)
    return merge.outlet_outer + share * (merge.end_outer - merge.outlet_outer)


def sleeve_stands_out(merge: AnyMerge, collector: Collector, tube: Tube, settings: MockSettings) -> float:
    """How much thicker the printed sleeves are than the collector's, mm."""
    if isinstance(merge, UnevenMerge):
        bores = _sleeve_bores_at(collector, tube, settings)
        more = [bore + settings.wall - each.outer for bore, each in zip(bores, merge.tubes, strict=True)]
        return 0.0 if merge.is_welded else max(*more, 0.0)
    return max(_sleeve_bore(collector, tube, settings) + settings.wall - merge.outer, 0.0) if merge.mouth < 0 else 0.0


def collector_part(given: Collected, tube: Tube, settings: MockSettings) -> MockPart:
    """The collector, standing on the end of its outlet. Raises UnsoundPartError if it is not sound."""
    merge, collector = given.merge, given.collector
    merge = apart(merge) if isinstance(merge, UnevenMerge) else with_seams(merge)
    axes = _axes(collector, merge)
    joint = None if given.outlet is None else seen_in(axes, given.outlet[0])
    end = merge.end if joint is None else joint.origin[2]
    joints = {line.run: seen_in(axes, joint_frame(line, line.length)) for line in given.ends}
    solid, ways = _shapes(given, merge, end, (tube, settings))
    spigots = [spigot(given.fits[number], BACK).transform(placement(frame)) for number, frame in joints.items()]
    away = [*ways, _outlet_hollow(merge, end, settings), *_words(given, merge, end)]
    if given.outlet is not None and joint is not None:
        fit = given.outlet[1]
        cutter = socket(fit, max(merge.outlet_outer, merge.end_outer), fit.core - settings.wall)
        away.append(cutter.transform(placement(joint)))
    solid = Manifold.batch_boolean([Manifold.batch_boolean([solid, *spigots], OpType.Add), *away], OpType.Subtract)
    bed = Frame((0.0, 0.0, end), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))
    standing = solid.transform(inverse(bed))
    home = Frame(point_in(axes, bed.origin), axes.x, scaled(axes.y, -1.0), scaled(axes.z, -1.0))
    heights = [end * (k + 0.5) / SECTIONS for k in range(SECTIONS)]
    level = [("", Frame((0.0, 0.0, z), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), 0.0) for z in heights]
    least = min(section.area for section in sections_at(standing, level, FAR))
    numbers = tuple(line.run for line in given.ends)
    sockets = () if given.outlet is None else ((given.follows, seen_in(home, given.outlet[0])),)
    notes = _hanging(merge, settings)
    mesh, own = sound_mesh(given.name, standing), given.collector.name
    return MockPart(
        given.name, numbers, (), mesh, home, least, sockets=sockets, notes=notes, kind="collector", collector=own
    )


def _shapes(
    given: Collected, merge: AnyMerge, end: float, of: tuple[Tube, MockSettings]
) -> tuple[Manifold, list[Manifold]]:
    """All up to `end` but for the spigots, with the room of the tubes' ends cut out, and the passages to be cut."""
    (tube, settings), collector = of, given.collector
    cores = {run: fit.core for run, fit in given.fits.items()}
    if not isinstance(merge, UnevenMerge):
        solid = _outside(merge, end) + _sleeves(merge, collector, tube, settings)
        bore = min(cores.values()) - settings.wall
        return solid - _sleeve_bores(merge, collector, tube, settings), _ways(merge, bore, settings)
    bores = _sleeve_bores_at(collector, tube, settings)
    ends = [(end, outlet_radius(merge, end))] if end > merge.cone_end + 1e-6 else []
    solid = outside_of_tubes(merge) + solid_of(_between_rings(rings_of(merge, ends)))
    solid = solid + sleeves_of(merge, bores, settings.wall)
    low = min(merge.mouth, -settings.spigot) - 1.0
    ways = [core - settings.wall for core in cores_of(collector, cores)]
    return solid - sleeve_bores_of(merge, bores, low), ways_of(merge, ways, settings)


def _hanging(merge: AnyMerge, settings: MockSettings) -> tuple[str, ...]:
    """A note where its tubes lean more than can be printed without support."""
    lean = steepest_lean(merge) if isinstance(merge, UnevenMerge) else merge.half_angle
    if lean <= settings.lean:
        return ()
    return (f"leans {math.degrees(lean):.0f}° from the vertical: it needs support outside",)


def _axes(collector: Collector, merge: AnyMerge) -> Frame:
    """The axes of the collector, with x toward its first bore where they are evenly round it."""
    frame = collector.frame
    if isinstance(merge, UnevenMerge):
        return frame
    x = add(scaled(frame.x, math.cos(merge.turn)), frame.y, math.sin(merge.turn))
    return Frame(frame.origin, x, cross(frame.z, x), frame.z)


def _round_axis(merge: Merge, first: Manifold) -> Manifold:
    turns = [first.rotate((0.0, 0.0, 360.0 * k / merge.count)) for k in range(merge.count)]
    return Manifold.batch_boolean(turns, OpType.Add)


def _kept(solid: Manifold, normal: Vec, origin: Vec) -> Manifold:
    """The part of a solid behind a plane, against its normal."""
    x, y, z = (-value for value in normal)
    return solid.trim_by_plane((x, y, z), x * origin[0] + y * origin[1] + z * origin[2])


def _tube(merge: Merge, radius: float, start: float, inset: float, leaning: Manifold) -> Manifold:
    """A straight tube from `start`, mitred to a leaning one, trimmed at the planes to its neighbours and at the cut.

    `leaning` is along z about its own centre, at the mitre. `inset` keeps it off the planes; if negative, it extends
    past them and past the cut.
    """
    half, middle = merge.half_angle, (merge.ring, 0.0, merge.mitre)
    mitre = (-math.sin(half / 2), 0.0, math.cos(half / 2))
    straight = prism(CrossSection.circle(radius, SIDES), start, merge.mitre + radius).translate((merge.ring, 0.0, 0.0))
    turned = leaning.rotate((0.0, -math.degrees(half), 0.0)).translate(middle)
    back = (-mitre[0], -mitre[1], -mitre[2])
    turned = _kept(
        _kept(turned, back, add(middle, back, ACROSS)),
        (0.0, 0.0, 1.0),
        (0.0, 0.0, merge.cut + (0.0 if inset > 0 else OVERLAP)),
    )
    for way in (1.0, -1.0):
        normal = (-math.sin(merge.sector), way * math.cos(merge.sector), 0.0)
        turned = _kept(turned, normal, (-inset * normal[0], -inset * normal[1], 0.0))
    return _kept(straight, mitre, add(middle, mitre, ACROSS)) + turned


def _outside(merge: Merge, end: float) -> Manifold:
    """The outside, filled, from the mouth or the plane to `end`."""
    leaning = prism(CrossSection.circle(merge.outer, SIDES), -4 * merge.outer, FAR)
    first = _tube(merge, merge.outer, merge.mouth, -ACROSS, leaning)
    return _round_axis(merge, first) + solid_of(_cone(merge, end))


def _cone(merge: Merge, end: float) -> TriangleMesh:
    """From the lobes at the cut to the outlet by straight rulings, and on to `end`, in one mesh."""
    rings = [_ring(merge, lobe_outline(merge, merge.outer, STEPS), merge.cut)]
    rings.append(_ring(merge, outlet_arc(merge, merge.outlet_outer, STEPS), merge.cone_end))
    if end > merge.cone_end + 1e-6:
        flat = rings[1][:, :2] * (1.0 if merge.taper_to is None else outlet_radius(merge, end) / merge.outlet_outer)
        rings.append(np.column_stack([flat, np.full(len(flat), end)]))
    return _between_rings(rings)


def _between_rings(rings: Sequence[Points]) -> TriangleMesh:
    """A solid between outlines (n, 3) of equal size round the axis, each at its height, with flat ends."""
    count = len(rings[0])
    j = np.arange(count)
    after = (j + 1) % count
    faces = []
    for k in range(len(rings) - 1):
        low, high = k * count, (k + 1) * count
        faces += [
            np.column_stack([low + j, low + after, high + after]),
            np.column_stack([low + j, high + after, high + j]),
        ]
    first, last = len(rings) * count, len(rings) * count + 1
    faces.append(np.column_stack([np.full(count, first), after, j]))
    faces.append(
        np.column_stack([np.full(count, last), (len(rings) - 1) * count + j, (len(rings) - 1) * count + after])
    )
    middles = [[0.0, 0.0, float(rings[0][0, 2])], [0.0, 0.0, float(rings[-1][0, 2])]]
    return TriangleMesh(np.concatenate([*rings, middles]), np.concatenate(faces), closed=True)


def _ring(merge: Merge, lobe: Points, at: float) -> Points:
    """(n, 3) the outline of one lobe repeated round the axis, without the ends that neighbours share."""
    found = []
    for k in range(merge.count):
        angle = 2 * math.pi * k / merge.count
        c, s = math.cos(angle), math.sin(angle)
        found.append(lobe[:-1] @ np.array([[c, s], [-s, c]]))
    flat = np.concatenate(found)
    return np.column_stack([flat, np.full(len(flat), at)])


def _sleeve_bore(collector: Collector, tube: Tube, settings: MockSettings) -> float:
    return tube.radius + max(collector.gap, settings.gap)


def _sleeve_bores_at(collector: Collector, tube: Tube, settings: MockSettings) -> list[float]:
    """Radius of the room of each tube's end."""
    return [_sleeve_bore(collector, each, settings) for each in tubes_at(collector, tube)]


def _sleeves(merge: Merge, collector: Collector, tube: Tube, settings: MockSettings) -> Manifold:
    """The extra thickness of the sleeves; nothing for a welded collector."""
    if merge.mouth >= 0.0:
        return Manifold()
    outer = max(merge.outer, _sleeve_bore(collector, tube, settings) + settings.wall)
    sleeve = prism(CrossSection.circle(outer, SIDES), merge.mouth, 0.0).translate((merge.ring, 0.0, 0.0))
    return _round_axis(merge, sleeve)


def _sleeve_bores(merge: Merge, collector: Collector, tube: Tube, settings: MockSettings) -> Manifold:
    """The room of the tubes' ends, down to the plane on which they stop."""
    bore = CrossSection.circle(_sleeve_bore(collector, tube, settings), SIDES)
    low = min(merge.mouth, -settings.spigot) - 1.0
    return _round_axis(merge, prism(bore, low, 0.0).translate((merge.ring, 0.0, 0.0)))


def _ways(merge: Merge, bore: float, settings: MockSettings) -> list[Manifold]:
    """The passage in each tube: first as wide as its spigot allows, then wider, closed at the cut."""
    wide = max(bore, merge.outer - settings.wall - 1.0)
    start, far = merge.outer * math.tan(merge.half_angle / 2) + LEAD, FAR
    widened = start + TAPER * (wide - bore)
    profile = [(0.0, -4 * bore), (bore, -4 * bore), (bore, start), (wide, widened), (wide, far), (0.0, far)]
    leaning = Manifold.revolve(CrossSection([profile]), SIDES)
    first = _tube(merge, bore, -settings.spigot - 1.0, settings.wall / 2, leaning)
    return [first.rotate((0.0, 0.0, 360.0 * k / merge.count)) for k in range(merge.count)]


def _outlet_hollow(merge: AnyMerge, end: float, settings: MockSettings) -> Manifold:
    """From the end up into the cone, closing at 45°."""
    if isinstance(merge, UnevenMerge):
        dip = least_reach(merge)
    else:
        dip = valley(merge.cut_ring, merge.outer, merge.half_angle, merge.sector)
    radius, top = min(merge.outlet_outer, outlet_radius(merge, end), dip) - settings.wall - 1.0, merge.cut + FLOOR
    if radius <= 1.0 or end <= top:
        return Manifold()
    low = max(top + radius, end) + 1.0
    profile = [(0.0, top), (radius, top + radius), (radius, low), (0.0, low)]
    return Manifold.revolve(CrossSection([profile]), SIDES)


def _words(given: Collected, merge: AnyMerge, end: float) -> Sequence[Manifold]:
    """Its name and an arrow downstream on the outlet, or on a tube if the outlet is too short."""
    name = f"{TO_COLLECTOR}{given.name}"
    outlet = end - merge.cone_end - (0.0 if given.outlet is None else given.outlet[1].depth + 3.0)
    if outlet >= HEIGHT + 4.0:
        return text_solid(name, _on_outlet(merge, merge.cone_end + outlet / 2))
    if isinstance(merge, UnevenMerge):
        return list(words_on_tube(merge, name))
    half = math.degrees(merge.half_angle)
    bars = text_solid(name, on_round(merge.outer, 0.0, HEIGHT + 2.0))
    return [bar.rotate((0.0, -half, 0.0)).translate((merge.ring, 0.0, merge.mitre)) for bar in bars]


def _on_outlet(merge: AnyMerge, at: float) -> Surface:
    """A line of text round the outlet, on its slope if it tapers."""
    if merge.taper_to is None:
        return on_round(merge.outlet_outer, 0.0, at)

    def surface(right: float, up: float) -> tuple[Points, Points]:
        return on_round(outlet_radius(merge, at - up), 0.0, at)(right, up)

    return surface
