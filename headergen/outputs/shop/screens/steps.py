"""The screens of the bench, from shop.json: one for every added piece, and one for each finished tube."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from headergen.model import NINE_IN_TEN
from headergen.outputs.shop.by_hand import otherwise_of
from headergen.outputs.shop.lean_cuts import SEEN
from headergen.outputs.shop.screens.figures import Reading, amount, arcs, figure, figures, value_at, without_sign
from headergen.words.closing import of_hundred, said_of_rare_closing, said_otherwise
from headergen.words.numbers import in_units
from headergen.words.say import capital, say_list, say_way

LEANT = (("saw_deg", "saw, from square"), ("longest_mm", "longest side"), ("shortest_mm", "shortest side"))
SAW = (
    ("outside_mm", "outside"),
    ("middle_mm", "middle"),
    ("inside_mm", "inside"),
    ("angle_deg", "of the bend"),
    ("chord_outside_mm", "chord outside"),
    ("chord_inside_mm", "chord inside"),
    ("leave_on_mm", "leave on"),
)
ACROSS = (("middle_mm", "net line at"), ("leave_on_mm", "leave on"), ("saw_at_mm", "saw at"))
BEND = (
    ("first_straight_mm", "straight first"),
    ("angle_deg", "bend"),
    ("last_straight_mm", "straight last"),
    ("radius_mm", "CLR"),
)
STRAIGHT = (("first_straight_mm", "net length"),)
TABLE = (
    ("along_mm", "along"),
    ("offset_left_mm", "to the left"),
    ("height_mm", "above"),
    ("lean_deg", "leans"),
)
FEED = (("feed_mm", "feed"), ("rotation_deg", "rotate"))
BEND_TO = (("bend_to_deg", "bend to"), ("bend_deg", "is left"), ("radius_mm", "CLR"))
ON = "joint on "  # what stands before the other tube's name where a tube starts on its side
DONE = (("out_mm", "out"), ("x_mm", "along x"), ("y_mm", "along y"), ("lean_deg", "lean"))


@dataclass(frozen=True)
class WorkStep:
    """One piece of work: text, its figures, and the text after them. `tab`: its name, if a screen has several."""

    tab: str
    title: str
    said: str = ""
    figures: tuple[Reading, ...] = ()
    after: str = ""


@dataclass(frozen=True)
class Screen:
    """`name`: unique in the page, for its address and its tick. `tick`: the sentence at it; `ticked`: its word."""

    name: str
    tube: str
    title: str
    tick: str
    ticked: str
    groups: tuple[WorkStep, ...]


def buy(data: Any) -> Iterator[tuple[str, str, Reading]]:
    """What to buy: kind, size and number; what is on hand is left out."""
    for k, line in enumerate(data["order"]):
        if line["quantity"]:
            yield capital(line["what"]), line["size"], amount(data, f"/order/{k}/quantity", "to buy", line["unit"])


def screens(data: Any) -> Iterator[Screen]:
    """In the order of work: along each tube from its start."""
    for k, run in enumerate(data["runs"]):
        for number in range(len(run["pieces"])):
            yield _added(data, k, number)
        yield from _closing(data, k)
        yield from _holes(data, k)
        lengths = (("cut_length_mm", "cut length"), ("sawn_length_mm", "with what is left on"))
        yield _finished(data, f"/runs/{k}", f"tube-{k + 1}", lengths)
    for k, tube in enumerate(data["bent"]):
        yield from _bent(data, k, tube)


def _bent(data: Any, k: int, tube: Any) -> Iterator[Screen]:
    """For a tube from the shop's own bender: its blank, each bend, and the finished tube."""
    within, run, count = f"/bent/{k}", capital(tube["run"]), len(tube["bends"])
    blank = figures(data, within, (("blank_mm", "blank"), ("for_the_clamp_mm", "of it, for the clamp")))
    said = "Dress its first face: feeds count from there."
    if tube["for_the_clamp_mm"]:
        said += " What only the clamp holds is cut off after the last bend."
    saw = WorkStep("Saw", "Saw the blank", said, blank)
    yield Screen(f"bent-{k + 1}-blank", run, f"Blank; {count} bends follow", "The blank is sawn", "sawn", (saw,))
    for b in range(count):
        row = f"{within}/bends/{b}"
        fed = figures(data, row, FEED, ("rotation_deg",))
        feed = WorkStep("Feed", "Feed and rotate", f"+ is clockwise, {SEEN}.", fed)
        bend = WorkStep(
            "Bend", "Bend", "The second angle is left when it has sprung back.", figures(data, row, BEND_TO)
        )
        yield Screen(
            f"bent-{k + 1}-bend-{b + 1}", run, f"Bend {b + 1} of {count}", f"Bend {b + 1} is made", "bent", (feed, bend)
        )
    leant = tuple(_to_the_lean(data, within))
    if leant:
        yield Screen(f"bent-{k + 1}-lean", run, "First end", "Its first end is sawn to the lean", "sawn", leant)
    lengths = (("cut_length_mm", "cut length"), ("last_straight_mm", "last straight"))
    yield _finished(data, within, f"bent-{k + 1}", lengths)


def _added(data: Any, k: int, number: int) -> Screen:
    """The screen of a piece; the one before the first is the flange, or the outlet at which the tube starts.

    The first piece after the closing joint begins the part that goes into the bore.
    """
    run = data["runs"][k]
    joints, apart = len(run["joints"]), _closing_joint(run) == number
    title = f"Joint {number} of {joints}" if number else f"First piece; {joints} joints follow"
    tick, ticked = (f"Joint {number} is tacked", "tacked") if number else ("First piece is on", "on")
    groups = [_pieces(data, k, number), *_saws(data, k, number)]
    if number == 0:
        groups += _to_the_lean(data, f"/runs/{k}")
        groups += _to_the_fishmouth(data, k, "first")
    if number == len(run["pieces"]) - 1:
        groups += _to_the_fishmouth(data, k, "last")
    if apart:
        title = f"Begin the {run['ends_at']}'s side; joint {number} is closed last"
        tick, ticked = "It is sawn and dressed", "dressed"
    else:
        groups += [*_turn(data, k, number), *_check(data, k, number)]
    return Screen(f"tube-{k + 1}-piece-{number + 1}", capital(run["name"]), title, tick, ticked, tuple(groups))


def _closing_joint(run: Any) -> int | None:
    """The number of the piece before it; None if the run has none, or if none was computed."""
    closing = run["by_hand"] and run["by_hand"]["closing"]
    return closing["joint"] if closing else None


def _closing(data: Any, k: int) -> Iterator[Screen]:
    """The screen of the joint at which a tube is closed, once both of its parts are tacked."""
    run, within = data["runs"][k], f"/runs/{k}/by_hand/closing"
    joint = _closing_joint(run)
    if joint is None:
        return
    closing = run["by_hand"]["closing"]
    start, into_bore = run["starts_at"], run["ends_at"] == "collector"
    held, place = (run["ends_at"], "its bore") if into_bore else ("what it ends in", "its place")
    both = (
        f"Plates first: {start} and {held} are held where they belong. One part stands on the {start}, the other in "
        f"{place}, free to turn and to slide. The spare is on {_spare_on(closing)}."
    )
    spare = (
        ("joint_spare_mm", "spare at the joint"),
        ("end_spare_mm", f"spare at {'the collector' if into_bore else 'its'} end"),
    )
    meet = (
        "Turn and slide the end piece until both parts line up. Cut off what stands over, dress both faces to the kink."
    )
    needed = (("turn_deg", "turn"), ("slide_mm", "slide"), ("kink_deg", "kink"))
    chance = f"Of 100 such tubes {of_hundred(closing['closes'])} close here."
    last = "the end piece in its sleeve" if into_bore else "its end"
    tack = f"If it is more, measure again before you cut. Tack the joint, then {last}."
    groups = [
        WorkStep("Close", "Make the two parts meet", both, figures(data, within, spare), meet),
        WorkStep("Needs", "Nine of ten builds need at most", "", figures(data, within, needed), f"{chance} {tack}"),
    ]
    if closing["closes"] < NINE_IN_TEN:
        offers = " ".join(said_otherwise(otherwise_of(run), data["shop_units"]))
        rare = said_of_rare_closing(run["name"])
        groups.append(WorkStep("Other ways", "It closes too rarely", rare, (), offers))
    name = f"tube-{k + 1}-close"
    yield Screen(
        name, capital(run["name"]), f"Close at joint {joint}", f"Joint {joint} is tacked", "tacked", tuple(groups)
    )


def _spare_on(closing: Any) -> str:
    return say_list([f"piece {each['piece']}" for each in closing["spare_on"]])


def _pieces(data: Any, k: int, number: int) -> WorkStep:
    within = f"/runs/{k}/pieces/{number}"
    run = data["runs"][k]
    pieces = run["pieces"]
    piece = pieces[number]
    before = f"On the tube: piece {pieces[number - 1]['piece']}, {pieces[number - 1]['kind']}." if number else ""
    trouble = run["joints"][number - 1]["trouble"] if number else ""
    if trouble:
        before += f" Take care: {trouble}."
    labels = BEND if piece["kind"] == "bend" else STRAIGHT
    after = [_out_of(data, piece)]
    if not piece["clampable"]:
        after.append("No clamp holds it: cut it lying flat.")
    return WorkStep(
        "Piece", f"Add piece {piece['piece']}: {piece['kind']}", before, figures(data, within, labels), " ".join(after)
    )


def _out_of(data: Any, piece: Any) -> str:
    if piece["item"] is None:
        return "It is not in the stock list."
    item = data["stock"][piece["item"] - 1]
    return f"Out of item {item['item']}, a {item['kind']} {'on hand' if item['on_hand'] else 'to buy'}."


def _saws(data: Any, k: int, number: int) -> Iterator[WorkStep]:
    piece = data["runs"][k]["pieces"][number]
    for m, mark in enumerate(piece["saw"]):
        is_arc = mark["chord_outside_mm"] is not None
        within = f"/runs/{k}/pieces/{number}/saw/{m}"
        origin = _origin(data, piece, mark)
        said = f"From the end of {origin}, along the tube{'; chords from where that leg ends' if is_arc else ''}."
        labels = [(key, label) for key, label in (SAW if is_arc else ACROSS) if key != "leave_on_mm" or mark[key]]
        if is_arc and mark["leave_on_deg"]:
            labels.append(("leave_on_deg", "leave on"))
        is_bar = mark["measured_from"] == "bar"
        where = "the length" if is_bar else f"its {_END[mark['end']]} end"
        tab = "Saw" if is_bar else f"Saw {_END[mark['end']]}"
        yield WorkStep(tab, f"Saw {where}{', inside the arc' if is_arc else ''}", said, figures(data, within, labels))


def _to_the_lean(data: Any, within: str) -> Iterator[WorkStep]:
    """The first end, where it is sawn to the lean of its port."""
    tube = value_at(data, within)
    cut = tube["leans"] and tube["leans"]["first_end"]
    if not cut:
        return
    at, line = f"{within}/leans/first_end", cut["from_line_of_bend_deg"] is not None
    key, origin = (
        ("from_line_of_bend", "the line on the outside of its bend") if line else ("longest_side", "x of the flange")
    )
    way = _way(cut[f"{key}_deg"])
    said = (
        f"By template {cut['template']}. Lengths count, net, from its longest side, which is {way} from {origin}, "
        f"{SEEN}."
    )
    shown = (*figures(data, at, LEANT), without_sign(data, f"{at}/{key}_deg", way), *arcs(data, f"{at}/{key}_arc_mm"))
    yield WorkStep("Lean", "Saw its first end to the lean", said, shown)


def _to_the_fishmouth(data: Any, k: int, end: str) -> Iterator[WorkStep]:
    """An end that stands on the side of another tube."""
    name = data["runs"][k]["name"]
    for number, each in enumerate(data["templates"]):
        if each["cut"] == "fishmouth" and (each["run"], each["end"]) == (name, end):
            said = (
                f"By template {each['template']}, its witness line on the side toward the end of {each['collector']}. "
                "Lengths count, net, to where the axes of both tubes meet."
            )
            deep = figure(data, f"/templates/{number}/depth_mm", "deepest, from its tips")
            after = f"It sits on {each['collector']} all round; the hole there is cut by {each['template']} as well."
            yield WorkStep(f"Fit {end}", f"Saw its {end} end to the fishmouth", said, (deep,), after)


def _holes(data: Any, k: int) -> Iterator[Screen]:
    """The holes in a tube for those that stand on it, before they go on."""
    name = data["runs"][k]["name"]
    for number, each in enumerate(data["holes"]):
        if each["in"] == name:
            x, y, z = each["faces"]
            said = (
                f"By template {each['template']}, wrapped round the tube: its line up in the middle of the side that "
                f"faces {say_way((x, y, z))} as the engine stands, its line across this far from the start:"
            )
            at = figure(data, f"/holes/{number}/from_start_mm", "along the middle")
            after = f"Dress the edge inside. {capital(each['for'])} sits on it; tack that before the tube comes off."
            step = WorkStep("Hole", f"Cut the hole for {each['for']}", said, (at,), after)
            title, screen = f"Hole for {each['for']}", f"tube-{k + 1}-hole-{each['template']}"
            yield Screen(screen, capital(name), title, "The hole is cut", "cut", (step,))


def _origin(data: Any, piece: Any, mark: Any) -> str:
    """The end from which a saw line is measured; legs differ, so each is named with its length."""
    leg = {"first leg": "first_leg_mm", "second leg": "second_leg_mm"}.get(mark["measured_from"])
    if leg is None:
        return "the bar"
    units = data["shop_units"]
    return f"its {mark['measured_from']}, {in_units(data['stock'][piece['item'] - 1][leg], units)} {units} long"


_END = {"start": "first", "end": "last"}


def _turn(data: Any, k: int, number: int) -> Iterator[WorkStep]:
    run = data["runs"][k]
    piece = run["pieces"][number]
    marks = [(t, mark) for t, mark in enumerate(run["turns"]) if mark["piece"] == piece["piece"]]
    if not marks:
        stands = number == 0 and run["leans"] and run["leans"]["first_end"]
        how = "It stands flat on its sawn end" if stands else "Set it square"
        yield WorkStep("Turn", "Turn", f"None: a straight has no plane. {how}.")
    elif marks[0][1]["comes_of_closing"]:
        yield WorkStep("Turn", "Turn", "None: it comes of closing the tube.")
        return
    for t, mark in marks:
        within, way = f"/runs/{k}/turns/{t}", _way(mark["angle_deg"])
        before = f"the bend of piece {mark['turns_from']}" if mark["turns_from"] else f"x of the {run['starts_at']}"
        seen = SEEN if run["starts_at"] == "flange" else "seen looking along the tube from its start"
        turned = without_sign(data, f"{within}/angle_deg", way)
        level = figure(data, f"{within}/level_deg", "level shows", "+")
        shown = (*arcs(data, f"{within}/arc_mm"), turned, level)
        yield WorkStep("Turn", "Turn", f"From {before}, {seen}: {way}.", shown, _levelled(mark, run["starts_at"]))


def _levelled(mark: Any, start: str) -> str:
    """How the tube lies when a level shows its angle, and which of the two turns with that reading it is."""
    shows = "a level across the new bend's plane shows this, up being +; seen from above it bends"
    if mark["turns_from"]:
        return f"With the bend of piece {mark['turns_from']} flat and turning left, {shows} {mark['bends']}."
    side = "to the left" if mark["bends"] == "to the same side" else "to the right"
    return f"With x of the {start} level and pointing left, {shows} {side}."


def _way(degrees: float) -> str:
    """The direction of an angle that is shown to a tenth of a degree."""
    return "no turn" if degrees == 0 else "clockwise" if degrees > 0 else "counter-clockwise"


def _check(data: Any, k: int, number: int) -> Iterator[WorkStep]:
    run = data["runs"][k]
    for b, each in enumerate(run["bench"]):
        if each["piece"] == run["pieces"][number]["piece"]:
            said = (
                f"Lay the bend of piece {each['flat']} flat, turning left. From where it begins, the middle of the far "
                "end is:"
            )
            yield WorkStep(
                "Check", "Check on the table", said, figures(data, f"/runs/{k}/bench/{b}", TABLE, ("lean_deg",))
            )


def _finished(data: Any, within: str, name: str, lengths: tuple[tuple[str, str], ...]) -> Screen:
    tube = value_at(data, within)
    run = capital(tube["name"] if "name" in tube else tube["run"])
    start = str(tube.get("starts_at", ""))
    on = f"the axis of {start.removeprefix(ON)}" if start.startswith(ON) else "the flange face or its outlet"
    said = f"From the middle of where it starts, on {on}, to the middle of its end:"
    lean = "The lean is between the end's direction and straight out."
    groups = (
        WorkStep("End", "The finished tube", said, figures(data, f"{within}/finished", DONE), lean),
        WorkStep("Lengths", "Lengths", "", figures(data, within, lengths)),
    )
    return Screen(f"{name}-finished", run, "Finished", f"{run} agrees", "agrees", groups)


def counts(data: Any) -> tuple[Reading, ...]:
    """The amount of work."""
    labels = (
        ("joints", "joints"),
        ("arc_cuts", "ends cut inside an arc"),
        ("not_clampable", "pieces cut lying flat"),
    )
    return tuple(Reading(label, str(value_at(data, f"/figures/{key}")), "", f"/figures/{key}") for key, label in labels)
