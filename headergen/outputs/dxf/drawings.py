"""Which parts of a header are cut from plate or sheet, and their drawings."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from headergen.model import Draft, OutletRing
from headergen.outputs.dxf.flange import write_flange_dxf
from headergen.outputs.dxf.pattern import pattern_files, write_pattern_dxf
from headergen.outputs.dxf.ring import write_ring_dxf


def write_drawings(folder: Path, draft: Draft, stems: Mapping[str, str]) -> dict[str, str]:
    """Draws flange, transitions and rings of those parts that are made; `stems` are their files' names, by part.

    Returns the drawing of each, by part. Raises DrawingError and OSError.
    """
    found = {}
    if "flange" in stems:
        found["flange"] = f"{stems['flange']}.dxf"
        write_flange_dxf(folder / found["flange"], draft)
    files = pattern_files(draft, [p.number for p in draft.flange.ports if f"transition {p.number}" in stems])
    for file in dict.fromkeys(files.values()):
        write_pattern_dxf(folder / file, draft, [number for number, its in files.items() if its == file])
    found |= {f"transition {number}": file for number, file in files.items()}
    for collector in draft.collectors:
        part = f"outlet ring {collector.name}"
        if isinstance(collector.end, OutletRing) and part in stems:
            found[part] = f"{stems[part]}.dxf"
            write_ring_dxf(folder / found[part], draft, collector)
    return found
