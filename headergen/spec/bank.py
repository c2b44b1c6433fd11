"""The spec of the other bank: what it takes from the first bank, and what it changes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from headergen.geometry.curves.centreline import PointsError
from headergen.geometry.frames import cross, dot, norm, subtract, unit
from headergen.model import ChassisItem, Draft, HeaderRef, MeshRef, Run, SpecPath, Stock
from headergen.spec.as_built import on_a_side
from headergen.spec.complaint import Trouble
from headergen.spec.draft import changed_draft, items_of
from headergen.spec.files import path_from_here
from headergen.spec.mirror import Bank, BankError, borrowed_items, mirrored_draft
from headergen.spec.mirror_file import BankEntry, MirrorFile
from headergen.spec.renaming import name_troubles, renamed, renamed_draft
from headergen.words.say import say_length

SAME_PLANE, SAME_PLACE = 1e-6, 1e-3  # sine and mm below which two planes count as one


def other_bank(
    changes: MirrorFile, first: Draft, named: tuple[Stock | None, Mapping[str, str]], first_folder: str
) -> Draft:
    """The draft of the other bank. `named`: the stock and the hashes of the files that `changes` names.

    `first_folder` is the path from this spec's folder to the first one's, for the files of kept items. Raises BankError
    if the bank cannot be made in the given way.
    """
    bank = bank_of(changes.bank)
    try:
        draft = changed_draft(mirrored_draft(replace(first, units=changes.units), bank), changes, named[0])
    except PointsError as error:
        lengths = (say_length(length, changes.units) for length in error.lengths)
        raise BankError(error.message.format(*lengths)) from None
    places = dict.fromkeys(changes.bank.keep, True) | dict.fromkeys(changes.bank.mirrored, False)
    if changes.stock is None and draft.stock is not None:
        draft = replace(draft, stock=replace(draft.stock, file=path_from_here(draft.stock.file, first_folder)))
    draft = draft.with_primaries(_along_lines(each, changes) for each in draft.primaries)
    names = changes.bank.names
    borrowed = (
        _from_here(item if places[item.name] else _renamed(item, names), first_folder)
        for item in borrowed_items(first.chassis, bank, places)
    )
    letter = changes.bank.letter or ("A" if first.letter == "B" else "B")
    draft = renamed_draft(replace(draft, letter=letter), names)
    here = [flange.name for flange in draft.flanges]
    own = items_of(changes.chassis, named[1])
    return replace(draft, chassis=(*(_under(item, here) for item in borrowed), *own))


def _renamed(item: ChassisItem, names: Mapping[str, str]) -> ChassisItem:
    flanges = tuple(renamed(flange, names) for flange in item.flanges)
    return replace(item, name=renamed(item.name, names), flanges=flanges)


def _under(item: ChassisItem, flanges: Sequence[str]) -> ChassisItem:
    """An item of the first bank with only those of its flanges that are here; if none is, no length is left free."""
    held = tuple(name for name in item.flanges if name in flanges)
    free = item.free_from_flange if held or not item.flanges else 0.0
    return replace(item, flanges=held, free_from_flange=free)


def _along_lines(primary: Run, changes: MirrorFile) -> Run:
    """The parallels of a run along lines of this bank; those along lines that are left out are dropped."""
    return replace(primary, parallels=tuple(run for run in primary.parallels if run.line in changes.lines))


def bank_of(entry: BankEntry) -> Bank:
    return Bank(entry.offset, entry.way, unit(entry.crank), entry.mirror.origin, unit(entry.mirror.normal))


def _from_here(item: ChassisItem, first_folder: str) -> ChassisItem:
    if isinstance(item.shape, MeshRef | HeaderRef):
        return replace(item, shape=replace(item.shape, path=path_from_here(item.shape.path, first_folder)))
    return item


def bank_troubles(changes: MirrorFile, first: Draft) -> Iterator[Trouble]:
    """Names in the other bank's spec that the first one does not have, that are repeated, or that are missing."""
    yield from _item_troubles(changes, first)
    yield from _line_troubles(changes, first)
    yield from name_troubles(changes, first)
    yield from _plane_troubles(changes, first)
    yield from _head_troubles(changes, first)
    if first.letter and changes.bank.letter == first.letter:
        yield Trouble(("bank", "letter"), f"the first bank is {first.letter} as well", "give each its own letter")
    if changes.route is not None:
        for key in ("bores", "move"):
            if key in changes.route.model_fields_set:
                message = "the collectors of this bank stand, and are entered, as the first bank's"
                yield Trouble(("route", key), message, "leave it out", on_key=True)
    numbers = [primary.number for primary in first.primaries]
    yield from _half_built_troubles(changes, first)
    for number in changes.primaries:
        if number not in numbers:
            yield Trouble(("primaries", str(number)), f"the first bank has no primary {number}", on_key=True)


def _half_built_troubles(changes: MirrorFile, first: Draft) -> Iterator[Trouble]:
    """Half-built tubes that are not on this bank, or that stand on another one's side."""
    numbers, sources = [primary.number for primary in first.primaries], _sources_here(first, changes)
    sided = {run.end.collector for run in first.runs if run.sides}
    runs = {renamed(each.name, changes.bank.names): each.name in sided for each in first.collectors if each.mouth}
    for index, built in enumerate(changes.as_built):
        if built.primary is not None and built.primary not in numbers:
            yield Trouble(("as_built", index, "primary"), f"the first bank has no primary {built.primary}")
        if built.secondary is not None and built.secondary not in sources:
            yield Trouble(("as_built", index, "secondary"), f"no tube comes from a collector {built.secondary} here")
        if built.run is not None and built.run not in runs:
            yield Trouble(("as_built", index, "run"), f"there is no run {built.run} here")
        if built.run is not None and runs.get(built.run):
            yield on_a_side(index, "run", built.run)


def _sources_here(first: Draft, changes: MirrorFile) -> list[str]:
    """The collectors that runs come from, under their names on this bank."""
    return [renamed(run.source, changes.bank.names) for run in first.runs if not run.is_primary]


def _head_troubles(changes: MirrorFile, first: Draft) -> Iterator[Trouble]:
    """The flanges that an item of this bank names must exist, under the names of this bank."""
    here = [renamed(flange.name, changes.bank.names) for flange in first.flanges if flange.name]
    for index, item in enumerate(changes.chassis):
        for place, name in enumerate(item.flanges):
            if name not in here:
                known = f"the flanges are {', '.join(here)}" if here else "the only one here has no name: take it out"
                path: SpecPath = ("chassis", index, "flanges", place)
                yield Trouble(path, f"no flange is called {name}", known)


def _plane_troubles(changes: MirrorFile, first: Draft) -> Iterator[Trouble]:
    """Troubles with the plane between the banks: an engine has only one."""
    bank, plane = bank_of(changes.bank), first.between_banks
    if plane is None:
        return
    leans = norm(cross(bank.normal, plane.normal)) > SAME_PLANE
    apart = abs(dot(subtract(bank.origin, plane.origin), plane.normal))
    if leans or apart > SAME_PLACE:
        message = "the first bank's spec has another plane between the banks"
        yield Trouble(
            ("bank",), message, "write mirror as between_banks is there, or correct between_banks", on_key=True
        )


def _item_troubles(changes: MirrorFile, first: Draft) -> Iterator[Trouble]:
    """Every chassis item of the first bank must be mentioned once: an obstacle that nobody names would be lost."""
    names, lines = [item.name for item in first.chassis], [line.name for line in first.lines]
    known = f"it has {', '.join(names)}" if names else "it has none"
    own, spoken_of = {item.name.casefold() for item in changes.chassis}, dict[str, str]()
    for key in ("keep", "mirrored", "left_out"):
        for index, name in enumerate(getattr(changes.bank, key)):
            path: SpecPath = ("bank", key, index)
            if name not in names and not (key == "left_out" and name in lines):
                yield Trouble(path, f"the first bank's spec has no chassis item called {name}", known)
            elif name in spoken_of:
                yield Trouble(path, f"{name} is under {spoken_of[name]} already", "name it once")
            elif key != "left_out" and _name_here(name, key, changes).casefold() in own:
                yield Trouble(path, f"{name} is in the chassis of this bank already")
            spoken_of.setdefault(name, key)
    if passed_over := [name for name in names if name not in spoken_of]:
        one = len(passed_over) == 1
        message = (
            f"nothing is said of {', '.join(passed_over)}, {'a chassis item' if one else 'chassis items'} of the first "
            "bank's spec"
        )
        hint = "name each under keep (it stands where it is), mirrored (it goes with the bank) or left_out"
        yield Trouble(("bank",), message, hint, on_key=True)


def _name_here(name: str, key: str, changes: MirrorFile) -> str:
    return renamed(name, changes.bank.names) if key == "mirrored" else name


def _line_troubles(changes: MirrorFile, first: Draft) -> Iterator[Trouble]:
    """A mirrored tube is parallel to a line of this bank, or is excused."""
    for primary in first.primaries:
        for run in primary.parallels if primary.number not in changes.primaries else ():
            if run.line not in changes.lines and run.line not in changes.bank.left_out:
                message = f"{primary.name} of the first bank runs along line {run.line}, which is not here"
                hint = "give this bank's line of that name under lines, or name it under bank: left_out"
                yield Trouble(("bank",), message, hint, on_key=True)
