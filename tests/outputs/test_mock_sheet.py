"""What the sheet of the fit mock says of plates that stand on a table, and of joints that turn."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from headergen.model import (
    CutGuide,
    CutPiece,
    Job,
    LocatingPlate,
    MockSettings,
    PieceEnd,
    PlatePair,
    PrintedPart,
    SaddleFacts,
    SteelStraight,
)
from headergen.model.plates import DatumHole, PlateHole
from headergen.outputs.mock_sheet import MockFacts, write_mock_sheet


def sheet(tmp_path: Path, settings: MockSettings, *pairs: PlatePair) -> str:
    job = Job("Bogbean", "A", "2026-03-14")
    write_mock_sheet(tmp_path / "mock.md", MockFacts(job, 0, settings, (), 1, (), pairs))
    return (tmp_path / "mock.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("degrees", "words"),
    [
        (0.0, "Both stand square on the table"),
        (6.84, "6.8° from square to it, each on the lower side of its edge: L1 and L2 have different outlines."),
    ],
)
def test_plates_on_a_table(degrees: float, words: str, tmp_path: Path) -> None:
    one, two = (LocatingPlate(name, "main", (), (), 6.0, at) for name, at in (("L1", -30.0), ("L2", 40.0)))
    pair = PlatePair((one, two), 64.0, 40.0, 0.006, True, (), math.radians(degrees))
    text = sheet(tmp_path, MockSettings(), pair)
    assert words in text and ("square on the table" in text) == (degrees == 0.0)


def test_a_free_joint_is_read_clockwise_along_the_travel(tmp_path: Path) -> None:
    """As rotations are in the spec: right-hand positive about the travel."""
    text = sheet(tmp_path, MockSettings(without_key=(("primary 2", 2),)))
    assert "Free to turn: joint 2 of primary 2." in text and "clockwise positive looking along the travel" in text
    assert "Free to turn" not in sheet(tmp_path, MockSettings())


@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_length_has_its_unit_and_the_jobs_comes_first(units: str, tmp_path: Path) -> None:
    one, two = (LocatingPlate(name, "main", (), (), 6.0, at) for name, at in (("L1", -25.4), ("L2", 40.0)))
    pair = PlatePair((one, two), 50.8, 12.7, 0.006, False, (), 0.0)
    cut = CutGuide("G1-1", "main", "mitre", 4, 25.4, 0.2, 38.1)
    part = PrintedPart("P1-2", ("primary 1",), (2, 3), (25.4, 50.8, 76.2), 1000.0, 10.0, 0.1, 1)
    facts = MockFacts(Job("Bogbean", "A", "2026-03-14"), 0, MockSettings(), (part,), 1, (), (pair,), (cut,))
    write_mock_sheet(tmp_path / "mock.md", replace(facts, units=units))
    text = (tmp_path / "mock.md").read_text(encoding="utf-8")
    for millimetres, inches in (("12.7 mm", "0.500 in"), ("50.8 mm", "2.000 in"), ("38.1 mm", "1.500 in")):
        first, second = (millimetres, inches) if units == "mm" else (inches, millimetres)
        assert f"{first} ({second})" in text, text
    bed = ["220 × 220 × 250 mm", "8.7 × 8.7 × 9.8 in"]
    first, second = bed if units == "mm" else reversed(bed)
    assert f"{first} ({second})" in text
    size = "25 × 51 × 76" if units == "mm" else "1.0 × 2.0 × 3.0"
    assert f"size on the bed, {units} |" in text and f"| {size} |" in text
    assert "| P1-2 | primary 1 | piece 2, piece 3 | 1 |" in text


JOB = Job("Bogbean", "A", "2026-03-14")


def told(tmp_path: Path, **facts: object) -> str:
    """The sheet of a mock of which only this is known."""
    known = {"job": JOB, "errors": 0, "settings": MockSettings(), "parts": (), "plates": 1, "notes": ()}
    write_mock_sheet(tmp_path / "mock.md", MockFacts(**{**known, **facts}))  # type: ignore[arg-type]
    return (tmp_path / "mock.md").read_text(encoding="utf-8")


def printed(name: str, *, volume: float = 1000.0, **facts: object) -> PrintedPart:
    known = {"runs": ("primary 1",), "pieces": (1,), "size": (40.0, 40.0, 90.0)}
    more = {"smallest_section": 0.0, "overhang": 0.0, "build_plate": 1}
    return PrintedPart(name=name, volume=volume, **{**known, **more, **facts})  # type: ignore[arg-type]


def pair_of(*holes: PlateHole, before: float = -30.0, **facts: object) -> PlatePair:
    """Plates 6 mm thick, the first `before` the collector plane, 70 mm apart."""
    one, two = (LocatingPlate(name, "main", (), holes, 6.0, at) for name, at in (("L1", before), ("L2", before + 76.0)))
    known = {"apart": 70.0, "add": 0.0, "lean": 0.0, "has_feet": False}
    return PlatePair((one, two), **{**known, **facts})  # type: ignore[arg-type]


@pytest.mark.parametrize(("errors", "said"), [(0, None), (1, "1 error finding."), (3, "3 error findings.")])
def test_errors_of_the_header_come_before_all_else(errors: int, said: str | None, tmp_path: Path) -> None:
    lines = told(tmp_path, errors=errors).splitlines()
    assert lines[0] == "# Fit mock: Bogbean, revision A, 2026-03-14"
    assert ("NOT CLEARED" in lines[2]) == (said is not None) and (said or "") in lines[2]


def test_what_could_not_be_made_is_named_with_its_reason(tmp_path: Path) -> None:
    text = told(tmp_path, failed=(("P1-2", "its skin is open"), ("coupon", "the disk is full")))
    for words in ("P1-2 could not be made (its skin is open)", "coupon could not be made (the disk is full)"):
        assert f"**NOT COMPLETE: {words}.**" in text
    assert text.index("NOT COMPLETE: P1-2") < text.index("NOT COMPLETE: coupon") < text.index("parts on")


def test_plastic_is_weighed_by_hand(tmp_path: Path) -> None:
    """10.2 and 21.2 cm³ are 31.4, at 1.25 g/cm³ 39.25 g."""
    parts = (printed("P1-1", volume=10_200.0), printed("P1-2", volume=21_200.0))
    text = told(tmp_path, parts=parts, plates=2, settings=MockSettings(density=1.25))
    assert "2 parts on 2 build plates; at most 31 cm³ or 39 g of plastic" in text and "at 1.25 g/cm³" in text
    assert "| 10.2 |" in text and "| 21.2 |" in text


def test_parts_go_on_in_the_order_they_are_listed(tmp_path: Path) -> None:
    """A primary that is interrupted by another is said in two goes; plates, adapters and guides are no tube parts."""
    kinds = {"F1": "flange plate", "L1": "locating plate", "J1-2": "steel adapter", "G1-1": "cut guide"}
    tubes = [printed(name, runs=(f"primary {name[1]}",)) for name in ("P1-1", "P1-2", "P1-3", "P2-1", "P1-4", "P1-5")]
    text = told(tmp_path, parts=(*tubes, *(printed(name, kind=kind) for name, kind in kinds.items())))
    assert "Put them on in this order: P1-1 to P1-3, then P2-1, then P1-4 to P1-5. " in text


def test_a_letter_stands_before_every_mark_and_keeps_the_banks_apart(tmp_path: Path) -> None:
    kinds = {"BJ1-2": "steel adapter", "BC1.1": "collector", "BC1.2": "collector"}
    parts = (*map(printed, ("BP1-1", "BP1-2")), *(printed(name, kind=kind) for name, kind in kinds.items()))
    text = told(tmp_path, parts=parts, settings=MockSettings(letter="B"))
    for mark in ("BF1", "BP2-3", "BL1", "BC1 a", "BG2-1", "BJ2-3"):
        assert mark in text.split("What the marks on parts mean")[1].split("\n")[0]
    assert "for bank B. Parts of bank A do not fit them" in text
    assert "in this order: BP1-1 to BP1-2. " in text and "(BC1.1, BC1.2)" in text and ": BJ1-2. " in text
    assert "bank B" in told(tmp_path, settings=MockSettings(letter="A")).split("Parts of ")[1]
    assert "Parts of bank" not in told(tmp_path)


@pytest.mark.parametrize(
    ("add", "heading"),
    [
        (12.7, "# Collector main: LEAVE 12.7 mm (0.500 in) EXTRA on the collector end of each primary"),
        (0.0, "# Collector main: locating plates L1 and L2"),
    ],
)
def test_what_each_end_needs_more_is_the_heading(add: float, heading: str, tmp_path: Path) -> None:
    text = told(tmp_path, pairs=(pair_of(add=add),))
    assert heading in text.splitlines() and ("EXTRA" in text) == (add > 0)


def test_parts_that_stand_in_for_a_printed_collector_are_named(tmp_path: Path) -> None:
    assert "P1-4, P2-5 go through both plates" in told(tmp_path, pairs=(pair_of(add=5.0, stand_in=("P1-4", "P2-5")),))
    assert "printed ends go through L1 and L2" in told(tmp_path, pairs=(pair_of(add=5.0),))


@pytest.mark.parametrize(("place", "said"), [(-25.4, "25.4 mm (1.000 in) before"), (50.8, "50.8 mm (2.000 in) past")])
def test_plates_stand_before_or_past_the_collector_plane(place: float, said: str, tmp_path: Path) -> None:
    text = told(tmp_path, pairs=(pair_of(before=place, lean=math.radians(0.25)),))
    assert f"outer face {said} the collector" in text and "L2 70.0 mm (2.756 in) farther on" in text
    assert "can lean 0.25° between them" in text and "clamp the plates by their rods" in text


def test_tubes_that_share_an_opening_are_strapped(tmp_path: Path) -> None:
    """Holes of 42.8 mm: at 43.8 mm a web of 1.0 is too little, at 90 mm it is not."""
    holes = tuple(PlateHole((x, 0.0), 42.8, f"primary {n}") for n, x in ((1, 0.0), (2, 43.8), (3, 133.8)))
    text = told(tmp_path, pairs=(pair_of(*holes),))
    assert "- Primary 1, Primary 2 share one opening" in text and "Primary 3 share" not in text


def test_reference_points_are_packed_out_or_within_their_plate(tmp_path: Path) -> None:
    datums = (
        DatumHole("tab", "L2", 12.7, True),
        DatumHole("rail", "L1", 4.0, False),
        DatumHole("bracket", "L1", 0.04, False),
    )
    text = told(tmp_path, pairs=(pair_of(datums=datums),))
    assert "for tab, bolt or strap. The point is 12.7 mm (0.500 in) past L2: pack it out" in text
    assert "for rail, bolt or strap. The point is 4.0 mm (0.157 in) before L1: pack it out" in text
    assert "for bracket, bolt or strap. The point is within L1." in text


@pytest.mark.parametrize(("reach", "where"), [(38.1, "within the guide"), (-38.1, "outside the guide")])
def test_the_end_of_a_tube_is_measured_from_the_guides_square_end(reach: float, where: str, tmp_path: Path) -> None:
    """Guides are told of with name, kind, collector, count, diameter, angle and reach."""
    text = told(tmp_path, cuts=(CutGuide("G1-2", "main", "end", 4, 46.0, 0.2, reach),))
    assert "- G1-2: the downstream end of all 4 tubes of collector main, 46.0 mm (1.811 in)" in text
    assert "38.1 mm (1.500 in) from the guide's square end" in text and where in text
    assert "Cut guides" not in told(tmp_path)


def test_a_mitre_is_told_by_its_angle(tmp_path: Path) -> None:
    text = told(tmp_path, cuts=(CutGuide("G1-1", "main", "mitre", 4, 46.0, math.radians(7.5), 50.8),))
    assert (
        "7.50° from square" in text and "turn one half by 180°" in text and "Its middle is 50.8 mm (2.000 in)" in text
    )


def test_the_table_has_a_dash_where_nothing_is_borne(tmp_path: Path) -> None:
    """A plate bears nothing and has no section of a tube; of a part's skin 0.4 % hangs over."""
    plate = printed("L1", kind="locating plate", runs=("primary 1", "primary 2"), pieces=(), volume=5000.0)
    tube = printed("P1-1", smallest_section=212.4, overhang=0.004, stress=3.14159, notes=("print it slowly",))
    text = told(tmp_path, parts=(plate, tube), settings=MockSettings(weight=250.0))
    assert "| L1 | primary 1, primary 2 |  | 1 | 40 × 40 × 90 | 5.0 | – | – | 0.0 % |" in text.splitlines()
    assert "| P1-1 | primary 1 | piece 1 | 1 | 40 × 40 × 90 | 1.0 | 212 | 3.14 | 0.4 % |" in text.splitlines()
    assert "- P1-1: print it slowly" in text.splitlines() and "with 250 g hung on its" in text


def test_pictures_stand_where_they_are_of_use(tmp_path: Path) -> None:
    text = told(
        tmp_path,
        together="together.png",
        pictures=(("primary 1", "P1", "primary_1.png"), ("primary 2", "P2", "primary_2.png")),
    )
    places = [text.index(words) for words in ("](together.png)", "## Before printing", "](primary_1.png)", "## Parts")]
    assert places == sorted(places) and "](primary_2.png)" in text
    assert "](" not in told(tmp_path)


def test_differences_from_the_steel_are_a_list_of_their_own(tmp_path: Path) -> None:
    text = told(tmp_path, notes=("Collector main is not printed.",))
    assert text.endswith("## Where the print differs from the steel\n\n- Collector main is not printed.\n\n")
    assert "differs" not in told(tmp_path)


def test_each_piece_is_told_with_its_parts_and_real_tube_with_its_ends(tmp_path: Path) -> None:
    ends = (PieceEnd("square"), PieceEnd("square"))
    bend = CutPiece("primary 1", 1, 2.0, 102.0, (20.0, 10.0), math.radians(63), 63.5, 1, ends, True, 1)
    leg = CutPiece("primary 1", 2, 102.0, 302.0, (200.0, 0.0), 0.0, 0.0, None, ends, True, 2)
    parts = (printed("F1", kind="flange plate"), printed("P1-1.1"), printed("P1-1.2"))
    straight = SteelStraight("S1-2", "primary 1", 2, 232.3, 0.0, 32.3, "J1-1", "")
    order = ("P1-1.1", "P1-1.2", "S1-2")
    text = told(tmp_path, parts=parts, pieces=(bend, leg), straights=(straight,), order=order, hours=(6.4, 11.2))
    rows = text.splitlines()
    assert "| 1-1 | bend of 63.0° | 100.0 | F1 (its beginning), P1-1.1, P1-1.2 |" in rows
    assert "| 1-2 | straight | 200.0 | S1-2 (steel) |" in rows
    [row] = [row for row in rows if row.startswith("| S1-2 ")]
    assert "232.3 mm (9.146 in) | J1-1 | the collector" in row and "32.3 mm (1.272 in) longer" in row
    assert "Put them on in this order: P1-1.1, P1-1.2, S1-2. " in text
    assert "to expect: 18 (plate 1 6, plate 2 11), ±25 %" in text


def test_how_to_slice_goes_by_the_wall(tmp_path: Path) -> None:
    assert "Slice with 2 perimeters, 0.60 mm wide" in told(tmp_path)
    assert "Slice with 3 perimeters, 0.60 mm wide" in told(tmp_path, settings=MockSettings(tube_wall=1.8))


def test_each_saddle_is_told_with_the_lines_that_show_in_it(tmp_path: Path) -> None:
    lines = ("line of piece 2, on the outside", "line of piece 3, on the inside")
    saddle = SaddleFacts("H1-2", "primary 1", 2, lines, (False, True))
    pictures = (("primary 1", "primary_1_saddles.png"),)
    text = told(tmp_path, saddles=(saddle,), saddle_pictures=pictures)
    row = "| H1-2 | 1-2 | line of piece 2, on the outside | line of piece 3, on the inside; its bend sets the turn |"
    assert row in text.splitlines() and "](primary_1_saddles.png)" in text and "H2-3 is the saddle" in text
    assert "Lift the tube out before it is welded." in text and "addle" not in told(tmp_path)


def test_the_hours_are_told_by_plate_and_by_kind(tmp_path: Path) -> None:
    kinds = (("flange plates", 5.2), ("tubes", 20.4), ("locating plates", 2.9))
    rows = told(tmp_path, hours=(20.0, 8.5), hours_for=kinds).splitlines()
    assert any(row.startswith("Hours of printing to expect: 28 (plate 1 20, plate 2 8), ±25 %") for row in rows)
    assert any(row.startswith("Of these hours: flange plates 5, tubes 20, locating plates 3. Locating") for row in rows)
    assert "Of these hours" not in told(tmp_path, hours=(20.0, 8.5))


def test_the_end_of_a_run_is_told_as_such(tmp_path: Path) -> None:
    """Where a run ends in a place of its own, the sheet speaks of no collector."""
    for pair in (pair_of(run="secondary main"), pair_of(add=12.0, run="secondary main")):
        heading = next(
            line
            for line in told(tmp_path, pairs=(pair,)).splitlines()
            if line.startswith("# The end of secondary main")
        )
        assert "ollector" not in heading
    text = told(tmp_path, pairs=(pair_of(add=12.0, run="secondary main"),))
    assert "marks the end of the run" in text and "collector plane, where the steel" not in text


def test_what_is_after_a_collector_is_told_by_the_runs_and_not_by_a_letter_of_a_name(tmp_path: Path) -> None:
    """R is the letter of a right bank too."""
    said = "each run after a collector by that collector"
    tube = printed("RP1-1")
    assert said not in told(tmp_path, settings=MockSettings(letter="R"), parts=(tube,))
    after = printed("RR1-1", runs=("secondary main",))
    assert said in told(
        tmp_path, settings=MockSettings(letter="R"), parts=(tube, after), runs_after=("secondary main",)
    )
