"""What report.md says of the parts that are no primaries: transitions, collectors, secondaries, and all made parts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headergen.geometry.transition.rulings import rounds, section_areas, stretch
from headergen.model import Collector, Result
from headergen.outputs.report.collectors import MergeFlow, merge_flows, without_merge
from headergen.outputs.report.facts import bends, part_mass, weight
from headergen.outputs.report.paper import area, both, degrees, plain, table


def transitions(result: Result) -> Iterator[str]:
    draft, units = result.header.draft, result.header.draft.units
    rows = []
    for port in draft.flange.ports:
        if port.transition:
            change, areas = stretch(port.shape, draft.tube), section_areas(port.shape, draft.tube)[:, 1]
            way = "swage from tube" if abs(change) <= draft.limits.forming else "make of sheet"
            shown = [area(units, float(each)) for each in (areas[0], areas.min(), areas[-1])]
            rows.append((str(port.number), both(units, port.transition), f"{100 * change:+.1f} %, {way}", *shown))
    if rows:
        yield "## Transitions"
        yield table(("Port", "Length", "Round the port", "Area of the port", "Smallest area", "Area of the tube"), rows)
        yield from _how_formed(result)


def _how_formed(result: Result) -> Iterator[str]:
    """How each kind of transition is formed, and where its flat pattern is drawn."""
    units = result.header.draft.units
    draft, alike = result.header.draft, dict[str, list[str]]()
    drawn = {part.name: [file for file in part.files if file.endswith(".dxf")] for part in result.parts}
    for port in draft.flange.ports:
        if port.transition:
            around, tube = (f"{both(units, each)} round" for each in rounds(port.shape, draft.tube))
            pattern = " ".join(drawn.get(f"transition {port.number}", ()))
            if abs(stretch(port.shape, draft.tube)) <= draft.limits.forming:
                said = f"swage the end of a tube from {tube} to {around} (middle of the wall) over a plug of its shape"
                said += f"; or, of sheet, cut its flat pattern {pattern}" if pattern else ""
            else:
                said = f"from {around} to {tube} (middle of the wall), more than tube is easily formed to; of sheet"
                said += f": cut its flat pattern {pattern}" if pattern else ""
            alike.setdefault(said, []).append(str(port.number))
    yield "\n".join(f"- Port {', '.join(numbers)}: {said}." for said, numbers in alike.items())


def collectors(result: Result) -> Iterator[str]:
    flows, bare = list(merge_flows(result.header.draft)), without_merge(result.header.draft)
    if flows or bare:
        yield "## Collectors"
    yield from map(plain, bare)
    if flows:
        yield from _merges(flows, result.header.draft.units)


def _merges(flows: Sequence[tuple[Collector, MergeFlow]], units: str) -> Iterator[str]:
    rows = []
    for collector, flow in flows:
        merge, least = flow.merge, flow.smallest
        at_outlet = least.at >= merge.cone_end - 1e-6
        rows.append(
            (
                plain(collector.name),
                f"{merge.count}, {degrees(merge.half_angle)}",
                both(units, merge.cut),
                both(units, merge.cone_end),
                f"{area(units, least.area)}, "
                + ("in the outlet" if at_outlet else f"{both(units, least.at)} after the plane"),
                f"{flow.to_one:.2f}",
                f"{flow.to_all:.2f}",
            )
        )
    heads = ("Collector", "Bores, half angle", "Tubes cut at", "Outlet from", "Smallest flow area")
    yield table((*heads, "Area ÷ one inlet", "Area ÷ all inlets"), rows)
    yield "Lengths count from the collector plane. Flow areas are sections square to the collector's axis:"
    for collector, flow in flows:
        yield f"Collector {plain(collector.name)}: {_stations(flow, units)}."
        if collector.join == "weld" and flow.merge.count > 2:
            yield f"Collector {plain(collector.name)} is welded on. {_welded_order(collector)}"


def _welded_order(collector: Collector) -> str:
    """No torch reaches the middle between the tubes once the collector is on."""
    closer = "its spike, which belongs to the tubes," if collector.spike else "a piece of plate cut to fit"
    return (
        "Before it goes on, tack the tubes in their bundle and close the middle between them from their open ends with "
        f"{closer} welded to every tube all round; then put the collector on and weld round the outside."
    )


def _stations(flow: MergeFlow, units: str) -> str:
    shown = [each for k, each in enumerate(flow.areas) if k % 6 == 0 or each is flow.areas[-1]]
    return ", ".join(f"{area(units, each.area)} at {both(units, each.at, 0)}" for each in shown)


def secondaries(result: Result) -> Iterator[str]:
    units = result.header.draft.units
    rows = []
    for each, line in result.header.tubes:
        if each.is_primary:
            continue
        count, turned = bends(each)
        tube = f"{both(units, each.tube.outside_diameter)} × {both(units, each.tube.wall)}"
        into = f"{plain(each.end.collector)}, {each.end.number}"
        length = both(units, line.length)
        rows.append((plain(each.source), into, tube, f"{count}, {degrees(turned)} in all", length))
    if rows:
        yield "## Secondaries"
        yield table(("From the outlet of", "Collector, bore", "Tube", "Bends", "To the collector plane"), rows)


def bosses(result: Result) -> Iterator[str]:
    units = result.header.draft.units
    rows = []
    for boss in result.header.draft.bosses:
        host = f"outlet of {plain(boss.host)}" if boss.on_outlet else plain(boss.host)
        size = f"{both(units, boss.outside_diameter)} × {both(units, boss.height)}"
        place = (both(units, boss.at), degrees(boss.clock))
        rows.append((plain(boss.name), host, *place, size, both(units, boss.hole, 2), plain(boss.thread) or "none"))
    if rows:
        yield "## Bosses"
        yield table(("Boss", "On", "At", "Clock", "Outside, over the skin", "Drill", "Tap"), rows)


def parts(result: Result) -> Iterator[str]:
    if not result.parts:
        return
    yield "## Parts"
    rows = []
    for p in result.parts:
        grams = part_mass(result.header.draft.tube, p)
        weighs = "not known" if grams is None else f"{grams:.0f} g"
        closed, files = "yes" if p.closed else "NO", ", ".join(map(plain, p.files))
        rows.append((plain(p.name), p.role, f"{p.volume / 1000:.2f} cm³", weighs, closed, files))
    yield table(("Part", "Role", "Metal", "Mass", "Closed", "Files"), rows)
    total = weight(result)
    if total is not None:
        x, y, z = (both(result.header.draft.units, value, 0) for value in total.centre)
        yield (
            f"All parts: {total.grams / 1000:.2f} kg at nominal wall, without weld; centre of gravity at x {x}, y {y}, "
            f"z {z}. Moment at the flange if unsupported, the vehicle level: {total.moment:.1f} N·m."
        )
