"""A refusal is in inches in an inch job, whichever part of the reading finds it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import trimesh
from pydantic import ValidationError

from headergen.checks.rules.overlaps import overlaps
from headergen.geometry.merge.lobes import MergeError
from headergen.model import Overlap, SecondOpinion
from headergen.spec.as_built import PlateGaugeEntry
from headergen.spec.mesh.look import look_at, said_of
from headergen.spec.secondaries import NoOutletError
from headergen.words.say import say_apart


@pytest.mark.parametrize(("units", "said"), [("mm", "120.0 mm; at most 50.8 mm"), ("in", "4.724 in; at most 2.000 in")])
def test_an_outlet_that_is_nowhere(units: str, said: str) -> None:
    why = MergeError("its outlet is as wide as", 120.0, "at most", 50.8)
    assert str(NoOutletError("front", why, units)).endswith(f"nowhere: its outlet is as wide as {said}")


@pytest.mark.parametrize(
    ("units", "volume", "none", "value"),
    [("mm", "819.4 mm³", "0.0 mm³", 819.4), ("in", "0.05000 in³", "0.00000 in³", 0.05)],
)
def test_metal_that_two_parts_share(units: str, volume: str, none: str, value: float) -> None:
    """0.05 in³ are 0.05 · 25.4³ = 819.35 mm³."""
    [finding] = overlaps([Overlap(("bung", "tube"), 0.05 * 25.4**3)], units)
    assert finding.message == (f"The bung and the tube share {volume} of metal; welded parts touch, and share {none}.")
    assert (finding.value, finding.unit) == (value, f"{units}³")


@pytest.mark.parametrize(("units", "said"), [("mm", "1.20 mm together"), ("in", "0.0472 in together")])
def test_feelers_that_disagree(units: str, said: str) -> None:
    """1.2 mm are 0.0472 in."""
    rows = [{"at": f"{at} mm", "gaps": [f"{gap} mm" for gap in (0.6, 0.2, 0.6, 0.2)]} for at in (20, 60)]
    with pytest.raises(ValidationError, match=re.escape(said)) as refused:
        PlateGaugeEntry.model_validate({"hole": "45 mm", "feelers": rows}, context={"unit": units})
    assert units == "mm" or " mm" not in refused.value.errors()[0]["msg"]


@pytest.mark.parametrize(("units", "said"), [("mm", "25.4 × 50.8 × 76.2 mm"), ("in", "1 × 2 × 3 in")])
def test_the_size_of_a_mesh_beside_a_job(tmp_path: Path, units: str, said: str) -> None:
    file = tmp_path / "box.stl"
    trimesh.creation.box((25.4, 50.8, 76.2)).export(file)
    lines = list(said_of(file, look_at(file, job=units)))
    assert f"  in mm: {said}" in lines


@pytest.mark.parametrize(
    ("units", "said"),
    [
        ("mm", "2.540 mm and 5.080 mm, which may be 0.254 mm apart"),
        ("in", "0.10000 in and 0.20000 in, which may be 0.01000 in apart"),
    ],
)
def test_two_ways_of_measuring_that_disagree(units: str, said: str) -> None:
    assert say_apart(SecondOpinion("primary 1", "tray", 2.54, 5.08, 0.254), units) == f"primary 1 to tray: {said}"
