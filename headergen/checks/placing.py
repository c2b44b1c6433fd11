"""The possible error, at the header, of a mesh that was placed by points."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from headergen.geometry.mesh.registration import expected_error
from headergen.model import Draft, Gap, MeshFacts


def with_doubt(gap: Gap, facts: MeshFacts) -> Gap:
    """A gap with the uncertainty, at its place, that comes from the mesh's points and placement."""
    placing = 0.0 if facts.spread is None else float(expected_error(facts.spread, np.array([gap.points[1]]))[0])
    return replace(gap, uncertainty=facts.spacing + placing)


def with_error(facts: MeshFacts, gaps: Iterable[Gap], draft: Draft) -> MeshFacts:
    """The facts of a mesh with its error where tubes come nearest; at the ports, if no gap was measured."""
    if facts.spread is None:
        return facts
    places = [gap.points[1] for gap in gaps if gap.b == facts.item]
    places = places or [port.frame.origin for port in draft.ports]
    return replace(facts, error=float(expected_error(facts.spread, np.array(places)).max()))
