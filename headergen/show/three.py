"""three.js, from the installed trimesh, for pages that draw on their own and work offline.

It is not in this repository: it is taken from trimesh's own viewer page when a page is written.
"""

from __future__ import annotations

import re
import zipfile
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path

TRIED_WITH = "trimesh 5.2, whose viewer has three.js r140"
TEMPLATE = "viewer.html.template"
# the script of the viewer page begins with three.js under its licence, followed by a function of its own
THREE_JS = re.compile(
    r"<script>(/\*\*\s*\* @license.*?SPDX-License-Identifier: MIT.*?\*/.*?)\n\(function\(\)\{", re.DOTALL
)
REVISION = re.compile(r'const \w="(\d{2,3})"')


class ViewerError(RuntimeError):
    """The installed trimesh does not have three.js in the expected place."""


def three_js() -> str:
    """The script that defines THREE, with its licence at its head.

    Raises ViewerError if the installed trimesh does not have it where the tested version has it.
    """
    try:
        with zipfile.ZipFile(viewer_archive()) as archive:
            page = archive.read(TEMPLATE).decode("utf-8")
    except (OSError, KeyError, ValueError, zipfile.BadZipFile) as wrong:
        raise ViewerError(_lacks("its viewer page")) from wrong
    found = THREE_JS.search(page)
    if found is None or "THREE" not in found[1] or "</script" in found[1]:
        raise ViewerError(_lacks("three.js"))
    return found[1]


def revision(script: str) -> str:
    """The revision that three.js states. Raises ViewerError if there is none."""
    found = REVISION.search(script)
    if found is None:
        raise ViewerError(_lacks("the revision of three.js"))
    return found[1]


def viewer_archive() -> Path:
    """The file of the installed trimesh's viewer page; found without an import, which takes most of a second."""
    found = find_spec("trimesh")
    folders = (found and found.submodule_search_locations) or ["."]
    return Path(folders[0]) / "resources" / "templates" / "viewer.zip"


def _lacks(what: str) -> str:
    has = f"in the installed trimesh {version('trimesh')}"
    return f"{what} is not where it was {has}; pages were tried with {TRIED_WITH}"
