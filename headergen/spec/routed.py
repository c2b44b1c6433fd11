"""A spec with the found paths inserted; everything else, including comments, stays as it was written."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

import yaml

from headergen.geometry.frames import frame_from_normal, norm, subtract
from headergen.model import Bend, Draft, Frame, Growth, Step, Straight, Vec
from headergen.spec.keys import end_of_value
from headergen.spec.printed import rounded_length
from headergen.spec.stamp import ROUTED, stamped
from headergen.spec.units import Unit
from headergen.words.numbers import decimal

ANGLE_DIGITS, DIRECTION_DIGITS = 4, 6  # decimals of degrees, and of axes
IN_BRACES = "    "  # indent of a step there: more than that of any key at the top
SAME = 1e-9  # between directions that count as unchanged


def routed_text(text: str, draft: Draft, note: str, anew: Collection[str] = ()) -> str:
    """`text` is the spec as written, `draft` the result for it; `note` (one line) is put at the top.

    Paths are inserted in the place of `find`, and for the runs `anew` in the place of their own path. The top line
    also holds a hash of all that follows, which shows whether the file was changed.
    """
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    assert root is not None, "it has been read as a spec"
    body = text
    for start, end, new in sorted(_changes(root, text, draft, anew), reverse=True):
        body = body[:start] + new + body[end:]
    return stamped(body, ROUTED + note)


def _changes(root: yaml.Node, text: str, draft: Draft, anew: Collection[str]) -> list[tuple[int, int, str]]:
    """Stretches of the text and their replacements: runs marked find, and lists of bores."""
    top = _pairs(root)
    changes = []
    found = {str(run.key): run for run in draft.runs if not run.to_find}
    for name, key, value, in_braces in _runs(top):
        if name in found and (
            "find" in _pairs(value) or value.value == "find" or {name, key.value.strip()} & set(anew)
        ):
            steps = [_step(step, draft.units) for step in found[name].steps]
            changes.append((_in_braces if in_braces else _in_lines)(key, value, text, steps))
    if "collectors" not in top:  # a mirrored bank has those of the other one
        return changes
    owners = {run.name: run.source or run.number for run in draft.runs}
    for key, value in _items(top["collectors"]):
        bores = _pairs(value)["bores"]
        now = next(c for c in draft.collectors if c.name == key.value)
        numbers = [str(owners[bore.run]) for bore in now.bores]
        if any(move.collector == now.name for move in draft.routing.moves):
            changes.append(_plane(_pairs(value)["plane"], text, now.frame, draft.units))
        from_ports = all(isinstance(owners[bore.run], int) for bore in now.bores)
        if from_ports and [each.value for each in bores.value] != numbers:
            new_list = f"[{', '.join(numbers)}]"
            changes.append((bores.start_mark.index, end_of_value(bores, text), new_list))
    return changes


def _runs(top: dict[str, yaml.Node]) -> Iterator[tuple[str, yaml.Node, yaml.Node, bool]]:
    """Start, key and value of each primary, secondary and run, and whether they stand in braces."""
    for listed in ("primaries", "secondaries", "runs"):
        node = top.get(listed)
        for key, value in _items(node) if node is not None else ():
            start = _pairs(value).get("from", key) if listed == "runs" else key
            if start is not None:
                yield start.value.strip(), key, value, bool(getattr(node, "flow_style", False))


def _plane(value: yaml.Node, text: str, frame: Frame, unit: Unit) -> tuple[int, int, str]:
    """A plane in its new place; directions that have not changed stay as written."""
    parts = _pairs(value)
    normal, x = (_direction(parts[key]) if key in parts else None for key in ("normal", "x"))
    origin = f"[{', '.join(rounded_length(each, unit) for each in frame.origin)}]"
    assert normal is not None, "it has been read as a spec"
    was = frame_from_normal((0.0, 0.0, 0.0), normal, x)
    if max(norm(subtract(was.z, frame.z)), norm(subtract(was.x, frame.x))) < SAME:
        return parts["origin"].start_mark.index, end_of_value(parts["origin"], text), origin
    axes = (f"[{', '.join(decimal(each, DIRECTION_DIGITS) for each in axis)}]" for axis in (frame.z, frame.x))
    new = "{{origin: {}, normal: {}, x: {}}}".format(origin, *axes)
    return value.start_mark.index, end_of_value(value, text), new


def _direction(node: yaml.Node) -> Vec:
    x, y, z = (float(each.value) for each in node.value)
    return (x, y, z)


def _in_lines(key: yaml.Node, value: yaml.Node, text: str, steps: list[str]) -> tuple[int, int, str]:
    """A path in the place of a value, one step a line; a comment on the line of the value stays there.

    Comments on lines of their own inside the value go before the path; those behind old steps are removed with them.
    """
    indent = " " * (key.start_mark.column + 2)
    kept = _kept(value, text)
    if isinstance(value, yaml.MappingNode) and not value.flow_style:
        kept = [f"{line}{_comment_after(text, text.index(line, value.start_mark.index) + len(line))}" for line in kept]
    new = [*kept, "path:", *(f"  - {step}" for step in steps)] if kept else [f"- {step}" for step in steps]
    begin, end = key.end_mark.index + 1, end_of_value(value, text)
    comment = _comment_after(text, end)
    new = [*(line.strip() for line in text[begin:end].split("\n") if line.lstrip().startswith("#")), *new]
    return begin, end + len(comment), comment + "".join(f"\n{indent}{line}" for line in new)


def _in_braces(key: yaml.Node, value: yaml.Node, text: str, steps: list[str]) -> tuple[int, int, str]:
    """The same for primaries in braces: still one step a line, each path in its brackets."""
    kept, path = _kept(value, text), "[\n" + ",\n".join(f"{IN_BRACES}{step}" for step in steps) + "]"
    new = f" {{{', '.join([*kept, f'path: {path}'])}}}" if kept else f" {path}"
    return key.end_mark.index + 1, end_of_value(value, text), new


def _kept(value: yaml.Node, text: str) -> list[str]:
    """The other keys of a primary, as written."""
    return [
        text[k.start_mark.index : v.end_mark.index].rstrip()
        for k, v in _items(value)
        if k.value not in ("find", "steps", "path", "points", "radius", "radii")
    ]


def _comment_after(text: str, at: int) -> str:
    """A comment on the rest of the line, with the blanks before it."""
    rest = text[at:].split("\n", 1)[0]
    return rest.rstrip() if rest.lstrip().startswith("#") else ""


def _items(node: yaml.Node) -> list[tuple[yaml.Node, yaml.Node]]:
    return list(node.value) if isinstance(node, yaml.MappingNode) else []


def _pairs(node: yaml.Node) -> dict[str, yaml.Node]:
    return {key.value: value for key, value in _items(node)}


def _step(step: Step, unit: Unit) -> str:
    if isinstance(step, Straight) and step.growth is not None:
        return f"{{step: {_growth(step.length, step.growth, unit)}}}"
    if isinstance(step, Straight):
        return f"{{straight: {rounded_length(step.length, unit)}}}"
    assert isinstance(step, Bend)
    angle, rotation = (decimal(math.degrees(each), ANGLE_DIGITS) for each in (step.angle, step.rotation))
    return f"{{bend: {angle}, radius: {rounded_length(step.radius, unit)}, rotation: {rotation}}}"


def _growth(along: float, growth: Growth, unit: Unit) -> str:
    """A step to a larger tube, as its path has it."""
    sizes = {"outside_diameter": growth.outside_diameter, "wall": growth.wall}
    said = [f"{key}: {rounded_length(value, unit)}" for key, value in sizes.items()]
    said += [f"by: {growth.by}", f"{'overlap' if growth.by == 'slip' else 'length'}: {rounded_length(along, unit)}"]
    if growth.at is not None:
        low, high = (rounded_length(value, unit) for value in growth.at)
        said.append(f"at: {{min: {low}, max: {high}}}")
    return f"{{{', '.join(said)}}}"
