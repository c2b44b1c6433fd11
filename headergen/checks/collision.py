"""Meshes as bodies of the collision library: the distance between two of them, and where they meet.

They are compared facet by facet, whatever their shape.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from headergen.geometry.frames import vec
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Vec

MOST_CONTACTS = 100_000


@dataclass(frozen=True, eq=False)
class Facets:
    """Meshes as one body. The library tells its models apart by identity, so they are kept here."""

    manager: Any
    models: tuple[Any, ...]
    objects: tuple[Any, ...]

    def holds(self, model: Any) -> bool:
        return any(each is model for each in self.models)


def facets_of(meshes: Sequence[TriangleMesh]) -> Facets:
    import fcl  # imported here: pages and solids do not need it

    manager = fcl.DynamicAABBTreeCollisionManager()
    models = tuple(_model(mesh, fcl.BVHModel()) for mesh in meshes)
    objects = tuple(fcl.CollisionObject(model, fcl.Transform()) for model in models)
    manager.registerObjects(list(objects))
    manager.setup()
    return Facets(manager, models, objects)


def _model(mesh: TriangleMesh, model: Any) -> Any:
    model.beginModel(len(mesh.faces), len(mesh.vertices))
    model.addSubModel(np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64))
    model.endModel()
    return model


def distance_between(one: Facets, other: Facets) -> float:
    """The distance in mm; 0 or less where the surfaces meet."""
    import fcl

    query = fcl.DistanceData(fcl.DistanceRequest(enable_signed_distance=True))
    one.manager.distance(other.manager, query, fcl.defaultDistanceCallback)
    return float(query.result.min_distance)


def nearest_places(one: Facets, other: Facets) -> tuple[float, Vec, Vec]:
    """The distance as in `distance_between`, and the nearest points of the first and of the other body."""
    import fcl

    request = fcl.DistanceRequest(enable_nearest_points=True, enable_signed_distance=True)
    query = fcl.DistanceData(request, fcl.DistanceResult())
    one.manager.distance(other.manager, query, fcl.defaultDistanceCallback)
    first, second = (vec(place) for place in query.result.nearest_points)
    if not one.holds(query.result.o1):
        first, second = second, first
    return float(query.result.min_distance), first, second


def first_contact(one: Facets, other: Facets) -> Vec | None:
    """A point where the surfaces meet, if they do."""
    import fcl

    query = fcl.CollisionData(fcl.CollisionRequest(num_max_contacts=MOST_CONTACTS, enable_contact=True))
    one.manager.collide(other.manager, query, fcl.defaultCollisionCallback)
    return vec(query.result.contacts[0].pos) if query.result.contacts else None
