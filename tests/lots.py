"""Long rows of cases: random ones cut into lots, of which one run may take a share, and quick ones as one test."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any

import pytest

Test = Callable[..., None]
SERIES = (pytest.mark.slow, pytest.mark.series)


def series(cases: Iterable[Any]) -> list[Any]:
    """Cases of a test that are slow, and of which `--share` keeps some."""
    return [pytest.param(case, marks=SERIES) for case in cases]


def in_lots(seeds: range, size: int) -> list[Any]:
    """So many seeds to a case."""
    lots = (seeds[k : k + size] for k in range(0, len(seeds), size))
    return [pytest.param(lot, id=f"{lot[0]} to {lot[-1]}", marks=SERIES) for lot in lots]


def together(names: str | tuple[str, ...], cases: Iterable[Any]) -> Callable[[Test], Test]:
    """A test of many quick cases, given as to `parametrize`, in one: all that fail are named, and where the first did.

    pytest takes longer to keep account of a test than such a case takes. Fixtures are made once for all cases.
    """
    wanted = (names,) if isinstance(names, str) else names
    rows = [(case,) if isinstance(names, str) else tuple(case) for case in cases]
    assert rows, "a test without cases cannot fail"

    def of(test: Test) -> Test:
        @wraps(test)
        def all_of_them(**fixtures: Any) -> None:
            failed: dict[str, BaseException] = {}
            for row in rows:
                try:
                    test(**fixtures, **dict(zip(wanted, row, strict=True)))
                except (Exception, pytest.fail.Exception) as wrong:
                    failed[", ".join(map(str, row))] = wrong
            said = "\n\n".join(f"{case}: {type(wrong).__name__}: {wrong}" for case, wrong in failed.items())
            if failed:
                raise AssertionError(said) from next(iter(failed.values()))

        own = inspect.signature(test)
        left = [each for each in own.parameters.values() if each.name not in wanted]
        all_of_them.__signature__ = own.replace(parameters=left)  # type: ignore[attr-defined]
        return all_of_them

    return of
