"""Half-built tubes that grow come home: walked by another library, on rims of their own size."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from half_built_runs import Cut, Ground, worked
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from headergen.built.stage import BuiltError, corrections, header_as_built
from headergen.hand.tube import RunInPieces, tubes_of
from headergen.model import EndReading, Header, RunAsBuilt, Shop, Straight
from headergen.pipeline import bench, check

Array = NDArray[np.float64]
GUIDE = Path(__file__).resolve().parents[2] / "specs" / "guide_steps.yaml"
# pieces of its sheet: 3 goes 20 mm into 4 by a slip joint, 7 is a cone, and behind that are pieces of the last tube
WIDE = {2: 38.1, 3: 38.1, 4: 41.3, 5: 41.3, 6: 41.3, 7: 44.5, 8: 44.5, 9: 44.5}
OVERLAP = 20.0


@pytest.fixture(scope="module")
def planned() -> tuple[Header, Shop, RunInPieces]:
    result = check(GUIDE).result
    shop = bench(result.header, result.survey.gaps)
    return result.header, shop, tubes_of(result.header, shop)[0]


def cuts_of(tube: RunInPieces) -> list[Cut]:
    turns = [link.clocking for link in tube.chain.links]
    return [Cut(p.legs[0], p.angle, p.radius, p.legs[1], t) for p, t in zip(tube.pieces, turns, strict=True)]


def flange_of(tube: RunInPieces) -> Ground:
    frame = tube.run.start.frame
    axes = Rotation.from_matrix(np.array([frame.x, frame.y, frame.z]).T)
    return Ground(axes, np.array(frame.origin) + tube.pieces[0].start * np.array(frame.z))


def rim(face: Ground, diameter: float, at: float) -> EndReading:
    """Five points round the edge of a face that is `at` beyond the net line, and one on its witness line."""
    turns = np.arange(5) * 2 * math.pi / 5 + 0.3
    points = [face.axes.apply([diameter / 2 * math.cos(t), diameter / 2 * math.sin(t), at]) + face.point for t in turns]
    mark = face.axes.apply([diameter / 2, 0, at]) + face.point
    told = [tuple(float(each) for each in point) for point in (*points, mark)]
    return EndReading(1, "end", 0.3, tuple(told[:-1]), mark=told[-1])  # type: ignore[arg-type]


def off(end: Ground, frame_z: Array, origin: Array, slide: float) -> tuple[float, float]:
    """Across (mm) and lean (degrees), with the slide taken back."""
    away = end.point - slide * frame_z - origin
    way = end.axes.apply([0, 0, 1])
    return float(np.linalg.norm(away)), math.degrees(math.acos(min(1.0, float(way @ frame_z))))


@pytest.mark.quick(1)
@pytest.mark.parametrize("held", [2, 3, 4, 5, 7])
def test_a_tube_that_grows_comes_home(planned: tuple[Header, Shop, RunInPieces], held: int) -> None:
    header, shop, tube = planned
    rng = np.random.default_rng(held)
    cuts, real = cuts_of(tube), flange_of(tube)
    for cut in cuts[:held]:
        real.walk(replace(cut, lean=abs(rng.normal(0, 0.003)), toward=rng.uniform(0, 6.28)))
    reading = replace(rim(real, WIDE[held], OVERLAP if held == 3 else 0.0), piece=held)
    built = RunAsBuilt("primary 1", welded=tuple(range(held)), ends=(reading,))
    half_built = replace(header, draft=replace(header.draft, as_built=(built,)))
    (found,) = corrections(half_built, shop)
    assert found.correction.closes, found.correction
    assert not any(act.piece == 7 and act.kind in ("length", "tilt", "angle") for act in found.correction.acts)
    assert not any(act.piece == 4 and act.kind == "tilt" for act in found.correction.acts), "it is a slip joint"
    made, back = worked(cuts, found.correction.acts, held)
    real.go(back)
    for cut in made[held:]:
        real.walk(cut)
    bore = tube.run.end.frame
    across, lean = off(real, np.array(bore.z), np.array(bore.origin), found.correction.slide)
    assert across < 0.01
    assert lean < 0.01


def test_the_path_as_built_grows_where_the_tube_does(planned: tuple[Header, Shop, RunInPieces]) -> None:
    header, shop, tube = planned
    real = flange_of(tube)
    for cut in cuts_of(tube)[:3]:
        real.walk(replace(cut, lean=0.01, toward=1.0))
    reading = replace(rim(real, WIDE[3], OVERLAP), piece=3)
    built = RunAsBuilt("primary 1", welded=(0, 1, 2), ends=(reading,))
    half_built = replace(header, draft=replace(header.draft, as_built=(built,)))
    (found,) = corrections(half_built, shop)
    written = header_as_built(half_built, [found], smooth=True).run("primary 1")
    was = [step for step in tube.run.steps if isinstance(step, Straight) and step.growth is not None]
    now = [step for step in written.steps if isinstance(step, Straight) and step.growth is not None]
    assert now == was
    assert len(written.steps) == len(tube.run.steps)
    assert found.apart < 2.0


def test_a_face_inside_another_piece_cannot_be_measured(planned: tuple[Header, Shop, RunInPieces]) -> None:
    header, shop, _ = planned
    reading = EndReading(3, "end", point=(0.0, 0.0, 0.0), direction=(0.0, 0.0, -1.0))
    built = RunAsBuilt("primary 1", welded=(0, 1, 2, 3), ends=(reading,))
    half_built = replace(header, draft=replace(header.draft, as_built=(built,)))
    with pytest.raises(BuiltError, match="end of piece 3 is inside piece 4"):
        list(corrections(half_built, shop))
