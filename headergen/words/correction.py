"""How a half-built run is closed, said as one line for the bench; and what is missing where it cannot be."""

from __future__ import annotations

import math

from headergen.model import Act, CorrectedRun, Correction, PieceNow
from headergen.words.say import capital, say_angle, say_length, say_list

NO_TURN = math.radians(0.05)  # below which a turn, a lean or an angle is not said
NO_LENGTH = 0.05  # mm, the same for a length


def instruction(correction: Correction, units: str) -> str:
    """The work that closes a run, in one line: 'primary 3: turn piece 6 3.5° clockwise seen from the flange, …'."""
    if not correction.closes:
        return f"{correction.run}: {_missing(correction, units)}"
    said = steps_of(correction, units)
    if not said:
        return f"{correction.run}: nothing to change; what is left goes on as the sheets say"
    return f"{correction.run}: {', '.join(said)}"


def steps_of(correction: Correction, units: str) -> list[str]:
    """The work that closes a run, step by step; what is less than a hand can do is left out."""
    if not correction.closes:
        return []
    return [words for act in correction.acts if (words := _act(act, units))]


def _act(act: Act, units: str) -> str:
    """One step of work; empty where it is less than a hand can do."""
    size = abs(act.amount)
    if size < (NO_LENGTH if act.kind in ("slide", "length") else NO_TURN):
        return ""
    if act.kind == "turn":
        return f"turn piece {act.piece} {_degrees(size)} {way_of(act.amount)} seen from the flange"
    if act.kind == "slide":
        return f"slide its end {say_length(size, units)} {'in' if act.amount > 0 else 'out'}"
    if act.kind == "angle":
        return f"cut the bend of piece {act.piece} {_degrees(size)} {'sharper' if act.amount > 0 else 'flatter'}"
    if act.kind == "tilt":
        return f"cut the start of piece {act.piece} at {_degrees(size)} to square, {short_side(act.toward)}"
    return (
        f"cut piece {act.piece} {say_length(size, units)} {'longer' if act.amount > 0 else 'shorter'} at its {act.end}"
    )


def short_side(toward: float) -> str:
    """The mark at which a face that is cut off square is shortest: the tube leans to that side."""
    degrees = round(math.degrees(toward)) % 360
    if degrees == 0:
        return "short at the witness line"
    turned, way = (degrees, "clockwise") if degrees <= 180 else (360 - degrees, "counter-clockwise")
    return f"short {turned}° {way} from the witness line seen from the flange"


def _degrees(radians: float) -> str:
    return f"{math.degrees(radians):.1f}°"


def way_of(amount: float) -> str:
    """The way of a turn that is positive clockwise."""
    return "clockwise" if amount > 0 else "counter-clockwise"


def _missing(correction: Correction, units: str) -> str:
    off = f"its end is {say_length(correction.across, units)} beside and {math.degrees(correction.lean):.1f}° off"
    words = {"sideways": "move the end sideways", "tilt": "tilt the end", "along": "move the end along the tube"}
    if correction.missing:
        cannot = (
            f"nothing left to cut can {say_list([words[way] for way in correction.missing]).replace(' and ', ' or ')}"
        )
    else:
        cannot = "what is left to cut closes it only beyond its limits"
    if correction.open_joint is None:
        return f"{off}; {cannot}, and no single joint cut open would close it: make it again from the flange"
    return f"{off}; {cannot}; cut joint {correction.open_joint} open"


def left_over(correction: Correction, units: str) -> list[str]:
    """What the readings of each face leave, as sentences."""
    said = []
    for each in correction.left:
        face = f"The {each.face} of piece {each.piece}"
        away, turned = say_length(each.off[0], units), f"{math.degrees(each.off[1]):.1f}°"
        one = "1 reading leaves" if len(each.each) == 1 else f"{len(each.each)} readings leave"
        said.append(
            f"{face} of {correction.run} is {away} and {turned} from where its pieces put it; {one} "
            f"{each.rms:.1f} times what a reading may be off."
        )
    return [capital(each) for each in said]


def said_of_lengths(run: CorrectedRun, units: str) -> str:
    """What becomes of its length, and of the path that is written for it."""
    planned, now = (say_length(each, units) for each in run.lengths)
    name = capital(run.correction.run)
    if not run.correction.closes:
        return f"{name} stays as planned in what is written here: {planned} of centreline."
    said = f"{name} is then {now} of centreline; planned {planned}."
    if run.apart is None:
        return f"{said} No path of its steps runs like that ({run.why}), so its planned path is written."
    if run.apart < NO_LENGTH:
        return f"{said} The path written for it is that of the tube."
    return (
        f"{said} The path written for it is within {say_length(run.apart, units)} of the tube, whose joints "
        "have kinks; the gaps said here are the tube's own, and its record has its centreline."
    )


def figure(now: PieceNow, value: float, units: str) -> str:
    return say_angle(value) if now.what == "angle" else say_length(value, units)
