"""Drawings for cutting, at true size in millimetres: the flange and the locating plates of the mock."""

from __future__ import annotations

from headergen.outputs.dxf.flange import write_flange_dxf
from headergen.outputs.dxf.locating import write_plate_dxf

__all__ = ["write_flange_dxf", "write_plate_dxf"]
