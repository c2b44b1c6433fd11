"""Random half-built runs, disturbed at every joint and measured with noise, and their ends by another library.

What a run is built of is known here alone: `Ground` walks it with scipy's rotations, and knows no code of headergen but
the nouns that it hands over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from headergen.geometry.curves.centreline import trace
from headergen.hand.chain import chain_of, motions
from headergen.hand.tube import RunInPieces
from headergen.model import (
    Act,
    Bore,
    Collector,
    CutPiece,
    EndReading,
    Frame,
    HandSettings,
    PieceEnd,
    Port,
    PortShape,
    Run,
    RunAsBuilt,
    Straight,
    Tube,
    Vec,
)

Array = NDArray[np.float64]
RADIUS, SLIP = 21.2, 40.0
TUBE = Tube(2 * RADIUS, 1.5, "304L")


@dataclass
class Ground:
    """Where a walk along a run is: turned by `axes`, at `point`."""

    axes: Rotation = field(default_factory=Rotation.identity)
    point: Array = field(default_factory=lambda: np.zeros(3))

    def go(self, length: float) -> None:
        self.point = self.point + self.axes.apply([0, 0, length])

    def lean(self, by: float, toward: float) -> None:
        """The travel leans to the side that is `toward` clockwise from x, seen along it."""
        self.axes = self.axes * Rotation.from_rotvec(by * np.array([-math.sin(toward), math.cos(toward), 0.0]))

    def turn(self, by: float) -> None:
        self.axes = self.axes * Rotation.from_rotvec([0, 0, by])

    def bend(self, angle: float, radius: float) -> None:
        chord = 2 * radius * math.sin(angle / 2)
        self.point = self.point + self.axes.apply(chord * np.array([math.sin(angle / 2), 0.0, math.cos(angle / 2)]))
        self.axes = self.axes * Rotation.from_rotvec([0, angle, 0])

    def walk(self, piece: Cut) -> None:
        self.lean(piece.lean, piece.toward)
        self.turn(piece.turn)
        self.go(piece.first)
        if piece.angle:
            self.bend(piece.angle, piece.radius)
        self.go(piece.last)


@dataclass(frozen=True)
class Cut:
    """A piece: how it leans and turns at its start, and what it is."""

    first: float
    angle: float = 0.0
    radius: float = 0.0
    last: float = 0.0
    turn: float = 0.0
    lean: float = 0.0
    toward: float = 0.0


def random_run(rng: np.random.Generator) -> list[Cut]:
    """Straights and bends in turn, the last a straight in its sleeve; some bends follow each other."""
    cuts = [Cut(rng.uniform(60, 150))]
    for k in range(int(rng.integers(2, 5))):
        turn, angle = rng.uniform(-math.pi, math.pi), math.radians(rng.uniform(30, 100))
        cuts.append(Cut(rng.uniform(15, 40), angle, 63.5, rng.uniform(15, 40), turn * (k > 0)))
        if rng.random() < 0.7:
            cuts.append(Cut(rng.uniform(50, 140)))
    if cuts[-1].angle:
        cuts.append(Cut(rng.uniform(60, 140)))
    return cuts


def disturbed(cuts: list[Cut], rng: np.random.Generator) -> list[Cut]:
    """Every joint and every piece as a hand makes them."""
    return [
        replace(
            cut,
            first=cut.first + rng.normal(0, 0.5),
            angle=cut.angle + (rng.normal(0, math.radians(0.5)) if cut.angle else 0.0),
            turn=cut.turn + (rng.normal(0, math.radians(0.5)) if cut.angle else 0.0),
            lean=abs(rng.normal(0, math.radians(0.35))),
            toward=rng.uniform(0, 2 * math.pi),
        )
        for cut in cuts
    ]


def in_pieces(cuts: list[Cut]) -> RunInPieces:
    """The run as headergen knows it, with its bore where it ends as planned."""
    ends = (PieceEnd("square", 1.0, 60.0), PieceEnd("square", 1.0, 60.0))
    pieces = [
        CutPiece(
            "primary 1", k, 0.0, 0.0, (c.first, c.last), c.angle, c.radius, None, ends, True, None,
        )
        for k, c in enumerate(cuts, 1)
    ]  # fmt: skip
    world = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    chain = chain_of("primary 1", world, pieces, [c.turn for c in cuts if c.angle])
    bore = Bore("main", 1, "primary 1", world)
    run = Run("primary 1", TUBE, Port(1, world, PortShape("round", (38.0,))), bore, (Straight(1.0),))
    collector = Collector("main", world, "slip", SLIP, (bore,))
    line = trace(world, run.steps, run.name)
    return RunInPieces(run, line, tuple(pieces), chain, motions(chain), collector, HandSettings(), frozenset())


def walked(cuts: list[Cut]) -> Ground:
    ground = Ground()
    for cut in cuts:
        ground.walk(cut)
    return ground


def rim_reading(ground: Ground, piece: int, face: str, rng: np.random.Generator, noise: float) -> EndReading:
    """Points on the rim of a face, and one on the witness line, each off by the noise of an arm."""
    count = int(rng.integers(4, 9))
    turns = (np.arange(count) + rng.uniform(-0.2, 0.2, count)) * 2 * math.pi / count
    rim = [ground.axes.apply([RADIUS * math.cos(t), RADIUS * math.sin(t), 0]) + ground.point for t in turns]
    mark = ground.axes.apply([RADIUS, 0, 0]) + ground.point

    def noisy(point: Array) -> Vec:
        x, y, z = point + rng.normal(0, noise, 3)
        return (float(x), float(y), float(z))

    return EndReading(piece, "end" if face == "end" else "start", 0.5, tuple(map(noisy, rim)), mark=noisy(mark))


def measured(reading: EndReading, along: Array) -> Ground:
    """The face that a reading means: plane by eigenvectors, circle by scipy's least squares, roll by the mark."""
    points = np.array(reading.rim)
    middle = points.mean(axis=0)
    normal = np.linalg.eigh((points - middle).T @ (points - middle))[1][:, 0]
    normal = normal if normal @ along > 0 else -normal
    x = np.cross(normal, [1, 0, 0] if abs(normal[0]) < 0.9 else [0, 1, 0])
    x /= np.linalg.norm(x)
    flat = (points - middle) @ np.array([x, np.cross(normal, x)]).T
    found = least_squares(lambda v: np.hypot(*(flat - v[:2]).T) - v[2], [0, 0, RADIUS], xtol=1e-14, ftol=1e-14).x
    centre = middle + found[0] * x + found[1] * np.cross(normal, x)
    witness = np.array(reading.mark) - centre
    witness -= (witness @ normal) * normal
    witness /= np.linalg.norm(witness)
    return Ground(Rotation.from_matrix(np.column_stack([witness, np.cross(normal, witness), normal])), centre)


def worked(cuts: list[Cut], acts: tuple[Act, ...], held: int) -> tuple[list[Cut], float]:
    """The pieces once the work is done, and how far the last held piece (by number) is cut back (mm)."""
    made, back = list(cuts), 0.0
    for act in acts:
        k = act.piece - 1
        if act.kind == "turn":
            made[k] = replace(made[k], turn=made[k].turn + act.amount)
        elif act.kind == "angle":
            made[k] = replace(made[k], angle=made[k].angle + act.amount)
        elif act.kind == "tilt":
            assert made[k].lean == 0 or k >= len(made)
            made[k] = replace(made[k], lean=act.amount, toward=act.toward)
        elif act.kind == "length" and act.piece == held:
            assert act.end == "end"
            assert act.amount <= 0, "what is welded can only be cut back"
            back = act.amount
        elif act.kind == "length" and act.end == "end" and made[k].angle:
            made[k] = replace(made[k], last=made[k].last + act.amount)
        elif act.kind == "length":
            made[k] = replace(made[k], first=made[k].first + act.amount)
    return made, back


def built(run: str, welded: range, ends: tuple[EndReading, ...], tacked: tuple[int, ...] = ()) -> RunAsBuilt:
    return RunAsBuilt(run, welded=tuple(welded), tacked=tacked, ends=ends)
