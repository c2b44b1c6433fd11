"""The start of a primary's tube: at the face of the head, or after a transition, printed with its outside shape."""

from __future__ import annotations

from dataclasses import dataclass

from manifold3d import Manifold

from headergen.geometry.curves.centreline import cut_out
from headergen.geometry.mesh.tube import outer_skin, skin_after
from headergen.geometry.plate.flange import seated_from, transition_lead, tube_from
from headergen.geometry.transition.rulings import narrowest, outside_rings, widest
from headergen.mock.solid import placement, solid_of
from headergen.model import Centreline, Flange, Port, Tube

ONTO = 0.2  # mm past the transition over which its facets blend into those of the tube
LOOKED_AT = 20  # sections of a transition that are measured
CHORD_ERROR = 0.04  # mm


@dataclass(frozen=True)
class Beginning:
    """Lengths along a primary from the face: its transition keeps the port's shape up to `leaves`, and ends at `tube`.

    Both are 0 without a transition. `frame` and `shape` are those of its port.
    """

    port: Port
    steel: Tube
    leaves: float
    tube: float

    @property
    def reach(self) -> float:
        """Largest distance from the axis, mm."""
        return widest(self.port.shape, self.steel) if self.tube else self.steel.radius


def beginning_of(flange: Flange, port: Port, steel: Tube) -> Beginning:
    if not port.transition:
        return Beginning(port, steel, 0.0, 0.0)
    leaves = seated_from(flange, port, steel) + transition_lead(flange, port)
    return Beginning(port, steel, leaves, tube_from(flange, port, steel))


def outside(begins: Beginning, line: Centreline, end: float, behind: float) -> Manifold:
    """A primary from its port to a length along it, filled, in engine axes; it starts `behind` mm before the face."""
    if not begins.tube:
        return solid_of(outer_skin(cut_out(line, 0.0, end), begins.steel.radius, CHORD_ERROR).mesh)
    rings = outside_rings(begins.port.shape, begins.steel, (-behind, begins.leaves, begins.tube))
    turned = placement(begins.port.frame)
    tube = cut_out(line, begins.tube + min(ONTO, (end - begins.tube) / 2), end)
    return solid_of(skin_after(rings @ turned[:, :3].T + turned[:, 3], tube, begins.steel.radius, CHORD_ERROR))


def slimmer(begins: Beginning, at: float, length: float) -> float:
    """How much thinner than the tube, at most, the `length` before a place is, mm."""
    if not begins.tube or at - length >= begins.tube:
        return 0.0
    return max(0.0, begins.steel.radius - _narrowest(begins, at - length))


def least_reach(begins: Beginning) -> float:
    """Least distance of the outside from the axis, mm."""
    return begins.steel.radius - slimmer(begins, 0.0, 0.0)


def _narrowest(begins: Beginning, low: float) -> float:
    """The least over all sections from a length on; on each ruling the least is at an end or in between."""
    span = begins.tube - begins.leaves
    first = max(0.0, (low - begins.leaves) / span)
    shares = [first + (1 - first) * k / LOOKED_AT for k in range(LOOKED_AT + 1)]
    return min(narrowest(begins.port.shape, begins.steel, share) for share in shares)
