"""A legal part that could not be made has not been measured; nothing is clear of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from headergen.model.finding import Finding


def not_made(failed: Iterable[tuple[str, str]]) -> Iterator[Finding]:
    """`failed`: names of parts, and why."""
    for name, why in failed:
        yield Finding(
            rule="not-made",
            level="error",
            where=name,
            value=None,
            limit=None,
            unit="",
            message=f"{_subject(name)} could not be made, so it is not checked: {why.rstrip('.')}.",
        )


def _subject(name: str) -> str:
    return name.capitalize() if name.startswith("primary ") else f"The {name}"
