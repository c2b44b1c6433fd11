"""The wall between two inlets of a turbine, carried through the transition: a plate of its own that shares no metal."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from headergen.geometry.merge.design import merge_of
from headergen.outputs.cad_script import cad_script
from headergen.parts.table import parts_of
from headergen.pipeline import settle
from headergen.solids.assembly import named_solids
from headergen.solids.inspect import measure
from headergen.solids.shapes import fused, shared

SPEC = Path(__file__).resolve().parents[2] / "specs" / "sedge_turbine.yaml"
WALL, HEIGHT, LONG = 6.0, 33.0, 50.0  # mm: the wall, the rectangle's height, and the transition
PARTS = ("outlet divider main", "outlet transition main", "outlet plate main")


def test_it_goes_from_the_plates_back_through_transition_and_outlet() -> None:
    """Its metal is a trapezium in the transition and a rectangle in the outlet, and at most as wide up to the plane;
    it may stop short of the curved inside by a third of a millimetre."""
    header = settle(SPEC)
    solids: dict[str, Any] = named_solids(header, PARTS)
    assert set(solids) == set(PARTS)
    divider, transition, plate = (solids[name].wrapped for name in PARTS)
    [collector] = header.draft.collectors
    merge = merge_of(header.draft.tube, collector)
    assert collector.outlet is not None
    bore = collector.outlet - 2 * header.draft.tube.wall
    trapezium, wide = WALL * LONG * (HEIGHT + bore) / 2, max(bore, header.draft.tube.outside_diameter)
    facts = measure(divider)
    assert facts.valid and facts.closed
    assert (trapezium + WALL * bore * collector.outlet_length) * 0.985 < facts.volume
    assert facts.volume < trapezium + WALL * wide * merge.end
    assert measure(shared(divider, transition)).volume < 1e-6
    assert measure(shared(divider, plate)).volume < 1e-6
    assert measure(fused([divider, plate])).shells == 1, "it stands against the plate, on the wall between its openings"


def test_it_is_cut_flat_and_is_in_the_script() -> None:
    header = settle(SPEC)
    part = next(each for each in parts_of(header) if each.name == PARTS[0])
    assert part.kind.is_drawn and part.seat.thickness == WALL and part.seat.flat == part.seat.outline
    text, left_out = cad_script(header, [PARTS[0]])
    names: dict[str, Any] = {"__name__": "header_cad"}
    exec(text, names)
    ours = named_solids(header, PARTS[:1])[PARTS[0]]
    assert left_out == () and names["build"]()[PARTS[0]].Volume() == pytest.approx(ours.Volume(), rel=1e-4)
