"""The table of part kinds is whole: whatever a kind needs of a later room is there."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import get_args

from headergen.model.fitted import Fitted
from headergen.outputs.cad_script.shapes import SHAPES as SCRIPTS
from headergen.outputs.dxf.drawings import DRAWINGS
from headergen.parts.kind import PartKind, Shape, nothing
from headergen.parts.table import KINDS, envelopes_of, parts_of
from headergen.shop.footings import footings
from headergen.solids.build import COLOURS
from headergen.solids.table import HOLES, SOLIDS
from headergen.spec.models import FITTED, SpecFile
from tests.solids.test_bracket import BRACKET, pair
from tests.solids.test_tab import bundle
from tests.solids.test_whole import whole


def missing(kinds: Iterable[PartKind], table: Collection[str], what: str) -> list[str]:
    return [
        f"no {what} of {'an' if kind.role[0] in 'aeiou' else 'a'} {kind.role}: {kind.shape} is not in its table"
        for kind in kinds
        if kind.shape not in table
    ]


def test_every_kind_has_a_solid_figures_and_a_finish() -> None:
    assert missing(KINDS, SOLIDS, "solid") == []
    assert missing(KINDS, SCRIPTS, "figures in the CAD script") == []
    assert missing(tuple(kind for kind in KINDS if kind.is_drawn), DRAWINGS, "drawing") == []
    assert [kind.role for kind in KINDS if kind.finish not in COLOURS] == []


def test_no_table_has_a_shape_that_no_kind_has() -> None:
    shapes = {kind.shape for kind in KINDS}
    assert shapes == set(get_args(Shape)) == set(SOLIDS) == set(SCRIPTS)
    assert set(DRAWINGS) <= shapes and set(HOLES) <= shapes


def test_a_missing_one_is_said_in_words() -> None:
    without = {shape: make for shape, make in SOLIDS.items() if shape != "sheet"}
    assert missing(KINDS, without, "solid") == [
        "no solid of an outlet divider: sheet is not in its table",
        "no solid of a tab: sheet is not in its table",
        "no solid of a bracket: sheet is not in its table",
    ]


def test_what_stands_on_runs_says_where_so_that_no_joint_is_there() -> None:
    """A bracket on two tubes: a foot of its own length on each. Each kind that a spec lists says its feet and welds."""
    assert [kind.role for kind in KINDS if kind.noun is not None and nothing in (kind.footings, kind.welds)] == []
    header = pair(BRACKET)
    feet = [foot for foot in footings(header) if foot.what == BRACKET.part]
    assert [(foot.run, foot.length) for foot in feet] == [(host, BRACKET.length) for host in BRACKET.hosts]
    assert [plate.name for kind in KINDS for plate in kind.plates(header) if kind.noun is not None] == [BRACKET.part]


def test_kinds_are_called_differently() -> None:
    roles = [kind.role for kind in KINDS]
    assert len(roles) == len(set(roles))


def test_what_a_spec_lists_is_read_and_has_a_kind() -> None:
    nouns = get_args(Fitted) or (Fitted,)
    assert {each.noun for each in FITTED if each.field == "fitted"} == set(nouns)
    assert {kind.noun for kind in KINDS if kind.noun is not None} == set(nouns), "a noun that no kind reports"
    assert {each.key for each in FITTED} <= set(SpecFile.model_fields)


def test_all_parts_of_a_header_are_named_once_and_in_the_order_of_the_table() -> None:
    order = [kind.role for kind in KINDS]
    for header in (whole(), bundle(), pair(BRACKET)):
        parts = parts_of(header)
        assert len({part.name for part in parts}) == len(parts)
        rows = [order.index(part.kind.role) for part in parts if part.kind.role not in ("collector", "spike")]
        assert rows == sorted(rows)
        held = {each.name for each in envelopes_of(header)}
        assert {part.name for part in parts if part.kind.role in ("flange", "tab", "bracket")} <= held
