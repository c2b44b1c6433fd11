"""One printable part: its mesh as it stands on the bed, and the frames of its joints."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold
from numpy.typing import NDArray

from headergen.geometry.frames import axes_matrix
from headergen.geometry.mesh.triangles import TriangleMesh, enclosed_volume
from headergen.mock.solid import UnsoundPartError, mesh_of
from headergen.mock.strength import Load, TubeSection
from headergen.model import Frame, MockKind

ON_BED = 0.01  # mm above the bed up to which a face counts as resting on it
SPECK = 0.1  # mm³; less than a nozzle can print
SLACK = math.radians(3)  # beyond the allowed lean before a face counts as overhang: facets differ from the true surface


@dataclass(frozen=True, eq=False)
class MockPart:
    """A part in its own axes: z up from the bed, the origin in the middle of its base.

    `home`: the frame of these axes in the engine's when the mock is assembled. `spigot` and `sockets` (by run): joint
    frames, z along the travel, x toward the witness line. `sections`: along its tubes, from the flange on. `collector`:
    the one that it stands for, or whose tubes it is for.
    """

    name: str
    runs: tuple[str, ...]
    pieces: tuple[int, ...]
    mesh: TriangleMesh
    home: Frame
    smallest_section: float
    spigot: Frame | None = None
    sockets: tuple[tuple[str, Frame], ...] = ()
    notes: tuple[str, ...] = ()
    sections: tuple[TubeSection, ...] = ()
    kind: MockKind = "tube"
    collector: str = ""

    @property
    def volume(self) -> float:
        return enclosed_volume(self.mesh.vertices, self.mesh.faces)

    @property
    def skin(self) -> float:
        """The area of its outside and of its bores, mm²."""
        return float(_doubled(self.mesh)[1].sum() / 2)

    @property
    def size(self) -> tuple[float, float, float]:
        x, y, z = np.ptp(self.mesh.vertices, axis=0).tolist()
        return (x, y, z)


def in_place(part: MockPart) -> TriangleMesh:
    """The part's mesh in engine axes, in place."""
    return TriangleMesh(
        part.mesh.vertices @ axes_matrix(part.home) + np.array(part.home.origin), part.mesh.faces, part.mesh.closed
    )


def load_of(part: MockPart, density: float) -> Load:
    """The mass of a part, printed solid at `density` g/cm³, and its centre in engine axes.

    By tetrahedra from the origin to each facet.
    """
    corners = in_place(part).triangles
    volumes = np.linalg.det(corners) / 6
    x, y, z = (volumes @ corners.sum(axis=1) / 4 / volumes.sum()).tolist()
    return Load(float(volumes.sum()) * density / 1000, (x, y, z))


def sound_mesh(name: str, solid: Manifold) -> TriangleMesh:
    """The mesh of a part, in place on the bed. Raises UnsoundPartError unless it is one closed body with a volume.

    Specks, and pores of that size where letters cut into a wall, are removed.
    """
    bodies = [body for body in solid.decompose() if abs(body.volume()) > SPECK]  # a pore counts as negative
    if len(bodies) != 1:
        raise UnsoundPartError(f"part {name} falls into {len(bodies)} bodies")
    mesh = mesh_of(bodies[0])
    if not mesh.closed or enclosed_volume(mesh.vertices, mesh.faces) <= 0:
        raise UnsoundPartError(f"the mesh of part {name} is not closed")
    if mesh.vertices[:, 2].min() < -ON_BED:
        raise UnsoundPartError(f"part {name} would reach under the bed")
    return mesh


def overhang(mesh: TriangleMesh, lean: float) -> float:
    """Share of the skin that faces down by more than the lean allows, but for what rests on the bed."""
    _, areas = hanging(mesh, lean)
    return float(2 * areas.sum() / _doubled(mesh)[1].sum())


def hanging(mesh: TriangleMesh, lean: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The facets (n, 3, 3) that face down by more than the lean allows and do not rest on the bed, the area of each."""
    normals, doubled = _doubled(mesh)
    down = -normals[:, 2] > math.sin(min(lean + SLACK, math.pi / 2)) * doubled
    resting = mesh.triangles[:, :, 2].max(axis=1) < ON_BED
    return mesh.triangles[down & ~resting], doubled[down & ~resting] / 2


def _doubled(mesh: TriangleMesh) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Outward vectors of the facets, each twice as long as its area, and those lengths."""
    a, b, c = np.moveaxis(mesh.triangles, 1, 0)
    normals = np.cross(b - a, c - a)
    return normals, np.linalg.norm(normals, axis=1)
