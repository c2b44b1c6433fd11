"""YAML text as a tree of nodes with their places; what the parser cannot read becomes a complaint."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from typing import Any

import yaml

from headergen.model import Mark
from headergen.spec.scalars import ScalarError

MOST_VALUES = 50_000
DEEPEST = 16  # levels of nesting; a spec needs at most seven

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

# Messages of the YAML parser, and what they mean at the bench; {opened} is where the broken part began.
_SYNTAX = {
    "did not find expected ',' or ']'": ("the list opened at {opened} goes wrong here", "is a , or ] missing?"),
    "did not find expected ',' or '}'": ("the braces opened at {opened} go wrong here", "is a , or }} missing?"),
    "mapping values are not allowed in this context": (
        "a colon cannot be here",
        "is a colon missing above, or the indentation uneven? Text that holds a colon goes in quotes",
    ),
    "did not find expected '-' indicator": (
        "the list that starts at {opened} breaks off here",
        "each of its entries starts with - in the same column",
    ),
    "found unexpected end of stream": ("the quotes opened here are never closed", ""),
    "found character that cannot start any token": (
        "no value can start with this character",
        "put the text in quotes",
    ),
    "did not find expected key": (
        "this does not fit what is above",
        "is it indented like its neighbours, and every bracket closed once?",
    ),
    "could not find expected ':'": ("a key without its colon", "write it as key: value"),
    "found unknown escape character": (
        "a backslash in double quotes starts a code that does not exist",
        "use single quotes",
    ),
    "block sequence entries are not allowed in this context": (
        "a list with - cannot start on this line",
        "start it on the next line, or write it in [ ]",
    ),
    "did not find expected node content": ("a value is missing in front of this", ""),
    "found a tab character that violates indentation": ("a tab in the indentation", "indent with spaces"),
    "exceeded maximum nesting depth": (f"more than {DEEPEST} levels deep, which no spec needs", ""),
}
_SYNTAX_ELSE = (
    "the file cannot be read as YAML from here on",
    "check colons, brackets, quotes and indentation",
)
_AT_OPENING = {"could not find expected ':'", "found unexpected end of stream"}


class UnparsedError(ScalarError):
    """Text that is not YAML, or more of it than any spec holds, with its place."""

    def __init__(self, message: str, hint: str, mark: Mark) -> None:
        super().__init__(message, hint)
        self.mark = mark


@dataclass(frozen=True)
class Word:
    """A single value; `plain`: written without quotes."""

    mark: Mark
    text: str
    plain: bool
    anchor: str | None
    tag: str | None


@dataclass(frozen=True)
class Repeat:
    """An alias: a value that is written elsewhere."""

    mark: Mark
    anchor: str


@dataclass(frozen=True)
class Items:
    mark: Mark
    items: tuple[Node, ...]
    anchor: str | None
    tag: str | None


@dataclass(frozen=True)
class Pairs:
    """Keys with values; `braces`: written in { }."""

    mark: Mark
    pairs: tuple[tuple[Node, Node], ...]
    braces: bool
    anchor: str | None
    tag: str | None


Node = Word | Repeat | Items | Pairs


def parse(text: str) -> Node | None:
    """The tree of the only document in a text; None if there is none. Raises UnparsedError."""
    try:
        return _document(yaml.parse(text, Loader=_LOADER))
    except yaml.MarkedYAMLError as error:
        raise _unparsed(error) from None
    except yaml.YAMLError:
        raise UnparsedError(*_SYNTAX_ELSE, (1, 1)) from None


def _unparsed(error: yaml.MarkedYAMLError) -> UnparsedError:
    problem = error.problem or ""
    message, hint = _SYNTAX.get(problem, _SYNTAX_ELSE)
    at = error.problem_mark or error.context_mark
    opened = error.context_mark or at
    if at is None or opened is None:
        return UnparsedError(*_SYNTAX_ELSE, (1, 1))
    message = message.format(opened=f"line {opened.line + 1}, column {opened.column + 1}")
    return UnparsedError(message, hint.format(), _mark(opened if problem in _AT_OPENING else at))


def _document(events: Iterator[Any]) -> Node | None:
    root: Node | None = None
    for event in events:
        if isinstance(event, yaml.DocumentStartEvent):
            if root is not None:
                message = "a second document starts here, but a file describes one thing"
                raise UnparsedError(message, "make it a file of its own", _mark(event.start_mark))
            root = _node(next(events), events, count(), 1)
    return root


def _node(event: Any, events: Iterator[Any], counter: Iterator[int], depth: int) -> Node:
    mark = _mark(event.start_mark)
    if depth > DEEPEST:
        raise UnparsedError(f"more than {DEEPEST} levels deep, which no spec needs", "", mark)
    if next(counter) >= MOST_VALUES:
        raise UnparsedError(f"more than {MOST_VALUES} values, which no spec needs", "", mark)
    if isinstance(event, yaml.AliasEvent):
        return Repeat(mark, event.anchor or "")
    if isinstance(event, yaml.ScalarEvent):
        plain = event.style in (None, "")  # the C parser gives "" for a plain value
        return Word(mark, event.value, plain, event.anchor, event.tag)
    children = []
    while not isinstance(child := next(events), (yaml.SequenceEndEvent, yaml.MappingEndEvent)):
        children.append(_node(child, events, counter, depth + 1))
    if isinstance(event, yaml.SequenceStartEvent):
        return Items(mark, tuple(children), event.anchor, event.tag)
    pairs = tuple(zip(children[::2], children[1::2], strict=True))
    return Pairs(mark, pairs, bool(event.flow_style), event.anchor, event.tag)


def _mark(mark: Any) -> Mark:
    return (mark.line + 1, mark.column + 1)
