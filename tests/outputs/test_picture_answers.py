"""Several answers in one picture: equal frames, one camera, each answer's own tubes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from test_picture import read_png, renderer, run_python

from headergen.outputs.picture.answers import GUTTER, in_rows

__all__ = ["renderer"]

SIZE = (300, 240)
DRAW = """
import sys
from dataclasses import replace
from pathlib import Path
import sample_result as sample
from headergen.geometry.curves.centreline import trace
from headergen.model import Straight
from headergen.outputs.picture.answers import Shown, render_answers
one = sample.header()
short = trace(one.primaries[1].port.frame, (Straight(60.0),), 2)
other = replace(one, centrelines=(one.centrelines[0], short))
names = ("answer 1", "answer 2", "answer 3")
shown = [Shown(header, name, "4 bends") for header, name in zip((one, one, other), names)]
render_answers(Path(sys.argv[1]), shown, [], size=(300, 240))
"""


@pytest.mark.parametrize("count, rows, columns", [(1, 1, 1), (3, 1, 3), (4, 1, 4), (5, 2, 3), (9, 3, 3)])
def test_frames_stand_in_rows_in_reading_order(count: int, rows: int, columns: int) -> None:
    frames = [np.full((6, 10, 3), k / 10) for k in range(count)]
    whole = in_rows(frames)
    assert whole.shape == (rows * 6 + (rows - 1) * GUTTER, columns * 10 + (columns - 1) * GUTTER, 3)
    for k in range(count):
        top, left = k // columns * (6 + GUTTER), k % columns * (10 + GUTTER)
        assert (whole[top : top + 6, left : left + 10] == k / 10).all()
    assert (whole == 1).sum() == whole.size - count * 6 * 10 * 3


@pytest.mark.slow
def test_equal_answers_look_equal_and_others_do_not(renderer: None, tmp_path: Path) -> None:
    """The same header twice gives the same pixels but for its name; a shorter tube shows in its own frame alone."""
    path = tmp_path / "three.png"
    run = run_python(DRAW, str(path))
    assert (run.returncode, run.stdout, run.stderr) == (0, "", "")
    image = read_png(path)
    width, height = SIZE
    assert image.shape == (height, 3 * width + 2 * GUTTER, 3)
    first, second, third = (image[:, k * (width + GUTTER) :][:, :width] for k in range(3))
    below = height // 8  # what is under the name
    assert np.array_equal(first[below:], second[below:])
    assert not np.array_equal(first[:below], second[:below])  # "answer 1", "answer 2"
    apart = (np.abs(first[below:] - third[below:]) > 60).any(axis=2)
    assert 0.01 < apart.mean() < 0.3  # where the longer tube was
