"""From a file on disk to a Draft: everything that is wrong with the file, and with the files it names, at once."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from headergen.model import Draft, Source, Stock
from headergen.spec.complaint import Complaint, SpecError, Trouble
from headergen.spec.crosscheck import cross_troubles
from headergen.spec.draft import draft_from, stock_from
from headergen.spec.entry import Entry
from headergen.spec.files import read_file, shown_path
from headergen.spec.models import SpecFile, StockFile
from headergen.spec.scalars import Refused
from headergen.spec.text import LARGEST, Text, complaint_at, read_text
from headergen.spec.units import Unit
from headergen.spec.wording import troubles_of

MOST_COMPLAINTS = 100  # of one run; a file with more has the same thing wrong many times

E = TypeVar("E", bound=Entry)


def read_spec(path: Path) -> tuple[Source, Draft]:
    """Reads a spec and the stock file it names, and notes the content of its meshes.

    Raises SpecError with every complaint: a file that cannot be read, is not strict YAML, holds a wrong value, or
    names a file that is not there. Paths in a spec count from the spec's own folder.
    """
    try:
        content = read_file(path, LARGEST)
    except Refused as refused:
        raise SpecError([Complaint(str(path), None, None, "", refused.message, hint=refused.hint)]) from None
    text = read_text(content, str(path))
    data = text.data if isinstance(text.data, dict) else {}
    spec, troubles = _entries(SpecFile, text)
    troubles += cross_troubles(data, _unit(data))
    hashes, unread = _mesh_hashes(data.get("chassis"), path.parent)
    stock, no_stock, in_stock = _stock(data.get("stock"), path.parent)
    placed = (complaint_at(text, trouble) for trouble in (*troubles, *unread, *no_stock))
    complaints = [*_in_order([*text.complaints, *placed]), *in_stock]
    if complaints or spec is None:
        raise SpecError(_capped(complaints))
    source = Source(path.as_posix(), hashlib.sha256(content).hexdigest(), text.marks)
    return source, draft_from(spec, stock, hashes)


def _entries(kind: type[E], text: Text) -> tuple[E | None, list[Trouble]]:
    """The file's values as entries, or what is wrong with them."""
    if not isinstance(text.data, dict) and text.data is not None:
        hint = "the first line of a spec is format: 1" if kind is SpecFile else ""
        return None, [Trouble((), "the file must hold keys with values", hint)]
    try:
        return kind.model_validate(text.data, context={"unit": _unit(text.data or {})}), []
    except ValidationError as error:
        return None, list(troubles_of(error, kind, text.data))


def _unit(data: dict[str, Any]) -> Unit | None:
    """The unit of the file's plain lengths; None while that is in doubt."""
    units = data.get("units")
    return units if units in ("mm", "in") else None


def _stock(named: object, folder: Path) -> tuple[Stock | None, list[Trouble], tuple[Complaint, ...]]:
    """The shelf a spec names, a trouble with finding it, and what its own file has wrong."""
    if not isinstance(named, str):
        return None, [], ()
    try:
        path = folder / named
        text = read_text(read_file(path, LARGEST), shown_path(path))
    except Refused as refused:
        return None, [Trouble(("stock",), refused.message, refused.hint)], ()
    except SpecError as error:
        return None, [], error.complaints
    entry, troubles = _entries(StockFile, text)
    complaints = _in_order([*text.complaints, *(complaint_at(text, trouble) for trouble in troubles)])
    return stock_from(entry) if entry is not None and not complaints else None, [], tuple(complaints)


def _mesh_hashes(items: object, folder: Path) -> tuple[dict[str, str], list[Trouble]]:
    """SHA-256 of each mesh's content by its path as written; troubles for those that cannot be had."""
    hashes: dict[str, str] = {}
    troubles: list[Trouble] = []
    for index, item in enumerate(items if isinstance(items, list) else []):
        named = item.get("mesh") if isinstance(item, dict) else None
        if not isinstance(named, str) or named in hashes:
            continue
        try:
            hashes[named.strip()] = hashlib.sha256(read_file(folder / named.strip())).hexdigest()
        except Refused as refused:
            troubles.append(Trouble(("chassis", index, "mesh"), refused.message, refused.hint))
    return hashes, troubles


def _in_order(complaints: list[Complaint]) -> list[Complaint]:
    """By place in the file, each once."""
    return sorted(dict.fromkeys(complaints), key=lambda complaint: (complaint.line or 0, complaint.column or 0))


def _capped(complaints: list[Complaint]) -> list[Complaint]:
    if len(complaints) <= MOST_COMPLAINTS:
        return complaints
    shown, left = complaints[:MOST_COMPLAINTS], len(complaints) - MOST_COMPLAINTS
    return [*shown, Complaint(shown[-1].file, None, None, "", f"and {left} more complaints after these")]
