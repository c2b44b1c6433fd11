"""header_cad.py: a cadquery script that makes the same solids without headergen, with its figures at the top.

It consists of tables of figures and of the functions that turn each shape of part into solids. These functions are
plain text in functions/, because nothing here runs them. A part without a table is named in the script as left out, in
its docstring and beside its figures.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from headergen.model import Header
from headergen.outputs.cad_script.literal import literal, quoted
from headergen.outputs.cad_script.shapes import MERGES, SAID_OF_MERGES, SCRIPTS, ScriptShape, Tables, tables_of

CAD_SCRIPT_FILE = "header_cad.py"
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
    """Write the script of the parts named in `made` to header_cad.py; returns the parts that it cannot make.

    Raises OSError if the file cannot be written.
    """
    text, left_out = cad_script(header, made)
    (folder / CAD_SCRIPT_FILE).write_text(text, encoding="utf-8", newline="\n")
    return left_out


def cad_script(header: Header, made: Collection[str]) -> tuple[str, tuple[str, ...]]:
    """The text of the script, and what it leaves out."""
    tables, job = tables_of(header, made), header.draft.job
    present = [SCRIPTS[shape] for shape in tables.parts]
    head = [
        "import math\nimport sys\n\nimport cadquery as cq",
        *dict.fromkeys(shape.imports for shape in present if shape.imports),
        f"\nTITLE = {quoted(job.title)}\nREVISION, DATE = {quoted(job.revision)}, {quoted(job.date)}",
        f"LEFT_OUT = {literal(list(tables.left_out))}  # parts of header.step that this script does not make",
    ]
    figures = [
        *_figures(tables),
        f"MACHINED = {literal(list(tables.machined))}  # finish; all else is tube and sheet as bought",
    ]
    parts = [_docstring(tables) + "\n".join(head), "\n\n".join(figures)]
    return "\n\n".join([*parts, *_functions(present)]), tables.left_out


def _docstring(tables: Tables) -> str:
    example = next((name for table in tables.parts.values() for name in table), "")
    said = f"LEFT OUT, since no figures say them here: {', '.join(tables.left_out)}.\n" if tables.left_out else ""
    return DOCSTRING.format(example=_plain(example), left_out=_plain(said) or "It has every part of header.step.\n")


def _plain(text: str) -> str:
    """Text that is safe in a docstring."""
    return text.replace("\\", "/").replace('"', "'")


def _figures(tables: Tables) -> Iterator[str]:
    """Each table; that of merges comes before the first one that uses it."""
    merges = tables.merges
    for shape, table in tables.parts.items():
        script = SCRIPTS[shape]
        if merges and MERGES in (script.text, *script.needs):
            yield _table(MERGES, SAID_OF_MERGES, merges)
            merges = {}
        yield _table(script.table, script.said, table)


def _table(name: str, said: str, table: Mapping[str, Any]) -> str:
    return f"# {said}\n{name.upper()} = {{\n{_entries(table)}}}"


def _entries(table: Mapping[str, Any]) -> str:
    """Each part, with each figure on its own line, so that it can be found and changed."""
    said = ""
    for name, figures in table.items():
        said += f"    {quoted(name)}: {{\n"
        said += "".join(
            f"        {quoted(key)}: {literal(value, 8, len(key) + 4)},\n" for key, value in figures.items()
        )
        said += "    },\n"
    return said


def _functions(present: Sequence[ScriptShape]) -> list[str]:
    needed = {text for shape in present for text in (shape.text, *shape.needs)}
    texts = ["plain", *dict.fromkeys(shape.text for shape in SCRIPTS.values() if shape.text in needed)]
    kinds = [f"    ({shape.table.upper()}, {shape.function}),\n" for shape in present]
    end = _text("end") if any(shape.drills for shape in present) else _text("end").replace("    drill(made)\n", "")
    return [*("\n" + _text(text).rstrip() for text in texts), f"\nKINDS = (\n{''.join(kinds)})", "\n" + end]


def _text(name: str) -> str:
    return files("headergen.outputs.cad_script").joinpath("functions", f"{name}.txt").read_text(encoding="utf-8")
