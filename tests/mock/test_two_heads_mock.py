"""The mock of a header on two heads: a plate for each, numbered on, with the stubs of its own tubes, and one order."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import axes_matrix
from headergen.mock.build import Mock, make_mock
from headergen.mock.part import in_place
from headergen.model import Header, MockSettings
from tests.checks.two_heads import both_text, header_of, one_text


@pytest.fixture(scope="module")
def header(tmp_path_factory: pytest.TempPathFactory) -> Header:
    return header_of(both_text(), tmp_path_factory.mktemp("heads"))


@pytest.fixture(scope="module")
def mock(header: Header) -> Mock:
    return make_mock(header, MockSettings(plates=False))


@pytest.mark.slow
def test_every_flange_has_its_plates(mock: Mock, header: Header) -> None:
    """Each stands with its face on the face of its own head, and says which flange it goes on."""
    plates = {part.name: part for part in mock.parts if part.name.startswith("F")}
    assert [(name, part.runs) for name, part in plates.items()] == [("F1", ("primary 1",)), ("F2", ("primary 2",))]
    for part, flange in zip(plates.values(), header.draft.flanges, strict=True):
        assert part.notes[0] == f"goes on {flange.part}"
        corners = in_place(part).triangles.reshape(-1, 3)
        heights = (corners - np.array(flange.frame.origin)) @ axes_matrix(flange.frame)[2]
        assert heights.min() == pytest.approx(0.0, abs=1e-3)
        for bolt in flange.bolts:
            spot = (corners - np.array(flange.frame.origin)) @ axes_matrix(flange.frame)[:2].T
            around = np.hypot(*(spot - np.array(bolt.at)).T)
            assert around.min() == pytest.approx(bolt.hole / 2, abs=0.05), "nothing is nearer than its hole"


@pytest.mark.slow
def test_its_parts_are_those_of_two_mocks(mock: Mock, tmp_path: Path) -> None:
    """What is printed of a half has the volume that it has as a header of its own, but for the name cut into it and for
    its notches, which stand at other angles in each primary: beside a leaning tube their fins are longer or shorter."""
    for number, plate in ((1, "F1"), (2, "F2")):
        alone = make_mock(header_of(one_text(number), tmp_path), MockSettings(plates=False))
        for part in alone.parts:
            name = plate if part.name == "F1" else part.name
            (mine,) = [each for each in mock.parts if each.name == name]
            assert mine.volume == pytest.approx(part.volume, rel=1e-2)
            assert mine.runs == part.runs


@pytest.mark.slow
def test_sockets_lie_on_their_tubes(mock: Mock, header: Header) -> None:
    """Where the socket of a plate opens its own primary runs, beyond the plate of its own flange."""
    for part in (each for each in mock.parts if each.name.startswith("F")):
        ((run, frame),) = part.sockets
        place = np.array(frame.origin) @ axes_matrix(part.home) + np.array(part.home.origin)
        line = next(line for each, line in header.tubes if each.name == run)
        along = np.array([frame_at(line, at)[0] for at in np.arange(0.0, 150.0, 0.05)])
        assert np.linalg.norm(along - place, axis=1).min() < 0.03
        flange = header.draft.flange_of(header.run(run).port)
        assert (place - np.array(flange.frame.origin)) @ np.array(flange.frame.z) > flange.finished
