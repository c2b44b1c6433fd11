"""The meaning of an unquoted word in a file: a number, true, false or text; look-alikes of numbers are refused."""

from __future__ import annotations

import math
import re


class ScalarError(Exception):
    """A value that is refused, with a sentence and a hint."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message, self.hint = message, hint


INTEGER = re.compile(r"[-+]?[0-9]+\Z")
NUMBER = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?\Z")

_QUOTE = "if it is a name, put it in quotes"
_COMMA = re.compile(r"[-+]?[0-9]+,[0-9,]*[0-9](\.[0-9]*)?\Z")

# Words that other readers take for numbers, each in its own way: pattern, what it is, what to do instead.
_LOOK_ALIKES = tuple(
    (re.compile(pattern + r"\Z", re.IGNORECASE), what, hint)
    for pattern, what, hint in (
        (r"[-+]?\.(inf|nan)", "is no number that can be measured", ""),
        (r"[-+]?0[xob][0-9a-f_]+", "is not a decimal number", f"write it as a plain number; {_QUOTE}"),
        (r"[-+]?0[0-9_]+(\.[0-9]*)?(e[-+]?[0-9]+)?", "starts with a zero", f"leave the zero out; {_QUOTE}"),
        (r"[-+]?[0-9][0-9.]*_[0-9_.]*", "has an underscore in a number", f"leave it out; {_QUOTE}"),
        (
            r"[-+]?[0-9]+(:[0-9]+)+(\.[0-9]*)?",
            "has a colon in a number",
            "write 12.5 for twelve and a half; if it is text, put it in quotes",
        ),
    )
)


def plain_value(word: str) -> str | int | float | bool:
    """The value of an unquoted word, by YAML 1.2's core schema; on, no and dates stay text.

    Raises ScalarError for a word that only looks like a number.
    """
    if word in ("true", "True", "TRUE", "false", "False", "FALSE"):
        return word.lower() == "true"
    for pattern, what, hint in _LOOK_ALIKES:
        if pattern.match(word):
            raise ScalarError(f"{word[:40]} {what}", hint)
    if _COMMA.match(word):
        raise decimal_comma(word)
    if INTEGER.match(word) and len(word) < 16:
        return int(word)
    if NUMBER.match(word):
        if not math.isfinite(float(word)):
            raise ScalarError(f"{word[:40]} is larger than anything can be")
        return float(word)
    return word


def decimal_comma(word: str) -> ScalarError:
    """The error for `1,5`."""
    return ScalarError(f"{word[:40]} has a comma in a number", f"write {word[:40].replace(',', '.')}")
