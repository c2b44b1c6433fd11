"""The spec of the other bank: what it borrows from the first one, and what it says differently."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import PurePosixPath

from headergen.geometry.centreline import PointsError
from headergen.geometry.frames import unit
from headergen.model import ChassisItem, Draft, HeaderRef, MeshRef, Stock
from headergen.spec.complaint import Trouble
from headergen.spec.draft import changed_draft, items_of
from headergen.spec.mirror import Bank, BankError, borrowed_items, mirrored_draft
from headergen.spec.models import BankEntry, MirrorFile


def other_bank(
    changes: MirrorFile, first: Draft, named: tuple[Stock | None, Mapping[str, str]], first_folder: str
) -> Draft:
    """The draft of the other bank. `named`: the stock and the hashes of files that `changes` names.

    `first_folder` leads from this spec's folder to the first one's, for the files of items that are kept. Raises
    BankError where the way that is asked for is not possible.
    """
    bank = bank_of(changes.bank)
    try:
        draft = changed_draft(mirrored_draft(first, bank), changes, named[0])
    except PointsError as error:
        raise BankError(str(error)) from None
    places = dict.fromkeys(changes.bank.keep, True) | dict.fromkeys(changes.bank.mirrored, False)
    if changes.stock is None and draft.stock is not None:
        draft = replace(draft, stock=replace(draft.stock, file=_path_from_here(draft.stock.file, first_folder)))
    borrowed = (_from_here(item, first_folder) for item in borrowed_items(first.chassis, bank, places))
    return replace(draft, chassis=(*borrowed, *items_of(changes.chassis, named[1])))


def bank_of(entry: BankEntry) -> Bank:
    return Bank(entry.offset, entry.way, unit(entry.crank), entry.mirror.origin, unit(entry.mirror.normal))


def _from_here(item: ChassisItem, first_folder: str) -> ChassisItem:
    if isinstance(item.shape, MeshRef | HeaderRef):
        return replace(item, shape=replace(item.shape, path=_path_from_here(item.shape.path, first_folder)))
    return item


def _path_from_here(path: str, first_folder: str) -> str:
    return path if first_folder == "." else PurePosixPath(first_folder.replace("\\", "/"), path).as_posix()


def bank_troubles(changes: MirrorFile, first: Draft) -> Iterator[Trouble]:
    """What the spec of the other bank names that the first one does not have, or names twice."""
    names = [item.name for item in first.chassis]
    known = f"it has {', '.join(names)}" if names else "it has none"
    seen = {item.name.casefold() for item in changes.chassis}
    for key in ("keep", "mirrored"):
        for index, name in enumerate(getattr(changes.bank, key)):
            if name not in names:
                yield Trouble(("bank", key, index), f"the first bank's spec has no chassis item called {name}", known)
            elif name.casefold() in seen:
                yield Trouble(("bank", key, index), f"{name} is in the chassis of this bank already")
            seen.add(name.casefold())
    if changes.route is not None:
        for key in ("bores", "move"):
            if key in changes.route.model_fields_set:
                message = "the collectors of this bank stand, and are entered, as the first bank's"
                yield Trouble(("route", key), message, "leave it out", on_key=True)
    numbers = [primary.number for primary in first.primaries]
    for number in changes.primaries:
        if number not in numbers:
            yield Trouble(("primaries", str(number)), f"the first bank has no primary {number}", on_key=True)
