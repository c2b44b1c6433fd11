"""The place of a step to a larger tube: found between two lengths, without moving the path."""

from __future__ import annotations

from pathlib import Path

import pytest

from headergen.checks.rules.growth_place import growth_place
from headergen.geometry.curves.stepped import growth_places, run_length
from headergen.model import Header
from headergen.solve.closing import close
from tests.spec.small_spec import changed, draft_of


def closed(folder: Path, before: str, at: str, after: str) -> Header:
    step = f"{{step: {{outside_diameter: 46, wall: 1.5, by: slip, overlap: 20{at}}}}}"
    steps = f"    - {{straight: {before}}}\n    - {step}\n    - {{straight: {after}}}\n"
    return close(draft_of(folder, changed(("    - {straight: 200}\n", steps))))


@pytest.mark.parametrize(
    ("at", "place"),
    [
        ("", 110.0),
        (", at: {min: 50, max: 150}", 110.0),
        (", at: {min: 125, max: 150}", 125.0),
        (", at: {min: 50, max: 80}", 80.0),
    ],
)
def test_the_step_goes_where_it_may_and_the_path_stays(at: str, place: float, tmp_path: Path) -> None:
    header = closed(tmp_path, "{fit: 90}", at, "{fit: 90}")
    (run,) = header.runs
    assert growth_places(run)[0].bore_grows == pytest.approx(place, abs=1e-6)
    assert run_length(run) == pytest.approx(200.0, abs=1e-6) and list(growth_place(header)) == []


@pytest.mark.parametrize(
    ("before", "after"), [("{fit: 90, max: 100}", "{fit: 90}"), ("{fit: 90}", "{fit: 90, min: 80}")]
)
def test_where_the_straights_have_no_room_it_is_said_by_how_much(before: str, after: str, tmp_path: Path) -> None:
    header = closed(tmp_path, before, ", at: {min: 125, max: 150}", after)
    assert growth_places(header.runs[0])[0].bore_grows == pytest.approx(120.0, abs=1e-6)
    (finding,) = growth_place(header)
    assert (finding.level, finding.value, finding.limit) == ("error", 120.0, 125.0)
    assert "5.0 mm too near; 125.0 mm to 150.0 mm are required" in finding.message


def test_a_step_between_fixed_straights_stays(tmp_path: Path) -> None:
    header = closed(tmp_path, "90", ", at: {min: 125, max: 150}", "90")
    assert growth_places(header.runs[0])[0].bore_grows == 110.0 and len(list(growth_place(header))) == 1
