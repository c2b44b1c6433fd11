"""A header that is half built is checked as planned; another command says how it is closed from where it is."""

from __future__ import annotations

from collections.abc import Iterator

from headergen.model import Header
from headergen.model.finding import Finding
from headergen.words.say import capital


def half_built(header: Header) -> Iterator[Finding]:
    for built in header.draft.as_built:
        message = (
            f"{capital(built.run)} is half built, and is checked here as planned; headergen correct closes it from "
            "where it is, and checks that."
        )
        yield Finding(
            rule="half-built", level="info", where=built.run, value=None, limit=None, unit="", message=message
        )
