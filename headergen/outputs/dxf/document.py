"""The common frame of all drawings: R2010, millimetres, a layer to cut and one to mark, reproducible bytes."""

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
CUT_COLOUR, MARK_COLOUR = 7, 4  # standard colour indices: black or white, cyan
MILLIMETRES = 4  # $INSUNITS
HAND = Hand(heights=(5.0, 4.0, 3.0, 2.5), width=0.9, clear=2.0)  # width 0.9 of the height, as in most shops' fonts
SMALL = Hand(heights=(3.0, 2.5), width=0.9, clear=1.5)  # for small spaces


class DrawingError(RuntimeError):
    """A drawing that fails its audit."""


def new_document() -> Any:
    import ezdxf  # slow to import, and most commands draw nothing

    ezdxf.options.write_fixed_meta_data_for_testing = True  # no clock and no random ids: reproducible bytes
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
    # a bulge is the tangent of a quarter of the arc's angle
    corners = [(*edge.start, math.tan(edge.sweep / 4)) for edge in outline]
    space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": CUT})


def add_words(space: Any, words: Iterable[Words]) -> None:
    for each in words:
        space.add_text(each.text, height=each.height, dxfattribs={"layer": MARK}).set_placement(each.spot)


def size_text(millimetres: float, units: str) -> str:
    """A size such as a thickness, in the job's unit, as text for a drawing."""
    return f"{millimetres / INCH:.3f} in" if units == "in" else f"{millimetres:g} mm"


def middle_of(places: NDArray[np.float64]) -> tuple[float, float]:
    x, y = places.mean(axis=0).tolist()
    return (x, y)


def text_of(document: Any) -> str:
    """The audited drawing as text. Raises DrawingError if the library's audit finds a fault."""
    auditor = document.audit()
    if auditor.has_errors or auditor.has_fixes:
        raise DrawingError(f"a drawing fails its audit: {auditor.errors or auditor.fixes}")
    for kind in sorted(document.entitydb.dxf_types_in_use()):  # sorted: the library itself iterates over a set
        document.classes.add_class(kind)
    stream = io.StringIO(newline="\n")
    document.write(stream)
    return stream.getvalue()
