"""The sheet of the fit mock: what to print, how, and the order of assembly."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from headergen.geometry.plate.united import tubes_together
from headergen.model import (
    CutGuide,
    CutPiece,
    Job,
    MockSettings,
    PlatePair,
    PrintedPart,
    SaddleFacts,
    SeatFacts,
    SteelStraight,
)
from headergen.words.numbers import INCH, both, box_in
from headergen.words.say import capital, say_angle, say_list
from headergen.words.seated import said_of_seats

WIDEST_LINE = 0.65  # mm that a nozzle of 0.4 mm lays down in one line


@dataclass(frozen=True)
class MockFacts:
    """What the sheet tells: `errors` counts the header's error findings, `plates` the build plates.

    `order`: names of tube parts and steel straights as they go on; `pieces` those of the plan; `hours` of each plate.
    """

    job: Job
    errors: int
    settings: MockSettings
    parts: tuple[PrintedPart, ...]
    plates: int
    notes: tuple[str, ...]
    pairs: tuple[PlatePair, ...] = ()
    cuts: tuple[CutGuide, ...] = ()
    together: str = ""  # the picture of all parts, a file beside the sheet
    pictures: tuple[tuple[str, str, str], ...] = ()  # of each run: its name, its mark, and the file beside the sheet
    failed: tuple[tuple[str, str], ...] = ()  # what could not be made, and why
    units: str = "mm"  # of the job: first on the sheet
    flanges: int = 1  # of the header
    order: tuple[str, ...] = ()
    pieces: tuple[CutPiece, ...] = ()
    straights: tuple[SteelStraight, ...] = ()
    hours: tuple[float, ...] = ()
    hours_for: tuple[tuple[str, float], ...] = ()  # the same hours by kind of parts
    saddles: tuple[SaddleFacts, ...] = ()
    seats: tuple[SeatFacts, ...] = ()
    runs_after: tuple[str, ...] = ()  # names of the runs that begin on a collector
    saddle_pictures: tuple[tuple[str, str], ...] = ()  # of each run with saddles: its name, and the file


def write_mock_sheet(path: Path, facts: MockFacts) -> None:
    path.write_text("\n".join(_lines(facts)) + "\n", encoding="utf-8", newline="\n")


def _lines(facts: MockFacts) -> Iterator[str]:
    job, settings = facts.job, facts.settings
    yield f"# Fit mock: {job.title}, revision {job.revision}, {job.date}"
    yield ""
    if facts.errors:
        plural = "" if facts.errors == 1 else "s"
        yield f"**NOT CLEARED: this header has {facts.errors} error finding{plural}. The mock shows it as it is.**"
        yield ""
    for what, why in facts.failed:
        yield from (f"**NOT COMPLETE: {what} could not be made ({why}).**", "")
    cm3 = sum(part.volume for part in facts.parts) / 1000
    yield (
        f"{len(facts.parts)} parts on {facts.plates} build plates; at most {cm3:.0f} cm³ or "
        f"{cm3 * settings.density:.0f} g of plastic if printed solid at {settings.density:g} g/cm³."
    )
    yield ""
    yield from _hours(facts)
    yield "Plastic is for trying the fit only. Never use it on a running or hot engine, and keep it clear of welding."
    yield ""
    own = settings.letter
    yield (
        f"What the marks on parts mean: {own}F1 a flange plate, {own}P2-3 the twin of piece 3 of primary 2, as the "
        f"shop's sheets number it; {own}P2-3.1 and {own}P2-3.2 where that piece is printed in two, from the flange on; "
        f"{own}L1 a locating plate, {own}P2-L what goes through it in place of a printed collector, {own}C1 a "
        f"collector, {own}G2-1 a cut guide for the tubes of collector {own}C2, {own}J2-3 the steel adapter at joint 3 "
        "of primary 2."
        + (f" {own}H2-3 is the saddle for that joint." if facts.saddles else "")
        + (f" {own}NR4 is the nipple before the last part of R4." if any(s.nipple for s in facts.seats) else "")
        + (
            f" {own}R1-3 is the twin of piece 3 of the run that begins on collector {own}C1, {own}JR1-3 the steel "
            "adapter at its joint 3."
            if _has_runs_after(facts)
            else ""
        )
    )
    yield ""
    if facts.together:
        yield from (f"![All parts of the fit mock, each with its name]({facts.together})", "")
    yield from _before_printing(settings, facts.units)
    yield from _together(facts)
    yield from _twins(facts)
    yield from _straights(facts)
    for name, mark, file in facts.pictures:
        yield from (f"![{capital(name)}: parts {mark}-1, {mark}-2 … by their last number]({file})", "")
    for pair in facts.pairs:
        yield from _locating(pair, settings.gap, facts.units)
    yield from _guides(facts.cuts, facts.units)
    yield from _saddles(facts)
    yield from _table(facts)
    if facts.notes:
        yield from ("## Where the print differs from the steel", "")
        yield from (f"- {note}" for note in facts.notes)
        yield ""


def _hours(facts: MockFacts) -> Iterator[str]:
    if facts.hours:
        each = ", ".join(f"plate {number} {value:.0f}" for number, value in enumerate(facts.hours, 1))
        yield (
            f"Hours of printing to expect: {sum(facts.hours):.0f} ({each}), ±25 %, with layers of 0.2 mm through a "
            "nozzle of 0.4 mm and lines laid at 60 mm/s. The slicer knows your printer better."
        )
        yield ""
    if len(facts.hours_for) > 1:
        kinds = ", ".join(f"{kind} {value:.0f}" for kind, value in facts.hours_for)
        by_hand = " Locating plates can be sawn from plywood by their DXF instead." if "locating" in kinds else ""
        yield f"Of these hours: {kinds}.{by_hand}"
        yield ""


def _box(size: Sequence[float], units: str) -> str:
    """Three dimensions in the job's unit, followed by the other unit."""
    said = [box_in(unit, size) for unit in ("mm", "in")]
    first, second = said if units == "mm" else reversed(said)
    return f"{first} ({second})"


def _before_printing(settings: MockSettings, units: str) -> Iterator[str]:
    gap = settings.gap
    yield from ("## Before printing", "")
    yield (
        f"1. Print `coupon_1.3mf`. The ring marked {gap:.2f} (mm) has the gap these parts have, {both(units, gap, 2)} "
        "to each side. If another ring fits better, write its figure as `gap` under `mock` in the spec, "
        "with mm, and build again. Try the spigot in the steel tube as well."
    )
    yield (
        f"2. Print the plates as they stand, for a bed of {_box(settings.bed, units)}: each part stands on its end "
        "toward the collector, without support except where the list of parts says so. A brim holds the tall ones."
    )
    lines = math.ceil(settings.tube_wall / WIDEST_LINE)
    yield (
        f"3. Slice with {lines} perimeters, {settings.tube_wall / lines:.2f} mm wide, 4 solid layers on top and 3 "
        f"below, and 15 % infill: the tubes are {both(units, settings.tube_wall, 2)} thick between their joints, "
        "measured level as they stand, which is those lines and nothing between them. Joints are thicker."
    )
    yield ""


def _twins(facts: MockFacts) -> Iterator[str]:
    """Which part stands for which piece of steel."""
    if not facts.pieces:
        return
    yield from ("## Which part stands for which piece", "")
    yield "Pieces have the numbers of shop.json and the shop's sheets. As a piece goes in, its parts come off."
    yield ""
    yield from (f"| piece | what it is | length, {facts.units} | in the mock |", "|---|---|---|---|")
    for piece in facts.pieces:
        number = _short(piece.run)
        what = f"bend of {say_angle(piece.angle)}" if piece.is_bend else "straight"
        length = f"{piece.length / INCH:.3f}" if facts.units == "in" else f"{piece.length:.1f}"
        yield f"| {number}-{piece.number} | {what} | {length} | {', '.join(_stands_for(piece, facts)) or '–'} |"
    yield ""


def _saddles(facts: MockFacts) -> Iterator[str]:
    """How the pieces of a joint are held to be tacked."""
    if not facts.saddles:
        return
    yield from ("## Saddles: two pieces held to be tacked", "")
    yield (
        "Lay the piece before the joint, then the piece after it, into the ribs of its saddle, the arrow toward the "
        "collector, until both rest on the bottom and their faces meet in the middle of the window. Turn each until "
        "the line that the table names shows in the slot of its rib; where a bend sets the turn, it lies in its rib "
        "in one way only. Tie both down beside the ribs. Tack at the top and on both sides, one short tack at a time, "
        "and let it cool before the next: the plastic softens at 60 °C. Lift the tube out before it is welded."
    )
    yield ""
    yield from ("| saddle | joint | piece before it | piece after it |", "|---|---|---|---|")
    for each in facts.saddles:
        shown = [
            f"{line}{'; its bend sets the turn' if holds else ''}"
            for line, holds in zip(each.lines, each.holds_turn, strict=True)
        ]
        yield f"| {each.name} | {_short(each.run)}-{each.joint} | {' | '.join(shown)} |"
    yield ""
    yield "How many of 100 tubes close with saddles and without is in the report and on the shop's sheets."
    yield ""
    for name, file in facts.saddle_pictures:
        yield from (f"![The saddles of {name}, each at its joint]({file})", "")


def _short(run: str) -> str:
    """2 of primary 2, the collector's name of a secondary."""
    return run.partition(" ")[2]


def _stands_for(piece: CutPiece, facts: MockFacts) -> Iterator[str]:
    for part in facts.parts:
        if piece.run in part.runs and piece.number in part.pieces:
            yield f"{part.name} (its beginning)" if part.kind == "flange plate" else part.name
    for straight in facts.straights:
        if (straight.run, straight.piece) == (piece.run, piece.number):
            yield f"{straight.name} (steel)"


def _straights(facts: MockFacts) -> Iterator[str]:
    """What is sawn of real tube, and what goes into its ends."""
    if not facts.straights:
        return
    units, spigot = facts.units, both(facts.units, facts.settings.spigot)
    yield from ("## Straights of real tube", "")
    yield (
        "Saw them square from the header's own tube, or from the one that is named, and deburr them inside. These are "
        f"net lengths, face to face: what stands {spigot} or more inside an end is counted, and nothing is left on for "
        "welds. Draw a line along each: the grooved rib of the adapter before it and the groove in the part after it "
        "stand on that line. Where two of them meet, line stands to line."
    )
    yield ""
    if legs := [each.length for each in facts.straights if each.is_leg]:
        yield (
            f"Legs of bends take {both(units, sum(legs))} of tube that the cut list does not have: the steel has them "
            "from its bends. Saw them from offcuts, or from straights before those are cut to length, and keep them "
            "for the next mock."
        )
        yield ""
    yield from ("| tube | piece | length | before it | after it | |", "|---|---|---|---|---|---|")
    for each in facts.straights:
        number = _short(each.run)
        said = [f"the flange plate has {both(units, each.in_stub)} of the piece"] if each.in_stub > 0.05 else []
        said += [f"{both(units, each.past)} longer, for the locating plates"] if each.past > 0.05 else []
        said += [] if each.size is None else [f"tube {' × '.join(both(units, length) for length in each.size)}"]
        piece = f"{number}-{each.piece}{', a leg' if each.is_leg else ''}"
        yield (
            f"| {each.name} | {piece} | {both(units, each.length)} | {each.before} | "
            f"{each.after or 'the collector'} | {'; '.join(said)} |"
        )
    yield ""


def _together(facts: MockFacts) -> Iterator[str]:
    yield from ("## Putting it together", "")
    head = "the head" if facts.flanges == 1 else "the heads, each to the flange that the list of parts names,"
    first = f"Bolt the F plates to {head} in the order of their numbers. " if facts.settings.flange else ""
    yield (
        f"1. {first}From the flange on, push the spigot of each part into the part before it; the arrow points to the "
        "collector. The ribs drop into their notches in one rotation only. A part that does not go in is the wrong "
        "one, or the wrong way round: do not force it."
    )
    yield (
        f"   Put them on in this order: {', then '.join(_runs(facts))}. It was found by trying each part's way past "
        "those already on, not past the chassis. Where tubes cross, another order may not work."
    )
    yield from (f"   {said}" for said in said_of_seats(facts.seats, facts.order))
    if mine := facts.settings.letter:
        other = "A" if mine == "B" else "B"
        yield (
            f"   The marks of these parts begin with {mine}, for bank {mine}. Parts of bank {other} do not fit them, "
            f"where its spec says `letter: {other}`."
        )
    yield "2. Push until the faces meet all round. The lengths are right only then."
    yield (
        "3. Replace printed parts with steel piece by piece, starting at the flange: the parts with a piece's number "
        "come off as it goes in. The spigot of the next part goes into the steel bore, the groove beside its stop face "
        "at the witness line."
    )
    adapters = [part.name for part in facts.parts if part.kind == "steel adapter"]
    if adapters:
        yield (
            f"   Steel after plastic: {', '.join(adapters)}. Push the steel adapter into the socket first, its ribs "
            "into their notches. Then push the steel over its other half until the faces meet, its witness line at the "
            "grooved rib."
        )
    elif not facts.settings.steel_after:
        yield "   To try steel after plastic, list the joint under `steel_after` in `mock`: a steel adapter is printed."
    printed = [part.name for part in facts.parts if part.kind == "collector"]
    begun_on = [name for name in printed if name in facts.order]
    if begun_on:
        yield (
            f"   {say_list(begun_on)} {'goes' if len(begun_on) == 1 else 'go'} on where the order says so, in place of "
            "the locating plates: all spigots at once, each into the tube that its ribs fit. The next run goes into "
            "its outlet."
        )
    collectors = [name for name in printed if name not in begun_on]
    if collectors:
        yield (
            f"   The collector goes on last ({', '.join(collectors)}), in place of the locating plates: all its "
            "spigots at once, each into the tube that its ribs fit. Turn it until it goes; there is only one way."
        )
    if facts.settings.without_key:
        joints = ", ".join(f"joint {joint} of {run}" for run, joint in facts.settings.without_key)
        yield (
            f"4. Free to turn: {joints}. The marks stand 10° apart. Read how far the long one is past the notch "
            "in the part before, clockwise positive looking along the travel, and add that to the rotation of the next "
            "bend in the spec. Without ribs such a spigot is loose in a steel bore."
        )
    yield ""


def _has_runs_after(facts: MockFacts) -> bool:
    return any(run in facts.runs_after for part in facts.parts for run in part.runs)


def _runs(facts: MockFacts) -> Iterator[str]:
    """Tube parts and steel straights in the order in which they go on, those of one run together: 'P1-1 to P1-4', or
    each by its name where steel is among them; and the collectors that runs begin on."""
    steel_of = {straight.name: straight.run for straight in facts.straights}
    tubes = {part.name: part.runs[0] for part in facts.parts if part.kind == "tube"} | steel_of
    order = facts.order or [part.name for part in facts.parts if part.kind == "tube"]
    runs = {name: tubes.get(name, name) for name in order}
    for _, run in groupby(runs, key=lambda name: runs[name]):
        names = list(run)
        if len(names) > 1 and steel_of.keys().isdisjoint(names):
            yield f"{names[0]} to {names[-1]}"
        else:
            yield ", ".join(names)


def _printed_ends(pair: PlatePair) -> str:
    first, second = pair.plates
    if pair.stand_in:
        return (
            f"{', '.join(pair.stand_in)} go through both plates. The steel is trimmed where they meet the part before. "
            "Take them off, and both plates, before the printed collector goes on."
        )
    if pair.run:
        return (
            f"The printed end goes through {first.name} and {second.name} as well. The groove round it marks the end "
            "of the run, where the steel is trimmed; saw the plastic there to try it in its place."
        )
    return (
        f"The printed ends go through {first.name} and {second.name} as well. The groove round each marks the "
        "collector plane, where the steel is trimmed; saw the plastic there to try a steel collector on it."
    )


def _locating(pair: PlatePair, gap: float, units: str) -> Iterator[str]:
    """The text of one pair; the length to add is first and large, because every last cut needs it."""
    first, second = pair.plates
    extra = both(units, pair.add)
    what = f"The end of {pair.run}" if pair.run else f"Collector {second.collector}"
    if pair.add > 0:
        tubes = "the run" if pair.run else f"each {pair.tubes}"
        yield f"# {what}: LEAVE {extra} EXTRA on the {'far' if pair.run else 'collector'} end of {tubes}"
        yield ""
        short, tacked = ("straight is", "tube is") if pair.run else ("straights are", "tubes are")
        steel = "the steel run" if pair.run else f"each steel {pair.tubes}"
        yield (
            f"The last {short} too short for both plates. Cut the last piece of {steel} {extra} "
            f"longer than the header has it, flush with the outer face of {second.name}, and trim it when the "
            f"{tacked} tacked."
        )
        yield ""
        yield _printed_ends(pair)
    else:
        yield f"# {what}: locating plates {first.name} and {second.name}"
        yield ""
        stand = "straight; the end is" if pair.run else "straights; the ends are"
        yield f"Both plates stand on the last {stand} flush with the outer face of {second.name}."
    yield ""
    yield from _plates_stand(pair, gap, units)
    for datum in pair.datums:
        side = "past" if datum.is_past else "before"
        packed = f"{both(units, datum.spacer)} {side} {datum.plate}: pack it out by as much"
        where = packed if datum.spacer > 0.05 else f"within {datum.plate}"
        yield f"- Both plates have a hole for {datum.name}, bolt or strap. The point is {where}."
    yield (
        "- Plastic holds tubes for measuring. Wherever tacks are made, cut the plates from steel by their DXF: plastic "
        "and plywood burn and give off fumes."
    )
    yield ""


def _plates_stand(pair: PlatePair, gap: float, units: str) -> Iterator[str]:
    """Where the plates of a pair stand, what they leave to the tubes, and on what they stand."""
    first, second = pair.plates
    reach = "past" if first.downstream > 0 else "before"
    plane = "end of the run" if pair.run else "collector plane"
    yield (
        f"- {first.name} stands with its outer face {both(units, abs(first.downstream))} {reach} the "
        f"{plane}, {second.name} {both(units, pair.apart)} farther on, faces parallel: two M8 rods with nuts keep "
        "them apart."
    )
    yield (
        f"- With {both(units, gap, 2)} to each side a tube can lean {math.degrees(pair.lean):.2f}° between them, no "
        "more. Push every tube to the same side of its hole before you measure."
    )
    if pair.leaning:
        yield f"- Tubes lean {say_angle(pair.leaning)}, in slots; each end is flush with {second.name} where shortest."
    for runs in tubes_together(first.holes):
        yield (
            f"- {', '.join(map(capital, runs))} share one opening, since too little plate would stand between "
            "them: strap them together, so that they hold each other."
        )
    tilt = math.degrees(pair.tilt)
    if pair.has_feet and tilt >= 0.05:
        yield (
            f"- Both stand on the table that the spec names, {tilt:.1f}° from square to it, each on the lower side of "
            f"its edge: {first.name} and {second.name} have different outlines."
        )
    elif pair.has_feet:
        yield "- Both stand square on the table that the spec names."
    else:
        yield "- No table is named in the spec, or it is out of reach: clamp the plates by their rods."
    yield f"- Lettered faces of {first.name} and {second.name} face the engine; a DXF shows that face."


def _guides(cuts: Sequence[CutGuide], units: str) -> Iterator[str]:
    if not cuts:
        return
    yield from ("## Cut guides", "")
    yield (
        "Draw a witness line along the tube. Slip the guide on with its cut toward the end, the line in the middle of "
        "its window and under its groove; a strap round the foot closes the slit. Mark round the inner edge of its "
        "face, or saw along it, then take the guide off to file. Plastic melts: no torch, no grinding against it."
    )
    yield ""
    for cut in cuts:
        tubes = f"{cut.count} tubes of collector {cut.collector}, {both(units, cut.diameter)}"
        middle = both(units, abs(cut.reach))
        if cut.what == "mitre":
            yield (
                f"- {cut.name}: the mitre of all {tubes}, {math.degrees(cut.angle):.2f}° from square. One cut gives "
                f"both sides of it: turn one half by 180°. Its middle is {middle} from the guide's square end."
            )
        else:
            where = "within the guide" if cut.reach > 0 else "outside the guide, before its square end"
            yield (
                f"- {cut.name}: the downstream end of all {tubes}, cut before the mitre. The mitre's middle is "
                f"{middle} from the guide's square end, {where}. The witness line is on the side away from the "
                "collector's axis."
            )
    yield ""


def _table(facts: MockFacts) -> Iterator[str]:
    parts, settings, units = facts.parts, facts.settings, facts.units
    yield from ("## Parts", "")
    yield (
        f"| part | tubes | pieces of its steel | build plate | size on the bed, {units} | plastic, cm³ | "
        "smallest section, mm² | stress, MPa | overhang |"
    )
    yield "|---|---|---|---|---|---|---|---|---|"
    for part in parts:
        tubes = ", ".join(part.runs)
        pieces = ", ".join(f"piece {number}" for number in part.pieces)
        size = " × ".join(f"{each / INCH:.1f}" if units == "in" else f"{each:.0f}" for each in part.size)
        stress = f"{part.stress:.2f}" if part.stress else "–"
        section = f"{part.smallest_section:.0f}" if part.smallest_section else "–"
        yield (
            f"| {part.name} | {tubes} | {pieces} | {part.build_plate} | {size} | "
            f"{part.volume / 1000:.1f} | {section} | {stress} | {100 * part.overhang:.1f} % |"
        )
    yield ""
    after = ", each run after a collector by that collector" if _has_runs_after(facts) else ""
    yield (
        f"Stress: each primary held by its flange alone{after}, lying the worst way, with {settings.weight:g} g hung "
        "on its end in addition to the plastic's own weight. Parts printed with little infill bear less."
    )
    yield ""
    for part in parts:
        yield from (f"- {part.name}: {note}" for note in part.notes)
    if any(part.notes for part in parts):
        yield ""
