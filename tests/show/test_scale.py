"""Tubes by their gaps: bands of the scale, and stripes where a gap is below what is required."""

from __future__ import annotations

import base64
from itertools import pairwise

import numpy as np
import pytest

from headergen.geometry.curves.centreline import trace
from headergen.geometry.frames import frame_from_normal
from headergen.model import Bend, Straight
from headergen.show.scale import EDGES, HATCH, SIDES, TONES, Toned, bands, packed_tubes
from tests.show.test_meshes import unpacked


def light(tone: str) -> float:
    """Relative luminance, as WCAG 2.1 defines it."""
    parts = [int(tone[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))


def test_the_scale_grows_lighter_with_the_gap_and_keeps_its_hue() -> None:
    assert sorted(map(light, TONES)) == [light(tone) for tone in TONES]
    for darker, lighter in pairwise(TONES):
        assert (light(lighter) + 0.05) / (light(darker) + 0.05) > 1.25, "told apart without colour"
    for tone in TONES[:-1]:
        red, green, blue = (int(tone[k : k + 2], 16) for k in (1, 3, 5))
        assert red < green < blue


@pytest.mark.parametrize("units", ["mm", "in"])
def test_bands_begin_at_their_edges(units: str) -> None:
    edges = np.array(EDGES[units])
    assert len(TONES) == len(edges) + 1
    assert bands(edges - 1e-6, units).tolist() == list(range(len(edges)))
    assert bands(edges, units).tolist() == list(range(1, len(edges) + 1))


def toned(spare: float) -> Toned:
    line = trace(
        frame_from_normal((0.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
        [Straight(100.0), Bend(1.0, 63.5, 0.3), Straight(80.0)],
        "p",
    )
    at = np.array([0.0, 100.0, line.length])
    return Toned(line, 21.2, at, np.array([2.0, 2.0, 40.0]), np.array([spare, spare, 30.0]))


def test_a_tube_is_on_its_skin_with_a_tone_for_each_vertex() -> None:
    [mesh] = packed_tubes(toned(1.0), "mm")
    places, normals, corners = unpacked(mesh)
    tones = np.frombuffer(base64.b64decode(mesh["tones"]), "u1")
    assert (mesh["group"], mesh["name"], len(tones)) == ("gap", "p", len(places))
    assert np.hypot(places[:SIDES, 0], places[:SIDES, 2]) == pytest.approx(np.full(SIDES, 21.2), abs=0.01)
    assert tones[0] == 1 and tones[-1] == 6
    sides = np.cross(places[corners[:, 1]] - places[corners[:, 0]], places[corners[:, 2]] - places[corners[:, 0]])
    outward = np.einsum("ij,ij->i", sides, normals[corners[:, 0]])
    assert (outward > 0).all() or (outward < 0).all(), "all faces look the same way"


def test_where_it_is_too_near_one_stripe_in_three_is_dark() -> None:
    whole = packed_tubes(toned(1.0), "mm")[0]
    gap, below = packed_tubes(toned(-1.0), "mm")
    assert (gap["group"], below["group"]) == ("gap", "below")
    assert gap["faces"] + below["faces"] == whole["faces"]
    places, _, corners = unpacked(below)
    along = places[corners].mean(axis=1)[:, 1]
    assert along.max() < 115.0, "it has room from where the gap has grown by what is lacking"
    straight = int(100.0 // 4.0) * 2 * SIDES
    assert below["faces"] == pytest.approx(straight / HATCH, rel=0.15)
