"""What is asked for and cannot be made of metal; known without the kernel."""

from __future__ import annotations

from headergen.geometry.merge.design import has_merge, possible_merge
from headergen.geometry.plate.flange import holes_are_apart, plate_of
from headergen.model import Header


def impossible_parts(header: Header) -> dict[str, str]:
    """Name of each part that is asked for and cannot be made → why; what it says stands in the findings too."""
    draft = header.draft
    found = {}
    if not holes_are_apart(plate_of(draft.flange, draft.tube)):
        found["flange"] = "its holes run into each other"
    for collector in draft.collectors:
        if has_merge(collector) and possible_merge(draft.tube, collector) is None:
            found[f"collector {collector.name}"] = "no merge is possible"
    return found
