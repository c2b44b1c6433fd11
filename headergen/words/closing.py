"""The wording for a run that can hardly be closed by hand."""

from __future__ import annotations

from headergen.words.say import capital

OTHERWISE = (
    "a straight between two mitred joints, made to measure once both sides are tacked",
    "a longer slip, so that the end piece slides farther",
    "another path, with a joint in its middle that has leverage on both sides",
)


def said_of_rare_closing(run: str) -> str:
    return f"{capital(run)} closes in nine of ten builds at none of its joints. Consider {'; or '.join(OTHERWISE)}."
