"""A legal part that could not be made has not been measured, so no clearance to it is known."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from headergen.model.finding import Finding


def not_made(failed: Iterable[tuple[str, str]], numbered: Collection[str]) -> Iterator[Finding]:
    """`failed`: names of parts, with the reason; `numbered`: names that have a number and so no article."""
    for name, why in failed:
        subject = name.capitalize() if name in numbered else f"The {name}"
        yield Finding(
            rule="not-made",
            level="error",
            where=name,
            value=None,
            limit=None,
            unit="",
            message=f"{subject} could not be made, so it is not checked: {why.rstrip('.')}.",
        )
