"""Where a tube is welded onto the side of another run: a crossover, a balance pipe, a branch."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.path import Vec


@dataclass(frozen=True)
class Side:
    """A place on the side of a run: the tube's axis meets the run's, and its end is cut to the run's skin.

    `run`: the name of the run that carries it; `at`: length along that run from its start. `along`: the direction of
    the gas in the tube, a unit vector; with an `angle`, it is turned to that angle from the run's direction there, in
    the plane of both.
    """

    run: str
    at: float
    along: Vec
    angle: float | None = None
