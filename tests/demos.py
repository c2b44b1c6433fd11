"""Specs of the repository, each read, checked and its bench planned once in a process. Nobody changes what it gets."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from headergen.model import Header, Shop
from headergen.pipeline import Checked, bench, check, settle
from headergen.shop.stage import shop_of

ROOT = Path(__file__).resolve().parents[1]


@cache
def settled_once(name: str, folder: str = "specs") -> Header:
    return settle(ROOT / folder / f"{name}.yaml")


@cache
def checked_once(name: str, folder: str = "specs") -> Checked:
    return check(ROOT / folder / f"{name}.yaml")


@cache
def planned_once(name: str, folder: str = "specs") -> Shop:
    """Its bench, with what builds by hand leave of its gaps."""
    result = checked_once(name, folder).result
    return bench(result.header, result.survey.gaps)


@cache
def cut_once(name: str, folder: str = "specs") -> Shop:
    """Its bench without the hand."""
    return shop_of(settled_once(name, folder))
