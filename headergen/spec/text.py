"""Strict YAML: plain values, and the place of each value and each key.

It reads mappings with plain keys, lists, text, true and false, and numbers as in YAML 1.2, so 1e3 is a number while on,
no and 12.5 in stay text. It refuses everything in YAML that gives a line another meaning than it seems to have: a slip
costs tube.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from headergen.model import Mark, SpecPath
from headergen.spec.complaint import Complaint, SpecError, Trouble, path_text
from headergen.spec.nodes import Items, Node, Pairs, Repeat, UnparsedError, Word, parse
from headergen.spec.scalars import INTEGER, ScalarError, decimal_comma, plain_value

LARGEST = 2_000_000  # bytes
LOOKED_AT = 1_000  # bytes by which text is recognised

_BREAK = re.compile("\r\n|[\r\n\x85\u2028\u2029]")  # the line ends of YAML
_INVISIBLE = re.compile("[^\t\x20-\x7e\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")
_HALF = re.compile(r"[0-9]+( |\Z)")  # the 5 of 1,5 and the 5 mm of 1,5 mm


@dataclass(frozen=True)
class Text:
    """A file as strict YAML: keys are text; a refused value is None, and `complaints` says why."""

    file: str
    lines: tuple[str, ...]
    data: Any
    marks: dict[SpecPath, Mark]
    key_marks: dict[SpecPath, Mark]
    complaints: tuple[Complaint, ...]


def read_text(content: bytes, file: str) -> Text:
    """The plain values of a file. Raises SpecError if it cannot be read as YAML at all."""
    if len(content) > LARGEST:
        message = f"the file has {len(content)} bytes; no spec needs more than {LARGEST}"
        raise SpecError([Complaint(file, 1, 1, "", message)])
    text = _decoded(content, file)
    lines = tuple(_BREAK.split(text))
    if unreadable := list(_unreadable_characters(lines)):
        raise SpecError(_complaint(file, lines, mark, trouble) for mark, trouble in unreadable)
    try:
        root = parse(text)
    except UnparsedError as error:
        trouble = Trouble((), error.message, error.hint)
        raise SpecError([_complaint(file, lines, error.mark, trouble)]) from None
    if root is None or (isinstance(root, Word) and root.text == ""):
        trouble = Trouble((), "the file is empty", "`headergen init NAME` writes a spec to start from")
        raise SpecError([_complaint(file, lines, (1, 1), trouble)])
    walk = _Walk()
    data = walk.value(root, ())
    complaints = tuple(_complaint(file, lines, mark, trouble) for mark, trouble in walk.slips)
    return Text(file, lines, data, walk.marks, walk.key_marks, complaints)


def complaint_at(text: Text, trouble: Trouble) -> Complaint:
    """A trouble as a complaint; if its path is not in the file, the nearest place above it counts."""
    path = trouble.path
    marks = text.key_marks if trouble.on_key else text.marks
    while path and path not in text.marks:
        path = path[:-1]
    mark = marks.get(path) or text.marks.get(path) or (1, 1)
    return _complaint(text.file, text.lines, mark, trouble)


def _complaint(file: str, lines: tuple[str, ...], mark: Mark, trouble: Trouble) -> Complaint:
    line, column = mark
    if line > len(lines) or (line == len(lines) > 1 and not lines[-1]):  # past the end: the last line with text
        line = max((number for number, text in enumerate(lines, 1) if text.strip()), default=1)
        column = len(lines[line - 1]) + 1
    path = path_text(trouble.path)
    return Complaint(file, line, column, path, trouble.message, lines[line - 1], trouble.hint)


def _decoded(content: bytes, file: str) -> str:
    if _is_utf_16(content):
        message, hint = "the file is UTF-16 text, with two bytes for each character", "save it with the encoding UTF-8"
        raise SpecError([Complaint(file, 1, 1, "", message, hint=hint)])
    start = content[:LOOKED_AT]
    if start.count(0) * 20 > len(start):  # a single one is reported with its place
        hint = "a spec is a text file; a mesh is named in it, or looked at by headergen mesh"
        raise SpecError([Complaint(file, None, None, "", "the file is not text", hint=hint)])
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8", "replace").removeprefix("\ufeff")
        lines = _BREAK.split(before)
        rest = _BREAK.split(content[error.start : error.start + 200].decode("utf-8", "replace"))[0]
        message, hint = "this character is not UTF-8 text", "save the file with the encoding UTF-8"
        place = (len(lines), len(lines[-1]) + 1)
        raise SpecError([Complaint(file, *place, "", message, lines[-1] + rest, hint)]) from None


def _is_utf_16(content: bytes) -> bool:
    """Whether a file is UTF-16: by the mark at its start, or by every other byte of the first line being 0."""
    start = content[:64]
    empty = [len(half) > 1 and not any(half) for half in (start[0::2], start[1::2])]
    return start[:2] in (b"\xff\xfe", b"\xfe\xff") or empty[0] != empty[1]


def _unreadable_characters(lines: tuple[str, ...]) -> Iterator[tuple[Mark, Trouble]]:
    for number, line in enumerate(lines, 1):
        indent = line[: len(line) - len(line.lstrip())]
        if "\t" in indent and line.strip():
            yield (
                (number, indent.index("\t") + 1),
                Trouble((), "a tab in the indentation", "indent with spaces"),
            )
        if found := _INVISIBLE.search(line):
            message = f"an invisible control character (U+{ord(found[0]):04X})"
            yield (number, found.start() + 1), Trouble((), message, "delete it")


@dataclass
class _Walk:
    """One pass over the nodes that collects values, places and refusals."""

    marks: dict[SpecPath, Mark] = field(default_factory=dict)
    key_marks: dict[SpecPath, Mark] = field(default_factory=dict)
    slips: list[tuple[Mark, Trouble]] = field(default_factory=list)

    def refuse(self, mark: Mark, path: SpecPath, message: str, hint: str = "") -> None:
        self.slips.append((mark, Trouble(path, message, hint)))

    def value(self, node: Node, path: SpecPath) -> Any:
        """The plain value of a node; None if it is refused."""
        self.marks[path] = node.mark
        if isinstance(node, Repeat):
            self.refuse(node.mark, path, f"*{node.anchor} repeats another value", "write the value out")
            return None
        if node.anchor is not None:
            self.refuse(node.mark, path, f"&{node.anchor} gives the value a second name", "leave it out")
        if node.tag is not None:
            tag = node.tag.replace("tag:yaml.org,2002:", "!!")
            self.refuse(node.mark, path, f"{tag} changes what the value means", "leave it out")
            return None
        if isinstance(node, Items):
            return [self.value(item, (*path, index)) for index, item in enumerate(node.items)]
        if isinstance(node, Pairs):
            return self.mapping(node, path)
        return self.word(node, path)

    def word(self, word: Word, path: SpecPath) -> str | int | float | bool | None:
        if not word.plain:
            return word.text
        if word.text in ("", "~", "null", "Null", "NULL"):
            named = path and isinstance(path[-1], str)
            message = f"{path[-1]} has no value" if named else "a value is missing"
            mark = self.key_marks[path] if named else word.mark
            self.refuse(mark, path, message, "give it a value or take it out")
            return None
        try:
            return plain_value(word.text)
        except ScalarError as refused:
            self.refuse(word.mark, path, refused.message, refused.hint)
            return None

    def mapping(self, node: Pairs, path: SpecPath) -> dict[str, Any]:
        values: dict[str, Any] = {}
        before: tuple[str, Node] | None = None
        for key, value in node.pairs:
            if not isinstance(key, Word) or key.text in ("", "<<") or key.tag or key.anchor:
                self.refuse(key.mark, path, *_bad_key(key))
                continue
            if node.braces and before and _is_half(before[1], key, value):
                name, whole = before
                refused = decimal_comma(f"{whole.text},{key.text}" if isinstance(whole, Word) else key.text)
                self.refuse(whole.mark, (*path, name), refused.message, refused.hint)
                values[name] = None
                continue
            before = (key.text, value)
            at = (*path, key.text)
            if key.text in values:
                first = self.key_marks[at][0]
                self.refuse(key.mark, at, f"{key.text} is given twice; the first is in line {first}")
                continue
            self.key_marks[at] = key.mark
            values[key.text] = self.value(value, at)
        return values


def _is_half(whole: Node, key: Node, value: Node) -> bool:
    """`{straight: 1,5}` is parsed as straight: 1 and a 5 without a value."""
    if not (isinstance(whole, Word) and isinstance(key, Word) and isinstance(value, Word)):
        return False
    plain = whole.plain and key.plain and value.plain
    return plain and not value.text and bool(INTEGER.match(whole.text) and _HALF.match(key.text))


def _bad_key(key: Node) -> tuple[str, str]:
    if isinstance(key, Word) and key.text == "<<":
        return "<< merges other values in", "write the values out"
    if isinstance(key, Word) and not key.text:
        return "a key is missing in front of the colon", ""
    return "a key must be a single word or number, without signs of YAML's own", ""
