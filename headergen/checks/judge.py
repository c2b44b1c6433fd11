"""The list of all rules, and their findings on a header."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from headergen.checks.rules.bends import (
    bend_in_radians,
    bend_on_shelf,
    bend_radius,
    bend_range,
    is_too_tight,
    numbered_bends,
)
from headergen.checks.rules.bosses import boss_place, sensor_lean, sensor_sees
from headergen.checks.rules.closing import closing
from headergen.checks.rules.divided import divided
from headergen.checks.rules.far import far_items
from headergen.checks.rules.gap_chassis import gap_chassis
from headergen.checks.rules.gap_tubes import gap_tubes
from headergen.checks.rules.gap_uncertain import gap_uncertain
from headergen.checks.rules.growth_place import growth_place
from headergen.checks.rules.half_built import half_built
from headergen.checks.rules.length import length, length_spread
from headergen.checks.rules.merges import merges
from headergen.checks.rules.mesh_notes import mesh_notes
from headergen.checks.rules.mesh_sides import mesh_sides
from headergen.checks.rules.not_made import not_made
from headergen.checks.rules.open_end import open_end
from headergen.checks.rules.overlaps import overlaps
from headergen.checks.rules.own_crossing import own_crossing
from headergen.checks.rules.parallel import parallel
from headergen.checks.rules.part_place import part_place
from headergen.checks.rules.parts_clear import parts_clear, too_near
from headergen.checks.rules.plate import plate_edge, plate_relief, plate_web
from headergen.checks.rules.ports import (
    crowded_ports,
    port_forming,
    port_lean,
    port_room,
    port_slope,
    port_step,
    port_throat,
    port_wide,
)
from headergen.checks.rules.reach import reach
from headergen.checks.rules.side_by_side import side_by_side
from headergen.checks.rules.sides import sides
from headergen.checks.rules.stock import stock_tube, tube_material
from headergen.checks.rules.straights import bend_meets_bend, straights
from headergen.checks.rules.turned_over import follows, turned_over, without_items
from headergen.checks.rules.unmeasured import together_all_along, unmeasured
from headergen.model import Draft, Gap, Header, Overlap, Survey
from headergen.model.finding import Finding, sort_findings
from headergen.parts.side import side_faults

PATH_RULES: tuple[Callable[[Header], Iterator[Finding]], ...] = (
    closing,
    bend_radius,
    tube_material,
    stock_tube,
    bend_in_radians,
    bend_range,
    bend_on_shelf,
    straights,
    bend_meets_bend,
    growth_place,
    sides,
    parallel,
    merges,
    divided,
    plate_web,
    plate_edge,
    plate_relief,
    port_step,
    port_wide,
    port_slope,
    port_forming,
    port_throat,
    port_lean,
    port_room,
    boss_place,
    sensor_lean,
    sensor_sees,
    part_place,
    half_built,
)
SURVEY_RULES: tuple[Callable[[Survey], Iterator[Finding]], ...] = (
    open_end,
    side_by_side,
    length,
    length_spread,
    own_crossing,
    gap_chassis,
    gap_uncertain,
    unmeasured,
    together_all_along,
    far_items,
    mesh_notes,
    mesh_sides,
    gap_tubes,
    parts_clear,
    reach,
)


def judge(survey: Survey) -> tuple[Finding, ...]:
    """The findings of all rules, in the order in which they are shown."""
    turned = turned_over(survey)
    rest = without_items(survey, turned)
    said = [finding for rule in PATH_RULES for finding in rule(survey.header)]
    said += [finding for rule in SURVEY_RULES for finding in rule(survey if rule is unmeasured else rest)]
    return sort_findings([*turned.findings, *(finding for finding in said if not follows(finding, turned))])


def judge_made(
    draft: Draft, gaps: Iterable[Gap], shared: Iterable[Overlap], failed: Iterable[tuple[str, str]] = ()
) -> Iterator[Finding]:
    """The findings on made parts: gaps of their own meshes, metal shared by two parts, and parts that failed."""
    yield from too_near(draft, gaps)
    yield from overlaps(shared, draft.units)
    yield from not_made(failed, [primary.name for primary in draft.primaries])


def runs_without_solid(survey: Survey) -> frozenset[str]:
    """Names of runs that allow no legal solid: a bend too tight, a path that crosses itself, a crowded port."""
    tight = {run.name for run, step, bend in numbered_bends(survey.header) if is_too_tight(bend, run, step)}
    crowded = {primary.name for primary, _ in crowded_ports(survey.header)}
    on_sides = {fault.joint.run for fault in side_faults(survey.header)}
    return frozenset(tight | crowded | on_sides | {crossing.run for crossing in survey.crossings})
