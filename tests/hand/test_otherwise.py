"""What is offered where a run closes too rarely, against builds by shop.json alone."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from headergen.hand.closing import meeting_at
from headergen.hand.otherwise import otherwise
from headergen.hand.stage import spares_at
from headergen.model import NINE_IN_TEN, MadeToMeasure, Otherwise, RunByHand
from headergen.pipeline import bench, check
from headergen.words.closing import said_otherwise
from tests.hand.by_sheet import Pose, built, closes, drawn, planned_end, start
from tests.hand.test_open_by_sheet import SPECS, planned

LEAST = 0.5  # mm that the end piece may slide, far too little
COUNT = 3000


def slid(run: Any, by: float) -> Any:
    closing = {**run["by_hand"]["closing"], "slides_out_mm": by, "slides_in_mm": by}
    return {**run, "by_hand": {**run["by_hand"], "closing": closing}}


def by_hand_of(text: str, hand: str) -> tuple[RunByHand, ...]:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "half.yaml"
        path.write_text(text.replace("../shared", f"{SPECS.parent}/shared") + f"hand: {hand}\n", encoding="utf-8")
        result = check(path).result
        shop = bench(result.header, result.survey.gaps)
    assert shop.by_hand is not None
    return shop.by_hand.runs


def offered(which: int) -> tuple[Otherwise, Any, Any]:
    tubes, data = planned("bogbean")
    run = data["runs"][which]
    tube, closing = tubes[run["name"]], run["by_hand"]["closing"]
    joint = closing["joint"]
    room = sum(room for _, room in spares_at(tube, joint))
    meeting = meeting_at(tube.chain, joint, tube.hand, (-LEAST, LEAST), room)
    closing["joint_spare_mm"] = room
    return otherwise(tube, meeting), data, run


@pytest.mark.slow
@pytest.mark.parametrize("which", [0, 1])
def test_a_slip_so_much_longer_is_enough_and_no_less(which: int) -> None:
    found, data, run = offered(which)
    assert found.slip_longer is not None
    assert np.mean(closes(data, slid(run, LEAST), COUNT, 1)) < NINE_IN_TEN - 0.03, "as it is, it closes too rarely"
    enough = np.mean(closes(data, slid(run, LEAST + found.slip_longer), COUNT, 1))
    assert enough > NINE_IN_TEN - 0.02, "within the noise of both simulations"
    assert np.mean(closes(data, slid(run, LEAST + found.slip_longer - 2.0), COUNT, 1)) < NINE_IN_TEN + 0.01


def test_the_straight_made_to_measure_lies_between_two_tacked_ends() -> None:
    found, data, run = offered(0)
    straight = found.straight
    assert straight is not None
    k, size = straight.piece - 1, len(run["pieces"])
    assert run["pieces"][k]["kind"] == "straight"
    errors = drawn(data, run, COUNT, np.random.default_rng(8), saddles=False)
    before = built(run, errors, 0, k, True, start(COUNT))
    part = built(run, errors, k + 1, size, False, start(COUNT))
    bore = planned_end(run)
    ends = Pose(np.repeat(bore.at, COUNT, axis=0), Rotation.from_quat(np.repeat(bore.axes.as_quat(), COUNT, axis=0)))
    after = ends.moved_by(start(COUNT).seen_from(part))
    length = np.linalg.norm(after.at - before.at, axis=1)
    assert (straight.shortest, straight.longest) == pytest.approx(np.quantile(length, (0.05, 0.95)), abs=0.4)
    way = (after.at - before.at) / length[:, None]
    sharper = np.minimum((before.way() * way).sum(axis=1), (after.way() * way).sum(axis=1))
    assert straight.mitre == pytest.approx(np.quantile(np.arccos(sharper), 0.9) / 2, rel=0.06)


def test_a_run_has_offers_where_no_joint_closes_in_nine_of_ten_builds() -> None:
    """With a careless hand; with a careful one there is none."""
    text = (SPECS / "guide_as_built.yaml").read_text(encoding="utf-8")
    found = [by_hand_of(text, hand) for hand in ("{length: 0.1}", "{square: 1.2, bend: 2}")]
    assert all(run.otherwise is None for run in found[0])
    assert all(run.otherwise is not None and not run.closes_in_nine_of_ten for run in found[1])


def test_what_would_close_it_is_said_with_its_figures() -> None:
    said = " ".join(said_otherwise(Otherwise(6.0, MadeToMeasure(3, 118.2, 124.9, 0.0262)), "mm"))
    assert "6.0 mm longer" in said and "piece 3, between joints 2 and 3" in said
    assert "118.2 mm to 124.9 mm" in said and "1.50°" in said
    assert list(said_otherwise(Otherwise(None, None), "mm")) == list(said_otherwise(None, "mm")) == []
