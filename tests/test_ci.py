"""What `.ci/run` asks of the system's packages, with commands that only say that they were called."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

SCRIPT = (Path(__file__).parents[1] / ".ci" / "run").read_text(encoding="utf-8")
INSTALL = SCRIPT[SCRIPT.index("packages=(") : SCRIPT.index("work=$(mktemp")]
BASH = shutil.which("bash")


def installed(folder: Path, has_packages: bool, *commands: str) -> list[str]:
    """What apt-get is asked for on a system with these commands, and with all or none of the packages."""
    log = folder / "log"
    stubs = {"dpkg": f"exit {int(not has_packages)}", "apt-get": f'echo "$@" >> "{log}"'}
    for name in (*stubs, *commands):
        (folder / name).write_text(f"#!{BASH}\n{stubs.get(name, '')}\n", encoding="utf-8")
        (folder / name).chmod(0o755)
    subprocess.run([str(BASH), "-euo", "pipefail", "-c", INSTALL], env={"PATH": str(folder)}, check=True)
    said = log.read_text(encoding="utf-8").splitlines() if log.exists() else []
    assert said[:1] in ([], ["update -qq"])
    return [word for line in said[1:] for word in line.split() if word != "install" and not word.startswith("-")]


@pytest.mark.skipif(BASH is None, reason="bash is not there")
def test_only_what_is_missing_is_installed(tmp_path: Path) -> None:
    """A Node.js that brought its npm along is taken as it is: Debian's npm cannot stand beside it."""
    systems = {"all": (True, "node", "npm"), "bare": (False,), "other node": (False, "node", "npm"), "": (True, "node")}
    asked = {}
    for name, (has_packages, *commands) in systems.items():
        (tmp_path / f"with {name}").mkdir()
        asked[name] = installed(tmp_path / f"with {name}", has_packages, *commands)
    assert asked["all"] == []
    assert {"chromium", "libegl1", "nodejs", "npm"} <= set(asked["bare"])
    assert "chromium" in asked["other node"] and not {"nodejs", "npm"} & set(asked["other node"])
    assert asked[""] == ["npm"], "to the Node.js of Debian, which comes without"
