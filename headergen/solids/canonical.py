"""STEP text (ISO 10303-21) in canonical form: equal solids give equal bytes in any process and folder.

The kernel's own text differs from run to run in its time stamp, in a counter of part occurrences that lives as long as
the process, and in the order of colours. So the header is written anew, entities are ordered by a walk from shapes to
colours, and numbered in this order.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

Tokens = tuple[str, ...]  # of one entity, without white space; references look like "#12"

# §5 and §6 of ISO 10303-21: in a string an apostrophe is doubled; a line may be broken anywhere between tokens
_TOKEN = re.compile(r"'(?:[^']|'')*'|#\d+|;|=|[^'#;=\s]+")
_PRESENTATION = ("MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION", "STYLED_ITEM")
_OCCURRENCE = "NEXT_ASSEMBLY_USAGE_OCCURRENCE"
_STRING = re.compile(r"'(?:[^']|'')*'")
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f]+")


@dataclass(frozen=True)
class Stamp:
    """The header's facts of the file: its name without folder, its time, and the program that wrote it."""

    file_name: str
    time: str
    system: str


def canonical_step(text: str, stamp: Stamp) -> str:
    """`text` with a header from `stamp` and its entities in canonical order, numbered from 1.

    Raises ValueError when `text` is not a STEP file.
    """
    head, mark, data = text.partition("DATA;")
    # lines may be broken inside strings too, where the break has no meaning
    body, end, _ = data.replace("\n", "").rpartition("ENDSEC;")
    if not mark or not end or not head.startswith("ISO-10303-21;"):
        raise ValueError("not a STEP file")
    entities = {number: _without_counter(tokens) for number, tokens in _entities(body)}
    numbers = {old: new for new, old in enumerate(_walk(entities), 1)}
    lines = [f"#{new} = {_written(entities[old], numbers)};" for old, new in numbers.items()]
    return "\n".join([_header(head, stamp), "DATA;", *lines, "ENDSEC;", "END-ISO-10303-21;", ""])


def _entities(body: str) -> Iterator[tuple[int, Tokens]]:
    """Number and tokens of each `#n = …;` in the order of the file."""
    statement: list[str] = []
    for token in _TOKEN.findall(body):
        if token != ";":
            statement.append(token)
            continue
        number, _equals, *tokens = statement
        yield int(number[1:]), tuple(tokens)
        statement = []


def _without_counter(tokens: Tokens) -> Tokens:
    """An occurrence of a part is identified by its name, which is next to the kernel's counter."""
    if tokens[0].startswith(_OCCURRENCE):
        return (tokens[0], tokens[3], *tokens[2:])
    return tokens


def _references(tokens: Tokens) -> list[int]:
    return [int(token[1:]) for token in tokens if token.startswith("#")]


def _walk(entities: Mapping[int, Tokens]) -> list[int]:
    """Entities depth first, from those that nothing refers to: shapes in the order of the file, then colours.

    Colours are in the order of the shapes they belong to; no two have the same shape, so the order is unique.
    """
    used = {number for tokens in entities.values() for number in _references(tokens)}
    roots = [number for number in entities if number not in used]
    colours = [number for number in roots if entities[number][0].startswith(_PRESENTATION)]
    shapes = [number for number in roots if number not in colours]
    order = list(dict.fromkeys(number for root in shapes for number in _below(root, entities)))
    place = {number: index for index, number in enumerate(order)}
    colours.sort(key=lambda root: sorted(place[number] for number in _below(root, entities) if number in place))
    return list(dict.fromkeys([*order, *(number for root in colours for number in _below(root, entities))]))


def _below(root: int, entities: Mapping[int, Tokens]) -> dict[int, None]:
    """`root` and everything it refers to, each once, depth first."""
    found: dict[int, None] = {}
    waiting = [root]
    while waiting:
        number = waiting.pop()
        if number not in found:
            found[number] = None
            waiting.extend(reversed(_references(entities[number])))
    return found


def _written(tokens: Tokens, numbers: Mapping[int, int]) -> str:
    return _in_basic_alphabet("".join(f"#{numbers[int(t[1:])]}" if t.startswith("#") else t for t in tokens))


def _header(head: str, stamp: Stamp) -> str:
    """The three header entities of §8.2; schema and translator are those of the kernel."""
    flat = head.replace("\n", "")
    schema = re.search(r"FILE_SCHEMA\s*\(.*?\);", flat)
    name = re.search(r"FILE_NAME\s*\(.*?\);", flat)
    if schema is None or name is None:
        raise ValueError("a STEP file without name and schema")
    translator = _STRING.findall(name.group())[4]
    return "\n".join(
        [
            "ISO-10303-21;",
            "HEADER;",
            "FILE_DESCRIPTION(('exact solids in millimetres'),'2;1');",
            f"FILE_NAME({_quoted(stamp.file_name)},'{stamp.time}',(''),(''),{translator},'{stamp.system}','');",
            schema.group(),
            "ENDSEC;",
        ]
    )


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace("'", "''")
    return _in_basic_alphabet(f"'{escaped}'")


def _in_basic_alphabet(text: str) -> str:
    """Letters beyond ASCII as hexadecimal runs of 16 or 32 bits (§6.4.3.3), for older readers."""
    return _BEYOND_ASCII.sub(_hexadecimal, text)


def _hexadecimal(run: re.Match[str]) -> str:
    letters = run.group()
    if max(letters) > "\uffff":
        return "\\X4\\" + "".join(f"{ord(letter):08X}" for letter in letters) + "\\X0\\"
    return "\\X2\\" + "".join(f"{ord(letter):04X}" for letter in letters) + "\\X0\\"
