"""Where the print differs from the steel: everything that the mock leaves out or makes differently."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping

from headergen.geometry.curves.stepped import is_stepped
from headergen.model import Collector, Header, MockSettings, Run
from headergen.words.numbers import with_unit
from headergen.words.say import capital, say_list


def differences(
    header: Header, settings: MockSettings, runs: Container[str], unseated: Mapping[str, str]
) -> Iterator[str]:
    """A sentence for each difference, in the order of the gas flow; `runs`: the names of those that are printed.

    `unseated`: by run on the side of others, why it is not. A collector that is asked for and cannot be printed is
    reported where it is planned.
    """
    followed = {run.source for run in header.runs}
    yield "The inside differs from the steel: walls are thicker, bores narrower, and each socket holds a spigot."
    yield from _flange(header, settings)
    if settings.plates:
        yield "The printed locating plates are open beside their holes; their DXF has them whole."
    for boss in header.draft.bosses:
        where = f"collector {boss.host}" if boss.on_outlet else boss.host
        yield f"Boss {boss.name} on {where} is not printed, nor is its sensor or plug: their clearance is not tried."
    for fitted in header.draft.fitted:
        yield f"{capital(fitted.part)} on {say_list(fitted.hosts)} is not printed: its clearance is not tried."
    for run in header.runs:
        if is_stepped(run) and settings.straights == "steel":
            yield f"{capital(run.name)} grows: a straight that grows, or is next to where it does, is printed."
    for collector in header.draft.collectors:
        yield from _collector(collector, settings, settings.collector or collector.name in followed)
    for run in header.runs:
        if run.sides and run.name in runs:
            yield from _seated(run)
        elif run.sides:
            hosts = say_list(sorted({side.run for side, _ in run.sides}))
            why = unseated.get(run.name, f"{hosts}, on which it stands, is not, or it cannot be welded there")
            yield (
                f"{capital(run.name)} is not printed, since {why}: its clearance is not tried by this mock. Hold a "
                "piece of tube there to try it."
            )
        elif run.name not in runs:
            yield (
                f"{capital(run.name)} is not printed, since collector {run.source}, which it begins on, is not: its "
                "clearance, and where it ends, are not tried by this mock."
            )


def _seated(run: Run) -> Iterator[str]:
    for side, _ in run.sides:
        yield (
            f"{capital(run.name)} sits on {side.run} with its fishmouth, in the groove there: the hole under it is not "
            "printed, nor is the weld."
        )


def _flange(header: Header, settings: MockSettings) -> Iterator[str]:
    if settings.flange:
        yield (
            "The flange plates have the steel's bolts, and round them its thickness when faced; beside them they are "
            "open and thinner. Their outline is not the steel flange's, and they have no relief slots: try gasket and "
            "sockets on the steel plate."
        )
    else:
        yield "The flange is not printed: the room for it and for sockets on its bolts is not tried by this mock."
    for flange in header.draft.flanges:
        start, tubes = flange.tube_start, f"Printed tubes{f' of {flange.part}' if flange.name else ''}"
        if start > 0.0:
            yield f"{tubes} begin on the gasket face; the steel begins {with_unit(start, settings.units)} farther out."


def _collector(collector: Collector, settings: MockSettings, is_printed: bool) -> Iterator[str]:
    if collector.mouth:
        if collector.end is not None:
            yield f"The plate at the end of {collector.bores[0].run} is not printed."
        return
    if not is_printed:
        yield (
            f"Collector {collector.name} is not printed: its clearance is not tried. `collector: true` under `mock` "
            "prints it."
        )
    if collector.end is not None:
        yield f"The part on the outlet of collector {collector.name} is not printed."
    if collector.tabs is not None:
        yield f"The spring tabs of collector {collector.name} are not printed."
    if is_printed and collector.spike:
        yield f"The spike in collector {collector.name} is not printed to shape: the passages of its tubes are closed."
