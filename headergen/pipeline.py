"""The order of the stages: read → close → survey → judge. What is made of the result is the worker's."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from headergen.checks.judge import judge, primaries_without_solid
from headergen.checks.measure import Meshes, survey
from headergen.model import Result
from headergen.solve.closing import close
from headergen.spec.meshes import load_meshes
from headergen.spec.reader import read_spec


@dataclass(frozen=True)
class Checked:
    """A result without parts yet, the chassis meshes by item name, and the primaries no legal solid exists of."""

    result: Result
    meshes: Meshes
    without_solid: frozenset[int]


def check(path: Path) -> Checked:
    """Everything that can be said of a spec without making anything.

    Raises SpecError when the spec, or a file it names, cannot be used.
    """
    source, draft = read_spec(path)
    meshes = load_meshes(path, draft)
    measured = survey(close(draft), meshes)
    result = Result(source, measured.header, measured, parts=(), findings=judge(measured))
    return Checked(result, meshes, primaries_without_solid(measured))
