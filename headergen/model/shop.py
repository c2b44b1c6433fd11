"""What the workshop handles: the pieces a run is cut into, and the joints between them."""

from __future__ import annotations

from dataclasses import dataclass

from headergen.model.path import Frame


@dataclass(frozen=True)
class Piece:
    """What is cut from one length of stock: the run from `start` to `end`, lengths from where it begins."""

    run: str
    number: int  # along its run, counted from 1 at its start
    start: float
    end: float
    steps: tuple[int, ...]  # those it is made of, counted from 1

    @property
    def length(self) -> float:
        return self.end - self.start


@dataclass(frozen=True)
class Joint:
    """Where a piece meets the next one of its run.

    `frame`: z along the travel, x toward the witness line, which lies where the piece before carries the inside of its
    last bend. `clocking` turns from there, about the travel, to the inside of the bend that follows at once.
    """

    run: str
    number: int  # that of the piece before it
    at: float
    frame: Frame
    clocking: float
