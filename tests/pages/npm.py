"""Programs from npm that look at what is made, installed for one test run into a folder of its own."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

PACKAGES = ("axe-core@4", "gltf-validator", "typescript@5", "eslint@9", "@eslint/js@9", "globals@16")


def installed(folder: Path) -> Path:
    """The folder with the packages; a test that needs them is skipped where npm is not installed."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("npm is not installed (Debian: apt-get install npm)")
    quiet = ("--no-save", "--no-audit", "--no-fund", "--loglevel=error")
    subprocess.run([npm, "install", *quiet, "--prefix", str(folder), *PACKAGES], check=True, cwd=folder)
    return folder


def ran(folder: Path, *command: str | Path) -> str:
    """What a program says, of which nothing is expected but that it ends well."""
    done = subprocess.run([str(each) for each in command], cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout
