"""Values put into the text of a spec by their keys; everything else, comments included, stays as it was written."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import yaml

from headergen.model.study import SpecChange


class KeyLeadsNowhereError(Exception):
    """A key that the spec does not have and that cannot be put in; `change` is where it was asked for."""

    def __init__(self, change: SpecChange, message: str, hint: str = "") -> None:
        self.change, self.message, self.hint = change, message, hint
        super().__init__(message)


def with_values(text: str, changes: Iterable[SpecChange]) -> str:
    """The text with a value in the place of each key. Raises KeyLeadsNowhereError.

    A key is a row of names with points between them; in a list, a name is that of an item, or its number from 1. What
    is missing at the end of a key is put in.
    """
    for change in changes:
        root = yaml.compose(text, Loader=yaml.SafeLoader)
        assert root is not None, "it has been read as a spec"
        text = _with_value(text, root, change)
    return text


def value_text(value: Any) -> str:
    """A plain value on one line, as YAML."""
    return yaml.safe_dump(value, default_flow_style=True, width=10**6, sort_keys=False).removesuffix("...\n").strip()


def end_of_value(value: yaml.Node, text: str) -> int:
    """The end of a value: the parser includes the comments and blank lines after a block."""
    while isinstance(value, yaml.MappingNode | yaml.SequenceNode) and not value.flow_style and value.value:
        last = value.value[-1]
        value = last[1] if isinstance(last, tuple) else last
    start = value.start_mark.index
    return start + len(text[start : value.end_mark.index].rstrip())


def _with_value(text: str, node: yaml.Node, change: SpecChange) -> str:
    names = change.key.split(".")
    for done, name in enumerate(names):
        member = _member(node, name)
        if member is None:
            return _put_in(text, node, names[done:], change)
        node = member
    return text[: node.start_mark.index] + value_text(change.value) + text[end_of_value(node, text) :]


def _member(node: yaml.Node, name: str) -> yaml.Node | None:
    """The value under a name in a mapping or a list, if there is one."""
    if isinstance(node, yaml.MappingNode):
        return next((value for key, value in node.value if key.value == name), None)
    if not isinstance(node, yaml.SequenceNode):
        return None
    items: list[yaml.Node] = node.value
    for item in items:
        named = _member(item, "name") if isinstance(item, yaml.MappingNode) else None
        if named is not None and named.value == name:
            return item
    number = int(name) if name.isascii() and name.isdigit() else 0
    return items[number - 1] if 0 < number <= len(items) else None


def _put_in(text: str, node: yaml.Node, names: list[str], change: SpecChange) -> str:
    """The text with a key that was missing in a mapping."""
    above = ".".join(change.key.split(".")[: -len(names)]) or "the spec"
    if isinstance(node, yaml.SequenceNode):
        known = [each.value for item in node.value if (each := _member(item, "name")) is not None]
        hint = f"it has {', '.join(known)}" if known else f"it is a list of {len(node.value)}, counted from 1"
        raise KeyLeadsNowhereError(change, f"{above} has no {names[0]}", hint)
    if not isinstance(node, yaml.MappingNode):
        raise KeyLeadsNowhereError(change, f"{above} is a single value in the spec and has no {names[0]}")
    value = change.value
    for name in reversed(names[1:]):
        value = {name: value}
    new = f"{names[0]}: {value_text(value)}"
    if node.flow_style or not node.value:
        at = node.start_mark.index + 1
        return f"{text[:at]}{new}{', ' if node.value else ''}{text[at:]}"
    last_key, last = node.value[-1]
    at = text.find("\n", end_of_value(last, text))
    at = len(text) if at < 0 else at
    return f"{text[:at]}\n{' ' * last_key.start_mark.column}{new}{text[at:]}"
