"""3MF for slicing programs: one file for each build plate, every part with its name and in its place.

It follows the 3MF core specification: a package of three parts, millimetres, z up, counter-clockwise from outside. The
package has no time and no personal name, so the same parts give the same bytes.
"""

from __future__ import annotations

import math
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh
from headergen.words.numbers import decimal

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
MODEL = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
MODEL_TYPE = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
RELATIONS_TYPE = "application/vnd.openxmlformats-package.relationships+xml"
PLACE, MATRIX = 4, 9  # decimals of coordinates in mm, and of a transform
LEVEL = 5  # of compression; the default of 6 takes half as long again, and saves 2 %
FILE_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest date of the zip format
DECLARATION = '<?xml version="1.0" encoding="UTF-8"?>\n'

CONTENT_TYPES = (
    f'{DECLARATION}<Types xmlns="{PACKAGE}/content-types">'
    f'<Default Extension="rels" ContentType="{RELATIONS_TYPE}"/>'
    f'<Default Extension="model" ContentType="{MODEL_TYPE}"/></Types>\n'
)
RELATIONS = (
    f'{DECLARATION}<Relationships xmlns="{PACKAGE}/relationships">'
    f'<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="{MODEL}"/></Relationships>\n'
)


@dataclass(frozen=True, eq=False)
class OnBed:
    """A closed mesh, turned by `turn` radians about z, then moved by `shift` (mm) in the plane of the bed."""

    name: str
    mesh: TriangleMesh
    turn: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)


def write_3mf(path: Path, title: str, items: Sequence[OnBed]) -> None:
    """Writes each item as an object. Raises ValueError for a mesh that is not closed, or if there are none."""
    if not items:
        raise ValueError(f"{path.name}: there is nothing to write")
    for item in items:
        if not item.mesh.closed:
            raise ValueError(f"{item.name}: the mesh is not closed")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in (
            ("[Content_Types].xml", CONTENT_TYPES),
            ("_rels/.rels", RELATIONS),
            ("3D/3dmodel.model", "".join(_model(title, items))),
        ):
            entry = zipfile.ZipInfo(name, FILE_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            package.writestr(entry, text.encode("utf-8"), compresslevel=LEVEL)


def _model(title: str, items: Sequence[OnBed]) -> Iterator[str]:
    yield f'{DECLARATION}<model unit="millimeter" xml:lang="en" xmlns="{CORE}">\n'
    yield f'<metadata name="Title">{escape(title)}</metadata>\n<resources>\n'
    for number, item in enumerate(items, 1):
        yield f'<object id="{number}" type="model" name={quoteattr(item.name)}><mesh><vertices>\n'
        yield _rows('<vertex x="%r" y="%r" z="%r"/>\n', np.round(item.mesh.vertices, PLACE) + 0.0).replace('.0"', '"')
        yield "</vertices><triangles>\n"
        yield _rows('<triangle v1="%d" v2="%d" v3="%d"/>\n', item.mesh.faces)
        yield "</triangles></mesh></object>\n"
    yield "</resources>\n<build>\n"
    for number, item in enumerate(items, 1):
        yield f'<item objectid="{number}" transform="{_transform(item)}" partnumber={quoteattr(item.name)}/>\n'
    yield "</build>\n</model>\n"


def _rows(form: str, values: Points | Faces) -> str:
    """The rows of an (n, 3) array, each in the same form. Python writes a number that is rounded to four decimals in
    its shortest form, which has no exponent."""
    return form * len(values) % tuple(values.ravel().tolist())


def _transform(item: OnBed) -> str:
    """The rows of a matrix that a row vector is multiplied with from the left (core specification, 3.3)."""
    c, s = math.cos(item.turn), math.sin(item.turn)
    values = (c, s, 0.0, -s, c, 0.0, 0.0, 0.0, 1.0, *item.shift, 0.0)
    return " ".join(decimal(value, MATRIX) for value in values)
