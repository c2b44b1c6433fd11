"""header_cad.py: a cadquery script that makes the same solids without headergen, its figures at its top.

It is put together from tables of figures and from the functions that turn each kind into solids; these stand as plain
text in functions/, since nothing here runs them. A kind of part that has no table here is named in the script as left
out, in its docstring and beside its figures.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any

from headergen.model import Header
from headergen.outputs.cad_script.figures import Tables, tables_of
from headergen.outputs.cad_script.literal import literal, quoted

CAD_SCRIPT_FILE = "header_cad.py"
# table → what stands before it, the functions it needs, and the one that makes a part of its figures
KINDS = {
    "plates": ("What tubes and transitions are welded into. An outline starts at its first place.", "plate"),
    "tubes": (
        "As cut, from the flange on. straight: length; bend: degrees, radius of the centreline, rotation in degrees.",
        "tube",
    ),
    "transitions": ("From the shape of a port to the round of its tube.", "transition"),
    "merges": ("Heights count from the collector plane, along the gas; x points to the first bore.", ""),
    "collectors": ("Sleeves, leaning tubes, cone and outlet, of one merge.", "collector"),
    "spikes": ("The filler in the middle of a merge.", "spike"),
    "outlet_ends": ("A half section of radius and height, turned about the outlet.", "outlet_end"),
    "bosses": ("Square on their tubes; their holes go through the wall too.", "boss"),
    "tabs": ("On edge on their tubes: x along the gas, y out; tube: what the foot is fitted to.", "tab"),
}
MACHINED = ("plates", "outlet_ends", "bosses")  # tables of parts that are machined, not of tube or sheet as bought

DOCSTRING = '''"""The solids of one header as a cadquery script, to be read and changed by hand.

It needs cadquery alone:

    python header_cad.py                  writes header_cad.step
    python header_cad.py other.step       under another name
    import header_cad; header_cad.build()["{example}"]

Lengths are millimetres, angles degrees, axes those of the engine: x forward, y left, z up. A frame is an origin, the
direction of its x and the direction of its z. An outline is a start, then (x, y) for a line to there, or (x, y, x, y)
for an arc through the first place to the second.

{left_out}
Nothing is checked here: after a change the gaps and findings of report.md no longer hold. Change the spec as well, and
let headergen check it, before metal is cut.
"""
'''


def write_cad_script(folder: Path, header: Header, made: Collection[str]) -> tuple[str, ...]:
    """Write the script of the parts named in `made`, in header_cad.py; the parts that it cannot say.

    Raises OSError when the file cannot be written.
    """
    text, left_out = cad_script(header, made)
    (folder / CAD_SCRIPT_FILE).write_text(text, encoding="utf-8", newline="\n")
    return left_out


def cad_script(header: Header, made: Collection[str]) -> tuple[str, tuple[str, ...]]:
    """The text of the script, and what it leaves out."""
    tables = tables_of(header, made)
    present = [kind for kind in KINDS if getattr(tables, kind)]
    job = header.draft.job
    head = [
        "import math\nimport sys\n\nimport cadquery as cq",
        *(["from cadquery.func import loft"] if tables.spikes else []),
        f"\nTITLE = {quoted(job.title)}\nREVISION, DATE = {quoted(job.revision)}, {quoted(job.date)}",
        f"LEFT_OUT = {literal(list(tables.left_out))}  # parts of header.step that this script does not make",
    ]
    figures = [_table(kind, getattr(tables, kind)) for kind in present]
    machined = [name for kind in MACHINED for name in getattr(tables, kind)]
    figures.append(f"MACHINED = {literal(machined)}  # finish; all else is tube and sheet as bought")
    parts = [_docstring(tables, present) + "\n".join(head), "\n\n".join(figures)]
    return "\n\n".join([*parts, *_functions(tables, present)]), tables.left_out


def _docstring(tables: Tables, present: list[str]) -> str:
    example = next((name for kind in present if kind != "merges" for name in getattr(tables, kind)), "")
    said = f"LEFT OUT, since no figures say them here: {', '.join(tables.left_out)}.\n" if tables.left_out else ""
    return DOCSTRING.format(example=_plain(example), left_out=_plain(said) or "It has every part of header.step.\n")


def _plain(text: str) -> str:
    """What may stand in a docstring."""
    return text.replace("\\", "/").replace('"', "'")


def _table(kind: str, table: Mapping[str, Any]) -> str:
    return f"# {KINDS[kind][0]}\n{kind.upper()} = {{\n{_entries(table)}}}"


def _entries(table: Mapping[str, Any]) -> str:
    """Each part, each figure on its own line, so that one can be found and changed."""
    said = ""
    for name, figures in table.items():
        said += f"    {quoted(name)}: {{\n"
        said += "".join(
            f"        {quoted(key)}: {literal(value, 8, len(key) + 4)},\n" for key, value in figures.items()
        )
        said += "    },\n"
    return said


def _functions(tables: Tables, present: list[str]) -> list[str]:
    needed = {"tubes"} | set(present) if "tabs" in present else set(present)
    texts = [_text("plain"), *(_text(kind) for kind in KINDS if kind in needed and kind != "collectors")]
    kinds = [f"    ({kind.upper()}, {KINDS[kind][1]}),\n" for kind in present if kind != "merges"]
    end = _text("end") if tables.bosses else _text("end").replace("    drill(made)\n", "")
    return [*("\n" + text.rstrip() for text in texts), f"\nKINDS = (\n{''.join(kinds)})", "\n" + end]


def _text(name: str) -> str:
    return files("headergen.outputs.cad_script").joinpath("functions", f"{name}.txt").read_text(encoding="utf-8")
