"""Finds what a customer signed: the sign_off.json of that build, in its result or beside the spec."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from headergen.model.sign_off import SignOff

NAMES = "*sign_off*.json"


def find_signed(hash: str, folders: Iterable[Path]) -> SignOff | None:
    """The facts with that hash, from the first file that has them; None if no file does, or none can be read."""
    for folder in folders:
        for path in sorted(folder.glob(NAMES)):
            found = read_sign_off(path)
            if found is not None and found.hash == hash:
                return found
    return None


def read_sign_off(path: Path) -> SignOff | None:
    """The facts in a file; None if it holds something else."""
    try:
        return TypeAdapter(SignOff).validate_json(path.read_bytes())
    except (OSError, ValidationError):
        return None
