"""Cut guides: their faces against the cut as the bores have it, and whether they slip on, print and are marked."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from assembly import home, manifold
from layers import as_trimesh, starts_in_mid_air
from manifold3d import CrossSection
from random_headers import random_header

from headergen.geometry.frames import axes_matrix
from headergen.geometry.merge.design import merge_of
from headergen.geometry.merge.measures import tube_cut
from headergen.geometry.mesh.triangles import Points
from headergen.mock.build import Mock, make_mock
from headergen.mock.guide import WALL, guide_part
from headergen.mock.part import MockPart, overhang
from headergen.model import Collector, Header, MockSettings
from headergen.shop.angled_cuts import AngledCut, angled_cuts, height_of

Demo = Callable[[str], tuple[Header, Mock]]
Planes = list[tuple[Points, Points]]  # a point, and the direction from what is kept
SETTINGS = MockSettings()


def guides(header: Header) -> list[tuple[AngledCut, MockPart]]:
    return [(cut, guide_part(cut, SETTINGS)) for cut in angled_cuts(header)]


def exact_planes(header: Header, cut: AngledCut) -> Planes:
    """By the bores and the half angle alone: where a straight tube turns, and where two tubes of equal width meet."""
    collector = next(each for each in header.draft.collectors if each.name == cut.collector)
    merge = merge_of(header.draft.tube, collector)
    first, *others = (np.array(bore.frame.origin) for bore in collector.bores)
    middle, axis = np.array(collector.frame.origin), np.array(collector.frame.z)
    out = first - middle
    out = out - (out @ axis) * axis
    out /= np.linalg.norm(out)
    assert collector.half_angle is not None
    leaning = math.cos(collector.half_angle) * axis - math.sin(collector.half_angle) * out
    if cut.what == "mitre":
        return [(first + merge.mitre * axis, (axis + leaning) / np.linalg.norm(axis + leaning))]
    nearest = sorted(others, key=lambda other: float(np.linalg.norm(other - first)))[:2]
    halfway = [((first + other) / 2, (other - first) / np.linalg.norm(other - first)) for other in nearest]
    return [(middle + merge.cut * axis, axis), *halfway]


def face_corners(part: MockPart, foot: float) -> Points:
    """(n, 3) corners of the facets of the face, in engine axes: what looks up, over the letters and off the mark."""
    triangles = part.mesh.triangles
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    up = normals[:, 2] > 0.05 * np.linalg.norm(normals, axis=1)
    high = triangles[:, :, 2].min(axis=1) > foot
    off_mark = (abs(np.arctan2(triangles[:, :, 1], triangles[:, :, 0])) > 0.08).all(axis=1)
    rotation, shift = home(part)
    return triangles[up & high & off_mark].reshape(-1, 3) @ rotation.T + shift


def off_the_cut(corners: Points, planes: Planes) -> float:
    """How far a corner is at most from where the planes let the kept metal end."""
    beyond = np.array([(corners - point) @ normal for point, normal in planes])
    return float(abs(beyond.max(axis=0)).max())


def test_the_face_lies_on_the_cut(name: str, demo: Demo) -> None:
    """All of it, all round: 0.001 mm is what a mesh written to 0.0001 mm may be off on a plane."""
    header, _ = demo(name)
    found = guides(header)
    assert [cut.name for cut, _ in found][:2] == [f"{header.draft.letter}G1-{k}" for k in (1, 2)]
    for cut, part in found:
        corners = face_corners(part, _foot(part, cut))
        assert off_the_cut(corners, exact_planes(header, cut)) < 0.001, cut.name
        local = (corners - np.array(part.home.origin)) @ axes_matrix(part.home).T
        bearings = np.sort(np.arctan2(local[:, 1], local[:, 0]))
        assert np.diff([*bearings, bearings[0] + 2 * math.pi]).max() < math.radians(12), cut.name  # the mark


def _foot(part: MockPart, cut: AngledCut) -> float:
    """Just under the lowest place of the face, by the slices: up to there the sleeve is whole but for its slit."""
    solid, heights = manifold(part.mesh), np.arange(1.0, part.size[2], 0.25)
    whole = 2 * math.pi * (cut.radius + SETTINGS.gap + WALL / 2) * WALL
    full = [z for z in heights if solid.slice(float(z)).area() > 0.93 * whole]
    return float(max(full)) - 2.5


@pytest.mark.parametrize("degrees", [-1.0, 0.3])
def test_a_wrong_angle_is_seen(demo: Demo, degrees: float) -> None:
    """A guide made for a half angle that is wrong by so much, held against the header's own bores and angle."""
    header, _ = demo("bogbean")

    def wrong(collector: Collector) -> Collector:
        assert collector.half_angle is not None
        return replace(collector, half_angle=collector.half_angle + math.radians(degrees))

    draft = replace(header.draft, collectors=tuple(wrong(each) for each in header.draft.collectors))
    for cut, part in guides(replace(header, draft=draft)):
        assert off_the_cut(face_corners(part, _foot(part, cut)), exact_planes(header, cut)) > 0.05, cut.name


def test_cuts_are_those_of_the_wrap_template(name: str, demo: Demo) -> None:
    """The closed forms of the unrolled cut, −r·tan(α/2)·cos φ turned over for the straight half, and `tube_cut`."""
    header, _ = demo(name)
    for cut in angled_cuts(header):
        collector = next(each for each in header.draft.collectors if each.name == cut.collector)
        merge = merge_of(header.draft.tube, collector)
        for around in np.linspace(0.0, 2 * math.pi, 37).tolist():
            found = height_of(cut, merge.outer * math.cos(around), merge.outer * math.sin(around))
            mitre = merge.outer * math.tan(merge.half_angle / 2) * math.cos(around)
            expected = mitre if cut.what == "mitre" else tube_cut(merge, merge.outer, around)
            assert found == pytest.approx(expected, abs=1e-9)


def test_a_guide_slides_and_can_be_strapped(name: str, demo: Demo) -> None:
    """Over a tube with the gap all round and no more; the slit still open when that gap is taken up."""
    header, _ = demo(name)
    for cut, part in guides(header):
        solid = manifold(part.mesh)
        section = solid.slice(3.0)
        inner = cut.radius + SETTINGS.gap
        assert (section ^ CrossSection.circle(inner - 0.01, 512)).area() < 1e-6
        assert (section ^ CrossSection.circle(inner + 0.05, 512)).area() > 0.04 * 2 * math.pi * inner * 0.9
        middle = solid.slice(12.0)  # over the window
        ring = CrossSection.circle(inner + 1.0, 720) - CrossSection.circle(inner + 0.9, 720)
        gaps = (ring - middle).decompose()
        assert len(gaps) == 1
        assert 2 * math.pi * SETTINGS.gap + 0.5 < gaps[0].area() / 0.1 < 2 * math.pi * SETTINGS.gap + 1.5


def test_the_mark_is_at_the_witness_line(name: str, demo: Demo) -> None:
    """Window and groove on the side away from the collector's axis, as the guide sits on the tube."""
    header, _ = demo(name)
    for cut, part in guides(header):
        collector = next(each for each in header.draft.collectors if each.name == cut.collector)
        out = np.array(collector.bores[0].frame.origin) - np.array(collector.frame.origin)
        along = np.array(part.home.z)
        out = out - (out @ along) * along
        bearing = math.atan2(out @ np.array(part.home.y), out @ np.array(part.home.x))
        assert bearing == pytest.approx(0.0, abs=1e-9)
        solid = manifold(part.mesh)
        inner = cut.radius + SETTINGS.gap
        window = (CrossSection.circle(inner + 1.0, 720) - CrossSection.circle(inner + 0.9, 720)) - solid.slice(3.0)
        assert min(abs(_bearing(gap)) for gap in window.decompose()) < 4e-3
        groove = (CrossSection.circle(inner + 2.7, 720) - CrossSection.circle(inner + 2.6, 720)) - solid.slice(12.0)
        assert min(abs(_bearing(gap)) for gap in groove.decompose()) < 4e-3  # 0.1 mm


def _bearing(section: CrossSection) -> float:
    x, y = np.concatenate(section.to_polygons()).mean(axis=0)
    return math.atan2(float(y), float(x))


def test_a_guide_prints_without_support(name: str, demo: Demo) -> None:
    header, _ = demo(name)
    for _, part in guides(header):
        seen = as_trimesh(part.mesh)
        assert seen.is_watertight and seen.is_winding_consistent and seen.body_count == 1, part.name
        assert seen.volume == pytest.approx(part.volume, rel=1e-9) and part.volume > 0
        assert overhang(part.mesh, SETTINGS.lean) < 0.01, part.name
        assert starts_in_mid_air(part.mesh) == [], part.name


@pytest.mark.slow
def test_guides_are_made_when_asked_for(demo: Demo) -> None:
    header, without = demo("bogbean")
    assert without.guides == without.cuts == ()
    header = replace(header, runs=header.runs[:1], centrelines=header.centrelines[:1])
    asked = make_mock(header, MockSettings(cut_guides=True, flange=False, plates=False))
    assert [part.name for part in asked.guides] == ["G1-1", "G1-2"]
    assert [place.name for place in asked.placed][-2:] == ["G1-1", "G1-2"]
    assert [cut.what for cut in asked.cuts] == ["mitre", "end"]
    assert math.degrees(asked.cuts[0].angle) == pytest.approx(5.0)
    low = make_mock(header, MockSettings(bed=(220.0, 220.0, 120.0), cut_guides=True, flange=False, plates=False))
    assert [part.name for part in low.guides] == ["G1-1"]
    assert any("G1-2" in note and "too long for the bed" in note for note in low.notes)


@pytest.mark.slow
def test_a_header_with_square_cuts_only_says_so() -> None:
    mock = make_mock(random_header(1), MockSettings(cut_guides=True))
    assert mock.guides == () and any("every cut" in note.lower() for note in mock.notes)


def test_the_welded_collector_has_guides_too() -> None:
    from headergen.pipeline import settle

    header = settle(Path(__file__).parents[1] / "two_steps" / "bogbean_four_two_one.yaml")
    found = guides(header)
    assert len(found) == 6
    for cut, part in found:
        corners = face_corners(part, _foot(part, cut))
        assert off_the_cut(corners, exact_planes(header, cut)) < 0.001, cut.name
