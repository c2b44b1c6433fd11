"""Four into two into one as solids: every part there, of the metal that formulas give, and none in another."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from headergen.checks.judge import runs_without_solid
from headergen.checks.measure import survey
from headergen.geometry.curves.run import line_of
from headergen.model import Bend, Straight
from headergen.pipeline import settle
from headergen.solids.build import make_parts
from headergen.solve.closing import close

SPEC = Path(__file__).parents[1] / "two_steps" / "bogbean_four_two_one.yaml"


@pytest.mark.slow
def test_all_parts_of_two_steps(tmp_path: Path) -> None:
    header = settle(SPEC)
    parts, overlaps = make_parts(header, tmp_path, lambda *_: None)
    assert overlaps == (), "outlets, secondaries and the last sockets touch or slide, and share nothing"
    names = ["flange", *(f"primary {k}" for k in (1, 2, 3, 4)), "secondary inner", "secondary outer"]
    assert [part.name for part in parts] == [
        *names,
        "collector outer",
        "collector inner",
        "collector main",
        "boss oxygen sensor M18x1.5",
    ]
    volumes = {part.name: part.volume for part in parts}
    for each in (run for run in header.runs if not run.is_primary):
        metal = math.pi * (25.4**2 - 23.9**2) * line_of(each).length  # Pappus
        assert volumes[each.name] == pytest.approx(metal, rel=1e-9)
    assert volumes["collector outer"] == pytest.approx(volumes["collector inner"], rel=1e-9), "made once"
    assert all(part.mesh is not None and part.mesh.closed for part in parts if part.line is None)


def test_a_secondary_too_tight_to_bend_has_no_legal_solid() -> None:
    header = settle(SPEC)
    tight = replace(
        header.run("secondary inner"), steps=(Straight(20.0), Bend(0.5, 20.0, 0.0), Straight(50.0)), fits=()
    )
    draft = replace(header.draft, runs=(*header.draft.primaries, tight), bosses=())
    assert "secondary inner" in runs_without_solid(survey(close(draft), {}, twice=False))
