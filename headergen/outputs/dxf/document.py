"""What every drawing has in common: R2010, millimetres, a layer to cut and one to mark, the same bytes each time."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.plate.lettering import Hand, Words
from headergen.geometry.plate.outline import Outline, is_circle
from headergen.words.numbers import INCH

CUT, MARK = "CUT", "MARK"
CUT_COLOUR, MARK_COLOUR = 7, 4  # of the standard colour index: black or white, cyan
MILLIMETRES = 4  # $INSUNITS
HAND = Hand(heights=(5.0, 4.0, 3.0, 2.5), width=0.9, clear=2.0)  # 0.9 wide, as most shops' fonts have them
SMALL = Hand(heights=(3.0, 2.5), width=0.9, clear=1.5)  # where there is little room


class DrawingError(RuntimeError):
    """A drawing that does not pass its audit."""


def new_document() -> Any:
    import ezdxf  # takes a while, and most commands draw nothing

    ezdxf.options.write_fixed_meta_data_for_testing = True  # no clock and no random ids: the same bytes each time
    document: Any = ezdxf.new("R2010", setup=False)
    document.header["$INSUNITS"] = MILLIMETRES
    document.header["$MEASUREMENT"] = 1  # metric
    document.layers.add(CUT, color=CUT_COLOUR)
    document.layers.add(MARK, color=MARK_COLOUR)
    return document


def add_contour(space: Any, outline: Outline) -> None:
    if is_circle(outline):
        space.add_circle(outline[0].centre, outline[0].radius, dxfattribs={"layer": CUT})
        return
    # a bulge is the tangent of a quarter of the angle that the arc turns
    corners = [(*edge.start, math.tan(edge.sweep / 4)) for edge in outline]
    space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": CUT})


def add_words(space: Any, words: Iterable[Words]) -> None:
    for each in words:
        space.add_text(each.text, height=each.height, dxfattribs={"layer": MARK}).set_placement(each.spot)


def size_text(millimetres: float, units: str) -> str:
    """A thickness or the like as it is written into a drawing: in the job's unit, with it."""
    return f"{millimetres / INCH:.3f} in" if units == "in" else f"{millimetres:g} mm"


def middle_of(places: NDArray[np.float64]) -> tuple[float, float]:
    x, y = places.mean(axis=0).tolist()
    return (x, y)


def text_of(document: Any) -> str:
    """The audited drawing as text. Raises DrawingError when the library's audit finds anything wrong."""
    auditor = document.audit()
    if auditor.has_errors or auditor.has_fixes:
        raise DrawingError(f"a drawing fails its audit: {auditor.errors or auditor.fixes}")
    for kind in sorted(document.entitydb.dxf_types_in_use()):  # else the library goes through a set of them
        document.classes.add_class(kind)
    stream = io.StringIO(newline="\n")
    document.write(stream)
    return stream.getvalue()
