"""Drawings for cutting, at true size in millimetres: flange, rings, transition patterns, the mock's plates."""

from __future__ import annotations

from headergen.outputs.dxf.drawings import write_drawings
from headergen.outputs.dxf.locating import write_plate_dxf

__all__ = ["write_drawings", "write_plate_dxf"]
