"""`mesh`: a look at a mesh or scan."""

from __future__ import annotations

from pathlib import Path

import click

from headergen.commands.codes import BROKEN, WRONG_USE
from headergen.commands.group import SPEC, commands
from headergen.commands.say import progress, refuse_name, spec_trouble, stop


@commands.command()
@click.argument("file", type=SPEC)
@click.option("--beside", "spec", type=SPEC, help="Also say how far the mesh is from the header of this spec.")
@click.option("--picture", type=SPEC, help="Also write a picture of it, a PNG.")
def mesh(file: Path, spec: Path | None, picture: Path | None) -> None:
    """Look at a mesh or scan: what FILE holds, whether it closes, how large it is in which unit, where it lies.

    FILE is STL, PLY (points alone too), OBJ, OFF, GLB or 3MF, open or closed, with up to five million triangles. GLB is
    y up, and is turned to z up. A file that was cut off is refused.
    """
    from headergen.pipeline import look
    from headergen.spec.mesh.look import said_of

    if picture is not None:
        refuse_name(picture)
        if not picture.parent.is_dir() or picture.is_dir():
            what = "this is a folder" if picture.is_dir() else f"there is no folder {picture.parent}"
            raise stop(WRONG_USE, f"{picture}: {what}; name a file for the picture in a folder that is there")
        if picture.suffix.lower() != ".png":
            raise stop(WRONG_USE, f"{picture}: the picture is a PNG; give the file the ending .png")
    with spec_trouble():
        seen = look(file, spec)
    click.echo("\n".join(said_of(file, seen)))
    if picture is None:
        return
    from headergen.jobs.outcome import WorkError
    from headergen.jobs.picture import picture_mesh

    with progress() as report:
        try:
            picture_mesh(seen.index, file.name, picture, report)
        except WorkError as wrong:
            raise stop(BROKEN, f"{picture}: {wrong}") from wrong
    click.echo(f"Wrote {picture}.")
