"""The words on flange plates and locating plates: all there, and nothing else cut into them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from assembly import manifold
from manifold3d import CrossSection, JoinType, OpType

from headergen.mock.build import Mock
from headergen.mock.flange import WEB, spot_of
from headergen.mock.part import MockPart
from headergen.model import Header

Demo = Callable[[str], tuple[Header, Mock]]
CLEAR = 0.5  # mm of plate that each letter has all round
SPECK = 0.5  # mm²; no letter is that small
THIN = 0.7  # mm, half the width of a stroke


@dataclass(frozen=True, eq=False)
class LetteredPlate:
    """A plate, the height of its face, how many letters it is to have, and where its tubes are."""

    part: MockPart
    face: float
    letters: int
    tubes: CrossSection


def letters_cut_into(part: MockPart, face: float, tubes: CrossSection) -> list[CrossSection]:
    """What is cut away 0.55 mm under the face of a plate and no longer at 0.65 mm: letters are 0.6 deep.

    A bore that leans leaves crescents there, thinner than any stroke, and the ends of sockets lie within the tubes.
    """
    solid = manifold(part.mesh)
    under, shallow = solid.slice(face - 0.65), solid.slice(face - 0.55)
    pieces = [piece for piece in (under - shallow).decompose() if piece.area() > SPECK]
    return [piece for piece in pieces if piece.offset(-THIN / 2).area() > 0 and (piece ^ tubes).area() == 0]


def assert_letters_are_whole(plate: LetteredPlate) -> int:
    """Each letter stands in plate that is whole all round it; their number."""
    found = letters_cut_into(plate.part, plate.face, plate.tubes)
    under = manifold(plate.part.mesh).slice(plate.face - 0.65)
    for letter in found:
        room = letter.offset(CLEAR, JoinType.Round, 2.0, 24)
        assert (room - under).area() < 1e-3, (plate.part.name, letter.bounds())
    return len(found)


def plates_of(header: Header, mock: Mock) -> list[LetteredPlate]:
    """Every plate of a mock with P and number for each primary, and its own name."""
    flange, radius = header.draft.flanges[0], header.draft.tube.radius
    round_tube = CrossSection.circle(radius + 1.0)
    circles = {f"primary {port.number}": round_tube.translate(spot_of(flange, port)) for port in flange.ports}
    found = []
    for part in (*(part for part in mock.parts if part.spigot is None), *mock.locating):
        is_flange = part not in mock.locating
        # a flange plate has its letters beside its bolts, where it is thinner than when it is faced
        face = min(WEB, flange.finished) if is_flange else float(part.mesh.vertices[:, 2].max())
        tubes = CrossSection.batch_boolean([circles[n] for n in part.runs], OpType.Add) if is_flange else None
        letters = sum(len(f"P{run.removeprefix('primary ')}") for run in part.runs) + len(part.name)
        found.append(LetteredPlate(part, face, letters, tubes or CrossSection()))
    return found


def test_letters_of_the_demos_are_whole_and_all_there(name: str, demo: Demo) -> None:
    for plate in plates_of(*demo(name)):
        assert assert_letters_are_whole(plate) == plate.letters, plate.part.name
