"""A half-built header: how each of its runs is closed from where it is, and the header that comes of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from headergen.built.least_work import corrected
from headergen.built.path import PathError, line_as_built, path_as_built
from headergen.built.readings import ReadingError, brought_together
from headergen.built.state import HalfBuilt, half_built
from headergen.hand.tube import tubes_of
from headergen.model import Centreline, Correction, Header, RunAsBuilt, Shop, SpecPath, Step


class BuiltError(ValueError):
    """Something of `as_built` that cannot be; `path`: its place in the spec."""

    def __init__(self, path: SpecPath, message: str) -> None:
        super().__init__(message)
        self.path = path


@dataclass(frozen=True, eq=False)
class Corrected:
    """A run with its correction: as it is now, and once that is done.

    `line`: its centreline then, with its kinks; `steps`: the nearest path of a spec, `apart` mm from it at most; None
    if nothing closes it, or no such path does, `why` not.
    """

    correction: Correction
    before: HalfBuilt
    after: HalfBuilt
    line: Centreline | None
    steps: tuple[Step, ...] | None
    apart: float = 0.0
    why: str = ""


def corrections(header: Header, shop: Shop) -> Iterator[Corrected]:
    """How each half-built run of a closed header is closed, in the order of the spec. Raises BuiltError."""
    tubes = {tube.run.name: tube for tube in tubes_of(header, shop)}
    for index, built in enumerate(header.draft.as_built):
        if built.run not in tubes:
            raise BuiltError(("as_built", index), f"{built.run} is not made of pieces, so none of it is half built")
        _must_be_there(index, built, tubes[built.run].chain.size)
        try:
            half, left = brought_together(half_built(tubes[built.run], built, header.draft.shop.shrinkage))
        except ReadingError as wrong:
            raise BuiltError(("as_built", index, "ends", wrong.index), str(wrong)) from None
        yield _corrected(header, half, left)


def _must_be_there(index: int, built: RunAsBuilt, size: int) -> None:
    """Every piece and joint that is named must be on the sheets."""
    pieces = [each.piece for each in built.pieces]
    for key, numbers in (("cut", built.cut), ("pieces", pieces)):
        for place, number in enumerate(numbers):
            if number > size:
                message = f"{built.run} has {size} pieces on its sheets, so there is no piece {number}"
                raise BuiltError(("as_built", index, key, place), message)
    joints = [each.joint for each in built.joints]
    for key, numbers in (("welded", built.welded), ("tacked", built.tacked), ("joints", joints)):
        for place, number in enumerate(numbers):
            if number > size:
                message = f"{built.run} has joints 0 to {size}: {size} is in its bore, and there is no joint {number}"
                raise BuiltError(("as_built", index, key, place), message)


def _corrected(header: Header, half: HalfBuilt, left: tuple) -> Corrected:  # type: ignore[type-arg]
    correction, after = corrected(half, header.draft.stock, left)
    if not correction.closes:
        return Corrected(correction, half, half, None, None)
    line = line_as_built(after, correction.slide)
    try:
        steps, apart = path_as_built(after, line)
    except PathError as wrong:
        return Corrected(correction, half, after, line, None, why=str(wrong))
    return Corrected(correction, half, after, line, steps, apart)


def header_as_built(header: Header, found: list[Corrected], smooth: bool) -> Header:
    """The header once all is done that closes; with the paths of a spec, or (not `smooth`) with every kink."""
    done = {each.correction.run: each for each in found if each.steps is not None and each.line is not None}
    runs = tuple(
        replace(run, steps=done[run.name].steps or run.steps, fits=()) if run.name in done else run
        for run in header.runs
    )
    lines = tuple(
        (done[line.run].line or line) if line.run in done and not smooth else line for line in header.centrelines
    )
    draft = replace(header.draft, runs=runs, as_built=())
    return replace(header, draft=draft, runs=runs, centrelines=lines)
