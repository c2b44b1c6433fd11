"""No field of a spec's nouns is lost: not when the spec is written out in full, not when its bank is mirrored.

The fields are walked, so that a new one fails here until a spec sets it and a table says what a mirror does to it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import MISSING, Field, fields, is_dataclass
from pathlib import Path
from typing import Any, get_args, get_type_hints

import numpy as np
import pytest

from headergen.model import Draft, Frame, Header, Vec
from headergen.spec.reader import read_spec
from headergen.spec.writer import spec_text
from tests.lots import together
from tests.spec.small_spec import SMALL

RICH = Path(__file__).with_name("rich_spec.yaml").read_text(encoding="utf-8")
SHELF = """\
units: mm
outside_diameter: 42.4
currency: EUR
oval: 4
bends:
  - radius: 63.5
    angle: 45
    legs: [50, 60]
    price: 8.9
    count: 3
    measured: {radius: 64, angle: 44.5, oval: [43, 41.5], legs: [51, 58]}
straights: [{length: 1000, price: 17.5, count: 2}]
sizes:
  - {outside_diameter: 48.3, wall: 1.6, oval: 2, straights: [{length: 900, price: 20, count: 1}]}
"""
HAND = "units: mm\nspare: 12.5\nstep: 5\n"
STL = "solid\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid\n"

RING = RICH[RICH.index("{ring:") : RICH.index("\n", RICH.index("{ring:"))]
PLATE = (
    "{plate: {shape: {rectangle: [60 mm, 40 mm, 8 mm]}, divider: 5 mm, transition: 70 mm, thickness: 11 mm, turn: 25, "
    "margin: 10 mm, facing: 0.5 mm, bolts: [{at: [45 mm, 30 mm], hole: 9 mm}, {at: [-45 mm, 30 mm], hole: 9 mm}]}}"
)
MOUTH = "into: {diameter: 64 mm, depth: 40 mm}"
TAIL = f"""\
runs:
  tail:
    from: last
    to: {{at: [-60, 12, -14], along: [-1, 0, 0.1], x: [0, 1, 0], {MOUTH}}}
    path: [{{straight: 3}}, {{bend: 10, radius: 4, rotation: 30}}, {{straight: 5}}]
"""
OVER = """\
runs:
  over:
    leaves: {run: fore, at: 0.5, along: [0.1, 0, -1], angle: 70}
    joins: {run: aft, at: 0.6, along: [0, 0.1, -1], angle: 75}
    tube: {outside_diameter: 40 mm, wall: 1.2 mm}
    path: [{straight: 3}, {bend: 10, radius: 4, rotation: 30}, {straight: 1}]
"""
FLANGE = RICH[RICH.index("flange:\n") : RICH.index("collectors:\n")]
FIFTH = FLANGE[FLANGE.index("    5: {at: [16, 0]") :]
SHARED = FLANGE.removeprefix("flange:\n").replace(FIFTH, "").replace("\n  ", "\n    ")
TWO_FLANGES = f"""flanges:
  near:
  {SHARED}  far:
    plane: {{origin: [1, -10, 5], normal: [0, -1, 0], x: [-1, 0, 0]}}
    thickness: 8 mm
    ports:
  {FIFTH}"""
SLIP = "{step: {outside_diameter: 45 mm, wall: 1.2 mm, by: slip, overlap: 18 mm}}"
CONE = "{step: {outside_diameter: 45 mm, wall: 1.2 mm, by: cone, length: 1, at: {min: 0.5, max: 2}}}"
WIDER = "{step: {outside_diameter: 66.7 mm, wall: 1.5 mm, by: slip, overlap: 18 mm}}"
OWN_TUBE = "tube: {outside_diameter: 45 mm, wall: 1.2 mm}"
# what one header cannot have at once: what the rich spec says, and what stands in its place
CHANGES: dict[str, tuple[tuple[str, str], ...]] = {
    "as it is": (),
    "two flanges": (
        (FLANGE, TWO_FLANGES),
        ("     free_from_flange: 2}", "     free_from_flange: 2, flanges: [near]}"),
    ),
    "stepped primaries, by slip and by cone": (
        ("  3: [{straight: 1.5}]", f"  3: [{{straight: 1}}, {SLIP}, {{straight: 2}}]"),
        ("  4: [{straight: 2}]", f"  4: [{{straight: 1}}, {CONE}, {{straight: 2}}]"),
        ("  5: [{straight: 2.5}]", f"  5: [{{straight: 2.5}}, {SLIP}, {{straight: 2}}]"),
    ),
    "a bell, an enclosure, the shortest": (
        (RING, "{bell: {inside_diameter: 64.5 mm, length: 50 mm}}"),
        ("     free_from_flange: 2}", "     role: enclosure}"),
        ("  most_bends: 3\n", "  most_bends: 3\n  length: shortest\n"),
        ("length: {target: 26, tolerance: 0.08}", "length: {tolerance: 0.08}"),
    ),
    "a plate": ((RING, PLATE),),
    "a run into a mouth": ((f"    end: {RING}\n", ""), ("length: {target: 26,", TAIL + "length: {target: 26,")),
    "a run that grows": (
        (f"    end: {RING}\n", ""),
        (
            "length: {target: 26,",
            TAIL.replace("{straight: 5}]", "{straight: 5}, " + WIDER + ", {straight: 2}]").replace("64 mm", "68 mm")
            + "length: {target: 26,",
        ),
    ),
    "primaries with tubes of their own": (
        ("  3: [{straight: 1.5}]", f"  3: {{{OWN_TUBE}, path: [{{straight: 1.5}}]}}"),
        ("  4: [{straight: 2}]", f"  4: {{{OWN_TUBE}, path: [{{straight: 2}}]}}"),
        ("  5: [{straight: 2.5}]", f"  5: {{{OWN_TUBE}, path: [{{straight: 2.5}}]}}"),
    ),
    "a crossover": (("length: {target: 26,", OVER + "length: {target: 26,"),),
    "a run to a plate": (
        (f"    end: {RING}\n", ""),
        (
            "length: {target: 26,",
            TAIL.replace("into: {diameter: 64 mm, depth: 40 mm}", PLATE[1:-1]) + "length: {target: 26,",
        ),
    ),
    "a ball flange": ((RING, "{ball: {diameter: 90 mm, length: 12 mm}}"),),
    "bores of two sizes, a Y, a tapered outlet": (
        ("[2, 1]\n    half_angle: 9\n    outlet: 50.8 mm", "[2, 1]\n    half_angle: 9\n    outlet: 45 mm"),
        ("    half_angle: 10.5\n", "    lean: 12.5\n    outlet_to: 60 mm\n"),
        (RING, "{bell: {inside_diameter: 64.5 mm, length: 50 mm}}"),
        ("{name: gauge, collector: last", "{name: gauge, primary: 2"),
    ),
    "welded, in millimetres": (
        ("units: in", "units: mm"),
        ("  most_bends: 3\n", "  most_bends: 3\n  length: {min: 24, max: 27.5}\n"),
        ("length: {target: 26, tolerance: 0.08}", "length: {tolerance: 0.08}"),
        ("    join: slip\n    slip: 40 mm\n", "    join: weld\n"),
        ("    tabs: {apart: 58 mm, length: 15 mm, height: 9 mm, thickness: 2.5 mm, hole: 4.5 mm, turn: 20}\n", ""),
    ),
}

# fields that a written spec does not keep, each with the reason
SETTLED = {
    "Run.fits": "every value is written as it was found",
    "Run.to_find": "what is still to be found cannot be written in full: `resolve` says so",
    "Run.written": "every path is written as its steps",
    "Run.like": "only beside what is to be found",
    "Run.grows": "only beside what is to be found",
    "Run.straight_over": "put in while what stands on its side is to be found",
    "MockSettings.letter": "the bank's, put in when a mock is made",
    "MockSettings.units": "the job's, put in when a mock is made",
    "HeaderRef.tubes": "read from its own spec",
}


def names_of(table: str) -> list[str]:
    """Class and field of each line `Class: field field`."""
    lines = (line.split(":") for line in table.strip().splitlines())
    return [f"{kind.strip()}.{name}" for kind, listed in lines for name in listed.split()]


# what a mirror does: KEEPS the numbers, or each turns its sign, or is reflected as a place or as a direction
KEEPS = names_of("""
    Tube: outside_diameter wall
    StockBend: radius angle legs price
    MeasuredBend: radius angle oval legs
    StockStraight: length price
    StockTube: outside_diameter wall oval
    Stock: outside_diameter oval
    Flange: thickness margin setback facing relief tool
    Bolt: hole
    PortShape: size
    Port: transition
    Collector: slip half_angle outlet outlet_length wall gap lean outlet_to
    OutletRing: outside_diameter thickness taper bolt_circle hole
    OutletBell: inside_diameter length
    OutletBall: diameter length
    OutletPlate: thickness transition divider margin facing
    Tabs: apart length height thickness hole
    Side: at angle
    LengthTarget: target tolerance
    Run: target
    Straight: length
    Growth: outside_diameter wall at
    Bend: angle radius
    Parallel: angle
    Limits: min_straight end_position end_angle between_tubes together chord_error port_straight
    Limits: collector_straight forming nine_in_ten
    HandSettings: clocking square bend length radius shrinkage saddle spring turn kink step slip spare
    Boss: at outside_diameter height hole
    Bracket: thickness length hole
    BracketFoot: at
    Plug: diameter length
    ShopSettings: kerf dressing shrinkage trim clamp apart cup reach print_scale mitre_under
    Bender: radii min_straight clamp springback
    MockSettings: bed gap wall tube_wall spigot lean density weight
    Routing: radii flattest sharpest length tidy
    CostWeights: bend weld radius close_turn last_straight side_by_side along_lines other_bank moved shorter
    CostWeights: cut crossing doubling_back parting sprawl arching stray family blocked lacking
    ChassisItem: clearance free_from_flange
    Box: size
    Cylinder: diameter
    TubeRun: diameter
    Draft: up
""")
TURNS = ("Bend.rotation", "Boss.clock", "Tabs.turn", "OutletRing.turn", "OutletPlate.turn", "PortShape.turn")
PLACES = ("Plug.seat", "Plane.origin", "Cylinder.start", "Cylinder.end", "TubeRun.points", "Frame.origin")
DIRECTIONS = ("Plug.axis", "Plane.normal", "Side.along", "Frame.x", "Frame.y", "Frame.z")
# y of a frame: reflected, turned round
IN_THE_PLANE = ("Bolt.at", "PortShape.points")  # (x, y) of a face: (x, -y) of its mirror image
# what the spec of the other bank says for itself, or keeps where it stands, each with the reason
OWN = {
    "Draft.job": "a job of its own",
    "Draft.letter": "the other letter",
    "Draft.as_built": "measured on tubes of its own",
    "Draft.lines": "lines of its own",
    "Draft.between_banks": "the plane that its spec names",
    "MockSettings.datums": "points of its own chassis",
    "MockSettings.letter": SETTLED["MockSettings.letter"],
    "MockSettings.units": SETTLED["MockSettings.units"],
    "Routing.bores": "its collectors are entered as the first bank's",
    "Routing.moves": "its collectors stand as the first bank's",
    "HeaderRef.tubes": SETTLED["HeaderRef.tubes"],
    "Run.like": "what a path to be found starts from",
    "Run.grows": "what a path to be found must have",
    "Run.straight_over": SETTLED["Run.straight_over"],
    "Run.written": "its path follows from the first bank's",
}
LIMITS = ("Fit.low", "Fit.high")  # of a rotation they change places and signs, others are kept
KEPT_ITEMS = ("MeshRef", "HeaderRef", "PointPair")  # in a chassis, these can only be kept where they stand
BUILT = ("RunAsBuilt", "PieceAsBuilt", "JointAsBuilt", "EndReading", "TableReading", "PlateReading", "FeelerRow")
OWN_WHOLE = ("Datum", "NamedLine", "Move", *BUILT)  # held by fields in OWN alone


def write(folder: Path, name: str = "first.yaml", changes: tuple[tuple[str, str], ...] = ()) -> Path:
    text = RICH
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    beside = {name: text, "shelf.yaml": SHELF, "hand.yaml": HAND, "frame.stl": STL, "other_header.yaml": SMALL}
    for file, content in beside.items():
        (folder / file).write_text(content, encoding="utf-8")
    return folder / name


def full(draft: Draft) -> str:
    return spec_text(Header(draft, draft.runs, ()))


def nouns(kind: Any, seen: dict[str, type] | None = None) -> dict[str, type]:
    """Every class that a draft can hold, by name."""
    seen = {} if seen is None else seen
    for inner in get_args(kind):
        nouns(inner, seen)
    if is_dataclass(kind) and isinstance(kind, type) and kind.__name__ not in seen:
        seen[kind.__name__] = kind
        for hint in get_type_hints(kind).values():
            nouns(hint, seen)
    return seen


def instances(value: object) -> Iterator[Any]:
    """The value and all dataclasses in it."""
    if is_dataclass(value) and not isinstance(value, type):
        yield value
        for field in fields(value):
            yield from instances(getattr(value, field.name))
    elif isinstance(value, tuple):
        for each in value:
            yield from instances(each)


def default_of(field: Field[Any]) -> Any:
    return field.default if field.default_factory is MISSING else field.default_factory()


# of a path in space, which only a settled header has, and what is read of another header once its spec is there
TRACED = {"Centreline", "Line", "Arc", "OtherPlate"}
NOUNS = nouns(Draft)
FIELDS = sorted((name, field.name) for name, kind in NOUNS.items() if name not in TRACED for field in fields(kind))


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Any]]:
    """All that the specs of this file hold, by the name of its class."""
    folder = tmp_path_factory.mktemp("rich")
    drafts = [read_spec(write(folder, changes=changes))[1] for changes in CHANGES.values()]
    by_kind: dict[str, list[Any]] = {}
    for each in (each for draft in drafts for each in instances(draft)):
        by_kind.setdefault(type(each).__name__, []).append(each)
    return by_kind


@together(("kind", "name"), FIELDS)
def test_some_spec_here_sets_every_field(kind: str, name: str, found: dict[str, list[Any]]) -> None:
    """A field that stands at its default everywhere would survive whatever happens to it."""
    if f"{kind}.{name}" in SETTLED and f"{kind}.{name}" != "Run.fits":
        return
    field = next(each for each in fields(NOUNS[kind]) if each.name == name)
    values = [getattr(each, name) for each in found.get(kind, [])]
    assert values, f"no spec in this file has a {kind}: change rich_spec.yaml or CHANGES"
    set_here = [value for value in values if value != default_of(field)]
    assert set_here, f"{kind}.{name} stands at its default: set it in rich_spec.yaml or CHANGES"


@together(("kind", "name"), FIELDS)
def test_it_is_said_what_a_mirror_does_to_every_field(kind: str, name: str) -> None:
    """Numbers do not tell by themselves whether they are lengths or turns; text and counts are kept."""
    said = [*KEEPS, *TURNS, *PLACES, *DIRECTIONS, *IN_THE_PLANE, *OWN, *LIMITS]
    hint = get_type_hints(NOUNS[kind])[name]
    has_numbers = "float" in str(hint) and not nouns(hint)
    if has_numbers and kind not in (*KEPT_ITEMS, *OWN_WHOLE):
        assert f"{kind}.{name}" in said, f"what does a mirror do to {kind}.{name}? Say so in a table of this file"
    assert len(said) == len(set(said))


def differences(one: Any, two: Any, at: str, left_out: dict[str, str]) -> Iterator[str]:
    """Where two values differ by more than the digits that are written: 1e-6 mm, 1e-9 degrees, 1e-12 of a direction."""
    if is_dataclass(one) and type(one) is type(two):
        for field in fields(one):
            name = f"{type(one).__name__}.{field.name}"
            if name not in left_out:
                yield from differences(getattr(one, field.name), getattr(two, field.name), f"{at} {name}", left_out)
    elif isinstance(one, tuple) and isinstance(two, tuple) and len(one) == len(two):
        for k, (a, b) in enumerate(zip(one, two, strict=True)):
            yield from differences(a, b, f"{at}[{k}]", left_out)
    elif isinstance(one, float) and isinstance(two, float):
        if abs(one - two) > 2e-6:
            yield f"{at}: {one} became {two}"
    elif one != two:
        yield f"{at}: {one} became {two}"


@pytest.mark.parametrize("changes", CHANGES.values(), ids=CHANGES)
def test_every_field_survives_being_written_out(changes: tuple[tuple[str, str], ...], tmp_path: Path) -> None:
    one = read_spec(write(tmp_path, changes=changes))[1]
    (tmp_path / "full.yaml").write_text(full(one), encoding="utf-8")
    two = read_spec(tmp_path / "full.yaml")[1]
    assert list(differences(one, two, "", SETTLED)) == []
    assert full(two) == full(one), "and a second time nothing changes"


ORIGIN, NORMAL = np.array([0.5, 1.0, -2.0]), np.array([0.0, 0.6, 0.8])  # of between_banks in the rich spec
OTHER = """\
format: 1
mirror_of: {first}
job: {{title: Other, revision: A, date: 2026-02-03}}
units: {units}
bank:
  offset: 0
  way: staggered
  mirror: {{origin: [{origin}], normal: [0, 3, 4]}}
  keep: [frame, pan, other]
  mirrored: [head, bar, floor, hose]
lines: {{rail: {{from: [10, 17, -12], to: [-50, 17, -11], diameter: 2}}}}
"""


def read_mirrored(folder: Path, first: str, units: str) -> Draft:
    origin = ", ".join(f"{value:g}" for value in ORIGIN)
    spec = folder / f"of_{first}"
    spec.write_text(OTHER.format(first=first, units=units, origin=origin), encoding="utf-8")
    return read_spec(spec)[1]


def reflected(vector: Vec, units: str, is_place: bool) -> Vec:
    origin = ORIGIN * (25.4 if units == "in" else 1.0) * is_place
    x, y, z = np.array(vector) - 2 * float((np.array(vector) - origin) @ NORMAL) * NORMAL
    return (float(x), float(y), float(z))


def expected(value: Any, name: str, units: str) -> Any:
    """What a field holds in the mirror image, in closed form."""
    if name in KEEPS or isinstance(value, bool | int | str) or value is None or name in OWN:
        return value
    if isinstance(value, Frame):
        x, y, z = (np.array(reflected(axis, units, False)) for axis in (value.x, value.y, value.z))
        return Frame(reflected(value.origin, units, True), tuple(x), tuple(-y), tuple(z))  # type: ignore[arg-type]
    if is_dataclass(value) and type(value).__name__ in (*KEPT_ITEMS, *OWN_WHOLE):
        return value
    if is_dataclass(value) and not isinstance(value, type):
        kind = type(value)
        made = {f.name: expected(getattr(value, f.name), f"{kind.__name__}.{f.name}", units) for f in fields(value)}
        if kind.__name__ == "PortShape" and made["kind"] == "d":  # its flat was below, and is above
            made["turn"] += math.pi
        if kind.__name__ == "Fit" and made["what"] == "rotation":
            made["low"], made["high"] = -value.high, -value.low  # type: ignore[attr-defined]
        return kind(**made)
    if name in IN_THE_PLANE:
        return in_the_plane(value)
    if name in (*PLACES, *DIRECTIONS) and isinstance(value[0], float):
        return reflected(value, units, name in PLACES)
    if isinstance(value, tuple):
        return tuple(expected(each, name, units) for each in value)
    if name in TURNS:
        return -value
    assert name in LIMITS, name
    return value


def in_the_plane(value: Any) -> Any:
    return (value[0], -value[1]) if value and isinstance(value[0], float) else tuple(in_the_plane(v) for v in value)


@pytest.mark.parametrize("changes", CHANGES.values(), ids=CHANGES)
def test_every_field_is_mirrored_as_its_kind_asks(changes: tuple[tuple[str, str], ...], tmp_path: Path) -> None:
    """Lengths are kept, places and directions reflected, turns change their sign."""
    one = read_spec(write(tmp_path, changes=changes))[1]
    two = read_mirrored(tmp_path, "first.yaml", one.units)
    assert list(differences(expected(one, "", one.units), two, "", OWN)) == []


@pytest.mark.parametrize("changes", CHANGES.values(), ids=CHANGES)
def test_the_mirror_image_of_the_mirror_image_is_the_first(
    changes: tuple[tuple[str, str], ...], tmp_path: Path
) -> None:
    """By way of the other bank's spec written out in full."""
    one = read_spec(write(tmp_path, changes=changes))[1]
    (tmp_path / "second.yaml").write_text(full(read_mirrored(tmp_path, "first.yaml", one.units)), encoding="utf-8")
    back = read_mirrored(tmp_path, "second.yaml", one.units)
    own = {**OWN, **SETTLED}
    for name in ("Draft.letter", "Draft.between_banks"):  # A, B, A; and the same plane
        del own[name]
    assert list(differences(one, back, "", own)) == []


def test_what_is_still_to_be_found_is_mirrored_too(tmp_path: Path) -> None:
    """Such a header is never written out in full; its other bank looks for the same, unless its spec says more."""
    find = ("  4: [{straight: 2}]", "  4: find")
    moves = RICH[RICH.index("  move:\n") : RICH.index("  shelf:")]  # not beside tubes with paths of their own
    one = read_spec(write(tmp_path, changes=(find, (moves, ""))))[1]
    two = read_mirrored(tmp_path, "first.yaml", one.units)
    assert [run.to_find for run in two.runs] == [run.to_find for run in one.runs]
    assert [run.number for run in two.primaries if run.to_find] == [4]
