"""Named, coloured solids as STEP files (AP214, millimetres) whose bytes depend only on their content."""

from __future__ import annotations

import errno
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from OCP.IFSelect import IFSelect_RetDone
from OCP.Interface import Interface_Static
from OCP.Message import Message, Message_Gravity
from OCP.Quantity import Quantity_Color, Quantity_TOC_sRGB
from OCP.STEPCAFControl import STEPCAFControl_Writer
from OCP.STEPControl import STEPControl_AsIs
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_Label
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFApp import XCAFApp_Application
from OCP.XCAFDoc import XCAFDoc_ColorSurf, XCAFDoc_DocumentTool

from headergen import __version__
from headergen.solids.canonical import Stamp, canonical_step

Colour = tuple[float, float, float]
# sRGB; the colour shows a part's finish, the name says what it is
BARE: Colour = (0.60, 0.61, 0.62)  # tube and sheet as bought
MACHINED: Colour = (0.76, 0.77, 0.79)
Named = tuple[str, Any, Colour]  # its name in a CAD program, its kernel solid, its finish


def write_part(path: Path, part: Named, date: str) -> None:
    """One solid as one product. `date` (ISO 8601) becomes the file's time stamp. Raises OSError if not written."""
    document = _document()
    _add_part(document, *part)
    _write(document, path, date)


def write_assembly(path: Path, title: str, parts: Sequence[Named], date: str) -> None:
    """Solids in place, under one product called `title`, listed in the given order."""
    document = _document()
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    root = shapes.NewShape()
    _name(root, title)
    for part in parts:
        component = shapes.AddComponent(root, _add_part(document, *part), TopLoc_Location())
        _name(component, part[0])
    shapes.UpdateAssemblies()
    _write(document, path, date)


def _document() -> Any:
    document = TDocStd_Document(TCollection_ExtendedString("BinXCAF"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).SetAutoNaming_s(False)
    return document


def _add_part(document: Any, name: str, solid: Any, colour: Colour) -> TDF_Label:
    label = XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).AddShape(solid, False)
    _name(label, name)
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    colours.SetColor(label, Quantity_Color(*colour, Quantity_TOC_sRGB), XCAFDoc_ColorSurf)
    return label


def _name(label: TDF_Label, name: str) -> None:
    TDataStd_Name.Set_s(label, TCollection_ExtendedString(name, True))


def _write(document: Any, path: Path, date: str) -> None:
    for printer in Message.DefaultMessenger_s().Printers():
        printer.SetTraceLevel(Message_Gravity.Message_Fail)  # its statistics do not belong in the terminal
    writer = STEPCAFControl_Writer()
    writer.SetColorMode(True)
    writer.SetNameMode(True)
    # these settings are global in the kernel, so each write sets all it relies on
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    # curves in the parameter plane are redundant for planes, cylinders and tori
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 0)
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder, "raw.step")
        if not writer.Transfer(document, STEPControl_AsIs) or writer.Write(str(raw)) != IFSelect_RetDone:
            raise OSError(errno.ENOSPC, f"the CAD kernel could not write {path.name}", folder)
        text = raw.read_text(encoding="utf-8")
    if not text.rstrip().endswith("END-ISO-10303-21;"):  # the kernel does not check that everything was written
        raise OSError(errno.ENOSPC, f"the CAD kernel's {path.name} is cut off", folder)
    stamp = Stamp(file_name=path.name, time=f"{date}T00:00:00", system=f"headergen {__version__}")
    path.write_text(canonical_step(text, stamp), encoding="ascii", newline="\n")
