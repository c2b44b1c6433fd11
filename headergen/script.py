"""A header in somebody's own script: what the checks say of it, and its solids as cadquery has them.

    >>> import headergen
    >>> header = headergen.load("specs/bogbean.yaml")
    >>> header.parts[:3]
    ('flange', 'primary 1', 'primary 2')
    >>> result = header.check()
    >>> [finding.message for finding in result.findings if finding.level == "error"]
    []
    >>> tube = header.solid("primary_1")  # a cadquery.Solid where it belongs, in millimetres and engine axes
    >>> type(tube).__name__, tube.isValid()
    ('Solid', True)

`header.assembly()` has all parts, named and coloured as in header.step. Importing this, and headergen, is light: the
checks are imported by `load`, cadquery when a solid is first asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from headergen.model import Header, Result
    from headergen.pipeline import Checked


class PartError(LookupError):
    """A part that the header does not have, or that cannot be made."""


class GapError(RuntimeError):
    """Two ways of measuring the same gap disagree: nothing should be built from either."""


@dataclass(frozen=True, eq=False)
class LoadedHeader:
    """A spec that was read, closed and measured; made by `load`. Lengths are millimetres, axes the engine's."""

    path: Path
    checked: Checked

    def check(self) -> Result:
        """The check's result: `findings`, worst first, each with level and message, and `survey`, all measurements.

        Parts are not included: `headergen build` measures those.
        """
        return self.checked.result

    @cached_property
    def parts(self) -> tuple[str, ...]:
        """The names of all parts that can be made, in the order of header.step."""
        from headergen.parts.table import parts_to_make

        return tuple(part.name for part in parts_to_make(self._legal))

    def solid(self, name: str) -> Any:
        """The cadquery.Solid of one part, in place; `primary_1`, its file name, means `primary 1`.

        Raises PartError if there is no such part or it cannot be made, SolidError if the CAD kernel fails.
        """
        from headergen.solids.assembly import named_solids

        known = self._name_of(name)
        return named_solids(self._legal, {known})[known]

    def assembly(self) -> Any:
        """A cadquery.Assembly of all parts, named and coloured as in header.step.

        Raises PartError if a part of the spec cannot be made, because an assembly is complete; SolidError if the CAD
        kernel fails.
        """
        from headergen.solids.assembly import assembly

        if self._without:
            raise PartError(f"{self.path}: {self._why_without}; take the parts that there are by solid(name)")
        return assembly(self._legal)

    @cached_property
    def _legal(self) -> Header:
        """The header without the runs of which no legal solid exists."""
        header = self.checked.result.header
        return header.with_runs({run.name for run in header.runs} - self.checked.without_solid)

    @cached_property
    def _without(self) -> Mapping[str, str]:
        """Parts of the spec that cannot be made → why."""
        from headergen.parts.table import impossible_parts

        runs = dict.fromkeys(sorted(self.checked.without_solid), "no legal solid exists of it")
        return {**runs, **impossible_parts(self._legal)}

    @property
    def _why_without(self) -> str:
        said = "; ".join(f"{name}: {why}" for name, why in self._without.items())
        return f"{said} (check() has the findings)"

    def _name_of(self, name: str) -> str:
        from headergen.parts.kind import file_stem

        known = (*self.parts, *self._without)
        called = [each for each in known if name == each] or [each for each in known if name == file_stem(each)]
        if not called:
            raise PartError(f"{self.path} has no part called {name}; its parts are: {', '.join(self.parts)}")
        if called[0] in self._without:
            raise PartError(f"{self.path}: {called[0]} cannot be made: {self._without[called[0]]}")
        return called[0]


def load(path: str | PathLike[str]) -> LoadedHeader:
    """Read the spec at `path`, close its runs and measure all gaps; nothing is made.

    Raises SpecError if the spec, or a file it names, cannot be used (its text has file, line and column), OSError if
    the file cannot be read, GapError if two ways of measuring the same gap disagree.
    """
    from headergen.pipeline import check
    from headergen.words.say import say_apart

    checked = check(Path(path))
    apart = [opinion for opinion in checked.result.survey.second_opinions if not opinion.agrees]
    if apart:
        units = checked.result.header.draft.units
        said = "; ".join(say_apart(opinion, units) for opinion in apart)
        raise GapError(f"{path}: two ways of measuring the same gap disagree: {said}. Please report this with the spec")
    return LoadedHeader(Path(path), checked)
