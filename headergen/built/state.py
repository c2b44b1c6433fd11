"""How far a run is built: its pieces as measured, what holds them, and the poses that follow."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from headergen.built.chain import BuiltPiece, Pose, inverse_over, poses, turned_into
from headergen.hand.chain import about_z
from headergen.hand.tube import RunInPieces
from headergen.model import RunAsBuilt


@dataclass(frozen=True, eq=False)
class HalfBuilt:
    """A run with its pieces as they are; joints 0 to n by the piece before them.

    `held`: joints that stay; `turning`: tacked joints that may be turned. `start`: where the tube begins, and `bore`:
    its end as planned. `units`: those of the job, for what is said.
    """

    tube: RunInPieces
    built: RunAsBuilt
    pieces: tuple[BuiltPiece, ...]
    held: frozenset[int]
    turning: frozenset[int]
    start: Pose
    bore: Pose
    units: str = "mm"

    @property
    def size(self) -> int:
        return len(self.pieces)

    @property
    def on_flange(self) -> int:
        """How many pieces are held on the flange."""
        return next(k for k in range(self.size + 1) if k not in self.held or k == self.size)

    @property
    def in_bore(self) -> int:
        """How many pieces are held in the bore; 0 if the end piece is free in its sleeve, or held on the flange."""
        if self.size not in self.held or self.on_flange == self.size:
            return 0
        return next(k for k in range(1, self.size + 1) if self.size - k not in self.held)

    def forward(self) -> list[Pose]:
        """Start, and end of each piece, from the flange on."""
        return poses(self.start, self.pieces)

    def backward(self) -> list[Pose]:
        """The same, from the bore back: the end of the last piece is in its place."""
        found = [self.bore]
        for piece in reversed(self.pieces):
            found.append(inverse_over(found[-1], piece))
        return found[::-1]

    def ends(self) -> list[Pose]:
        """The same, for pieces in the bore from the bore back, for all others from the flange on."""
        first = self.size - self.in_bore
        return [*self.forward()[: first + 1], *self.backward()[first + 1 :]]

    def start_of(self, k: int) -> Pose:
        """The start of piece k, from 0, leaning and turned into its bend."""
        before = self.backward()[k] if k >= self.size - self.in_bore else self.forward()[k]
        return turned_into(before, self.pieces[k])


def half_built(tube: RunInPieces, built: RunAsBuilt, shrinkage: float, units: str = "mm") -> HalfBuilt:
    """`shrinkage`: that for which the pieces were cut longer (mm); `units`: of the job."""
    chain, n = tube.chain, tube.chain.size
    held = frozenset(built.welded) | (frozenset(built.tacked) - frozenset(built.may_turn))
    start = (chain.frames[0] @ about_z(-chain.links[0].clocking), chain.origins[0])
    return HalfBuilt(
        tube,
        built,
        tuple(_as_measured(piece, k, built, shrinkage) for k, piece in enumerate(planned_pieces(tube))),
        frozenset(joint for joint in held if joint <= n),
        frozenset(built.may_turn),
        start,
        (chain.frames[n], chain.origins[n]),
        units,
    )


def planned_pieces(tube: RunInPieces) -> tuple[BuiltPiece, ...]:
    """The pieces of a run as on its sheets."""
    return tuple(BuiltPiece(k.clocking, k.legs[0], k.angle, k.radius, k.legs[1]) for k in tube.chain.links)


def _as_measured(piece: BuiltPiece, k: int, built: RunAsBuilt, shrinkage: float) -> BuiltPiece:
    own, joint = built.piece(k + 1), built.joint(k)
    if own is not None:
        first, last = own.legs if own.legs is not None else (piece.first, piece.last)
        piece = replace(
            piece,
            first=first if own.length is None else own.length,
            last=last,
            angle=piece.angle if own.angle is None else own.angle,
            radius=piece.radius if own.radius is None else own.radius,
        )
    if joint is None:
        return piece
    lean, toward = joint.pulled or 0.0, joint.toward
    shrunk = 0.0 if joint.marks is None or k == 0 else joint.marks[0] - joint.marks[1] - shrinkage
    return replace(
        piece,
        turn=piece.turn if joint.clocking is None or piece.angle == 0 else joint.clocking,
        first=piece.first - shrunk,
        tilt_x=-lean * math.sin(toward),
        tilt_y=lean * math.cos(toward),
    )


def group_of(half: HalfBuilt, k: int) -> range:
    """The pieces, from 0, that are held together with piece k."""
    first = last = k
    while first > 0 and first in half.held:
        first -= 1
    while last + 1 < half.size and last + 1 in half.held:
        last += 1
    return range(first, last + 1)


def cut_back(half: HalfBuilt) -> tuple[BuiltPiece, ...]:
    """The pieces as long as they are once the ends of some are cut back, for the piece behind to begin there."""
    back = [each.before for each in half.pieces[1:]] + [0.0]
    return tuple(
        replace(piece, last=piece.last + less) if piece.angle > 0 else replace(piece, first=piece.first + less)
        for piece, less in zip(half.pieces, back, strict=True)
    )


def with_pieces(half: HalfBuilt, pieces: Sequence[BuiltPiece]) -> HalfBuilt:
    return replace(half, pieces=tuple(pieces))
