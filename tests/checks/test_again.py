"""A survey made anew from an earlier one says what a survey from nothing says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from headergen.checks.again import survey_again
from headergen.checks.measure import Meshes, survey
from headergen.geometry.curves.run import line_of
from headergen.geometry.frames import WORLD
from headergen.model import Bend, Bolt, Box, ChassisItem, Header, MeshFacts, Straight, Survey
from headergen.model.fitted import Bracket, BracketFoot
from headergen.pipeline import read_whole, with_other_headers
from headergen.solve.closing import close
from headergen.spec.mesh.load import load_meshes
from tests.checks.small_header import draft
from tests.solve.test_hints import WINDING

ROOT = Path(__file__).resolve().parents[2]
SPECS = ("specs/bogbean.yaml", "specs/glasswort_left.yaml", "tests/two_steps/bogbean_four_two_one.yaml")


def closed(path: Path) -> tuple[Header, Meshes, tuple[MeshFacts, ...]]:
    _, draft = with_other_headers(*read_whole(path), path.parent)
    return close(draft), *load_meshes(path, draft)


def bent(header: Header, names: set[str], by: float) -> Header:
    """The header with the first bend of some runs turned, and their first straight longer: no longer on their bores."""

    def changed(run: Any) -> Any:
        steps = list(run.steps)
        at = next(k for k, step in enumerate(steps) if isinstance(step, Bend))
        steps[at] = replace(steps[at], rotation=steps[at].rotation + by)
        steps[0] = replace(steps[0], length=steps[0].length + 20 * by) if isinstance(steps[0], Straight) else steps[0]
        return replace(run, steps=tuple(steps))

    runs = tuple(changed(run) if run.name in names else run for run in header.runs)
    return replace(header, runs=runs, centrelines=tuple(map(line_of, runs)))


def told(made: Survey) -> dict[str, Any]:
    """All that is measured, in an order of its own."""
    parts = {key: getattr(made, key) for key in ("gaps", "part_gaps", "reaches", "crossings", "meshes")}
    return {**{key: sorted(map(repr, each)) for key, each in parts.items()}, "ends": made.ends, "lengths": made.lengths}


@pytest.mark.series
@pytest.mark.parametrize(
    "spec",
    [
        pytest.param(spec, marks=[] if spec.startswith("tests") else [pytest.mark.slow], id=Path(spec).stem)
        for spec in SPECS
    ],
)
def test_what_was_not_touched_is_taken_over_as_it_would_be_measured(spec: str) -> None:
    header, meshes, facts = closed(ROOT / spec)
    before = survey(header, meshes, facts, twice=False)
    for names, by in (({header.runs[0].name}, 0.05), ({run.name for run in header.runs[1:3]}, -0.6)):
        after = bent(header, names, by)
        whole = survey(after, meshes, facts, twice=False)
        assert told(survey_again(before, after, meshes, names)) == told(whole)
        assert told(whole) != told(before)


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("name", ["primary 1", "primary 2", "primary 3"])
def test_what_stands_on_a_tube_goes_with_it(name: str) -> None:
    """Brackets between tubes, beside an item, and tools on bolts: all that a changed tube takes along or meets."""
    feet = [BracketFoot("primary 1", 150.0), BracketFoot("primary 2", 150.0)]
    more = [BracketFoot("primary 2", 420.0), BracketFoot("primary 3", 420.0)]
    brackets = tuple(Bracket(str(k), (one, other), 4.0, 30.0) for k, (one, other) in enumerate([feet, more]))
    item = ChassisItem("rail", Box(replace(WORLD, origin=(70.0, 150.0, 35.0)), (300.0, 20.0, 20.0)), 40.0)
    made = draft(WINDING, WINDING, WINDING, pitch=70.0, chassis=(item,), fitted=brackets)
    bolts = tuple(Bolt((x, y), 8.5) for x in (35.0, 105.0) for y in (-2.0, 30.0))
    header = close(replace(made, flanges=(replace(made.flanges[0], bolts=bolts),)))
    before = survey(header, {}, twice=False)
    assert before.reaches and before.part_gaps
    for by in (0.02, -0.4, 1.5):
        after = bent(header, {name}, by)
        assert told(survey_again(before, after, {}, {name})) == told(survey(after, {}, twice=False))
