"""The input of the makers of parts, and their result."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any

import numpy as np
from OCP.Standard import Standard_Failure

from headergen.geometry.curves.stepped import WallSpan
from headergen.geometry.frames import axes_matrix
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Centreline, Draft, Frame, Tube
from headergen.solids.inspect import SolidError
from headergen.solids.mesh import solid_mesh
from headergen.solids.shapes import placed


@dataclass(frozen=True, eq=False)
class Shaped:
    """A kernel solid in place.

    `skin` makes its mesh once all cuts are done; it is None for tubes, whose meshes need no kernel. `line` and `tube`
    are set only for tubes: the centreline of the tube as cut, and the tube bent along it; `walls` for stepped ones.
    """

    solid: Any
    skin: Callable[[], TriangleMesh] | None = None
    line: Centreline | None = None
    tube: Tube | None = None
    walls: tuple[WallSpan, ...] = ()


@dataclass(frozen=True, eq=False)
class Making:
    """The draft that parts are made of, and the parts made so far, by what they are made from.

    Equal parts are made once about their own origin and placed several times.
    """

    draft: Draft
    made: dict[Any, tuple[Any, Callable[[], TriangleMesh]]] = field(default_factory=dict)

    def whole(self, make: Callable[[], Any], name: str) -> Shaped:
        """A part that is made in place."""
        solid = tried(make, name)
        return Shaped(solid, self._skin(solid, name))

    def once(self, key: Any, make: Callable[[], Any], name: str, at: tuple[Frame, float]) -> Shaped:
        """A part made (now or before) about the origin; `at`: the frame to place it in, after a turn about z."""
        if key not in self.made:
            solid = tried(make, name)
            self.made[key] = (solid, cache(self._skin(solid, name)))
        solid, skin = self.made[key]
        return Shaped(placed(solid, *at), lambda: _mesh_at(skin(), *at))

    def _skin(self, solid: Any, name: str) -> Callable[[], TriangleMesh]:
        return partial(solid_mesh, solid, self.draft.limits.chord_error, name)


def tried(make: Callable[[], Any], name: str) -> Any:
    """The result of `make`. Raises SolidError, naming the part, if the kernel fails."""
    try:
        return make()
    except Standard_Failure as error:
        raise SolidError(f"{name}: the CAD kernel gave up on this part ({error})") from error


def _mesh_at(mesh: TriangleMesh, frame: Frame, turn: float) -> TriangleMesh:
    c, s = np.cos(turn), np.sin(turn)
    about_z = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return TriangleMesh(mesh.vertices @ about_z @ axes_matrix(frame) + np.array(frame.origin), mesh.faces, mesh.closed)
