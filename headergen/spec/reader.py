"""Reads a file into a Draft, and reports all faults of the file, and of the files it names, at once."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from headergen.model import Draft, Source, SpecPath, Stock
from headergen.spec.bank import bank_troubles, other_bank
from headergen.spec.complaint import Complaint, SpecError, Trouble
from headergen.spec.crosscheck import cross_troubles, mirror_troubles
from headergen.spec.draft import draft_from
from headergen.spec.entry import Entry
from headergen.spec.files import folder_of, is_same_file, read_file, seen_from, shown_path
from headergen.spec.hand import HandFile, hand_of
from headergen.spec.mesh.raw import MOST_BYTES
from headergen.spec.mirror import BankError
from headergen.spec.mirror_file import MirrorFile
from headergen.spec.models import SpecFile
from headergen.spec.runs import RunError, with_runs
from headergen.spec.scalars import ScalarError
from headergen.spec.secondaries import NoOutletError, with_secondaries
from headergen.spec.stepped import changed_primary_fault
from headergen.spec.stock import StockFile, stock_from
from headergen.spec.text import LARGEST, Text, complaint_at, read_text
from headergen.spec.units import Unit
from headergen.spec.wording import troubles_of

SPEC_ENDINGS = (".yaml", ".yml")
MOST_COMPLAINTS = 100  # in one run; a file with more has one fault many times

E = TypeVar("E", bound=Entry)


def read_spec(path: Path) -> tuple[Source, Draft]:
    """Reads a spec and the stock and hand files it names, and hashes its meshes.

    Raises SpecError with every complaint: a file that cannot be read, is not strict YAML, holds a wrong value, or names
    a file that is not there. Paths in a spec are relative to the spec's folder.
    """
    try:
        content = read_file(path, LARGEST)
    except ScalarError as refused:
        raise SpecError([Complaint(str(path), None, None, "", refused.message, hint=refused.hint)]) from None
    text = read_text(content, str(path))
    data = text.data if isinstance(text.data, dict) else {}
    if "mirror_of" in data:
        return _read_mirror(path, content, text)
    return _read_whole(path, content, text)


def _read_whole(path: Path, content: bytes, text: Text) -> tuple[Source, Draft]:
    """A spec that mirrors no other."""
    data = text.data if isinstance(text.data, dict) else {}
    spec, troubles = entries_of(SpecFile, text)
    troubles += cross_troubles(data, _unit(data))
    named = _named_files(data, path)
    complaints = named.complaints(text, troubles)
    if complaints or spec is None:
        raise SpecError(_capped(complaints))
    try:
        spec = with_runs(spec)
        draft = with_secondaries(draft_from(spec, named.stock, named.hashes, named.hand), spec)
    except RunError as error:
        raise SpecError([complaint_at(text, error.trouble)]) from None
    except NoOutletError as error:
        trouble = Trouble(("collectors", error.collector, "outlet"), str(error))
        raise SpecError([complaint_at(text, trouble)]) from None
    return _source(path, content, text, named), draft


def _source(path: Path, content: bytes, text: Text, named: _Named) -> Source:
    return Source(path.as_posix(), hashlib.sha256(content).hexdigest(), text.marks, named.others)


@dataclass(frozen=True)
class _Named:
    """The files that a spec names: their content as far as needed, and their faults."""

    stock: Stock | None
    hand: HandFile | None
    hashes: dict[str, str]  # of meshes and other specs, by path as written
    others: tuple[tuple[str, str], ...]  # stock, hand and other specs, each with its hash
    troubles: tuple[Trouble, ...]
    in_them: tuple[Complaint, ...]  # faults in the content of stock and hand

    def complaints(self, text: Text, troubles: list[Trouble]) -> list[Complaint]:
        """All faults, with `troubles` of the spec itself, in the order of the file."""
        placed = (complaint_at(text, trouble) for trouble in (*troubles, *self.troubles))
        return [*in_order([*text.complaints, *placed]), *self.in_them]


def _named_files(data: dict[str, Any], spec: Path) -> _Named:
    shelf, no_shelf, in_shelf, shelf_hash = _beside(StockFile, ("stock",), data.get("stock"), spec.parent)
    hand, no_hand, in_hand, hand_hash = _beside(HandFile, *_hand_file(data), spec.parent)
    hashes, unread = _hashes(data.get("chassis"), spec)
    specs = ((name, sha) for name, sha in hashes.items() if name.endswith(SPEC_ENDINGS))
    named = ((data.get("stock"), shelf_hash), (_hand_file(data)[1], hand_hash))
    stock = None if shelf is None else stock_from(shelf, data["stock"])
    return _Named(
        stock,
        hand,
        hashes,
        (*((name, sha) for name, sha in named if isinstance(name, str) and sha), *specs),
        (*no_shelf, *no_hand, *unread),
        (*in_shelf, *in_hand),
    )


def _hand_file(data: dict[str, Any]) -> tuple[SpecPath, object]:
    """The place that names the hand file, and the name; a hand may consist of that name alone."""
    hand = data.get("hand")
    return (("hand", "file"), hand.get("file")) if isinstance(hand, dict) else (("hand",), hand)


def _read_mirror(path: Path, content: bytes, text: Text) -> tuple[Source, Draft]:
    """The other bank: the spec it mirrors is read first; its complaints come after those of this one."""
    data: dict[str, Any] = text.data
    changes, troubles = entries_of(MirrorFile, text)
    troubles += mirror_troubles(data, _unit(data))
    named = _named_files(data, path)
    of, first, in_first = _mirrored_spec(data["mirror_of"], path)
    troubles += of
    if first is not None and changes is not None:
        troubles += list(bank_troubles(changes, first[1]))
    complaints = named.complaints(text, troubles)
    if complaints or in_first or changes is None or first is None:
        raise SpecError(_capped([*complaints, *in_first]))
    folder = folder_of(data["mirror_of"])
    try:
        draft = other_bank(changes, first[1], (named.stock, named.hashes), folder)
        draft = replace(draft, hand=hand_of(changes.hand, named.hand, first[1].hand))
    except BankError as error:
        raise SpecError([complaint_at(text, _bank_trouble(changes, error))]) from None
    fault = changed_primary_fault(draft)
    if fault is not None:
        number, why = fault
        at: SpecPath = ("primaries", str(number)) if number in changes.primaries else ("mirror_of",)
        trouble = Trouble(at, f"primary {number} does not suit this bank: {why}")
        raise SpecError([complaint_at(text, trouble)])
    behind = ((data["mirror_of"], first[0].sha256), *seen_from(first[0].others, folder))
    return _source(path, content, text, replace(named, others=(*behind, *named.others))), draft


def _bank_trouble(changes: MirrorFile, error: BankError) -> Trouble:
    """The trouble at the item at fault, if there is one, else at the way of making the bank."""
    mirrored = changes.bank.mirrored
    if error.item in mirrored:
        hint = "list it under keep or left_out, and give this bank one of its own under chassis"
        return Trouble(("bank", "mirrored", mirrored.index(error.item)), str(error), hint)
    return Trouble(("bank", "way"), str(error))


def _mirrored_spec(
    named: object, mirror: Path
) -> tuple[list[Trouble], tuple[Source, Draft] | None, tuple[Complaint, ...]]:
    """The first bank as `mirror` names it: troubles in finding it, its content, and the faults of its own file."""
    if not isinstance(named, str):
        return [], None, ()
    path = mirror.parent / named
    try:
        if is_same_file(path, mirror):
            return [Trouble(("mirror_of",), f"{named} is this file itself", "name the first bank's spec")], None, ()
        content = read_file(path, LARGEST)
        text = read_text(content, str(path))
        if isinstance(text.data, dict) and "mirror_of" in text.data:
            return [Trouble(("mirror_of",), f"{named} is itself the mirror of another spec")], None, ()
        return [], _read_whole(path, content, text), ()
    except ScalarError as refused:
        return [Trouble(("mirror_of",), refused.message, refused.hint)], None, ()
    except SpecError as error:
        return [], None, error.complaints


def entries_of(kind: type[E], text: Text) -> tuple[E | None, list[Trouble]]:
    """The file's values as entries, or their troubles."""
    if not isinstance(text.data, dict) and text.data is not None:
        hint = "the first line of a spec is format: 1" if kind in (SpecFile, MirrorFile) else ""
        return None, [Trouble((), "the file must hold keys with values", hint)]
    try:
        return kind.model_validate(text.data, context={"unit": _unit(text.data or {})}), []
    except ValidationError as error:
        return None, list(troubles_of(error, kind, text.data))


def _unit(data: dict[str, Any]) -> Unit | None:
    """The unit of the file's plain lengths; None if it is in doubt."""
    units = data.get("units")
    return units if units in ("mm", "in") else None


def _beside(
    kind: type[E], key: SpecPath, named: object, folder: Path
) -> tuple[E | None, list[Trouble], tuple[Complaint, ...], str]:
    """The entries of a file that a spec names under `key`.

    Also troubles in finding it, the faults of its own content, and its hash.
    """
    if not isinstance(named, str):
        return None, [], (), ""
    try:
        path = folder / named
        content = read_file(path, LARGEST)
        text = read_text(content, shown_path(path))
    except ScalarError as refused:
        return None, [Trouble(key, refused.message, refused.hint)], (), ""
    except SpecError as error:
        return None, [], error.complaints, ""
    entry, troubles = entries_of(kind, text)
    complaints = in_order([*text.complaints, *(complaint_at(text, trouble) for trouble in troubles)])
    return None if complaints else entry, [], tuple(complaints), hashlib.sha256(content).hexdigest()


def _hashes(items: object, spec: Path) -> tuple[dict[str, str], list[Trouble]]:
    """SHA-256 of each mesh and each other spec by its path as written; troubles for those that cannot be read."""
    hashes: dict[str, str] = {}
    troubles: list[Trouble] = []
    for index, item in enumerate(items if isinstance(items, list) else []):
        for key in ("mesh", "header"):
            named = item.get(key) if isinstance(item, dict) else None
            if not isinstance(named, str) or not named.strip() or named in hashes:
                continue
            file = spec.parent / named.strip()
            if key == "header" and is_same_file(file, spec):
                hint = "name the spec of another header; tubes of one are kept apart by limits.between_tubes"
                troubles.append(Trouble(("chassis", index, key), f"{named} is this file itself", hint))
                continue
            try:
                hashes[named.strip()] = _hash(file)
            except ScalarError as refused:
                troubles.append(Trouble(("chassis", index, key), refused.message, refused.hint))
    return hashes, troubles


def _hash(file: Path) -> str:
    """SHA-256 of a file. Raises ScalarError."""
    return hashlib.sha256(read_file(file, MOST_BYTES)).hexdigest()


def in_order(complaints: list[Complaint]) -> list[Complaint]:
    """Complaints by their place in the file, each once."""
    return sorted(dict.fromkeys(complaints), key=lambda complaint: (complaint.line or 0, complaint.column or 0))


def _capped(complaints: list[Complaint]) -> list[Complaint]:
    if len(complaints) <= MOST_COMPLAINTS:
        return complaints
    shown, left = complaints[:MOST_COMPLAINTS], len(complaints) - MOST_COMPLAINTS
    return [*shown, Complaint(shown[-1].file, None, None, "", f"and {left} more complaints after these")]
