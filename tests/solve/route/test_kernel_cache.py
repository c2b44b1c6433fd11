"""Where compiled kernels are kept: never under a name that another user could have made first."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

WHERE = "import numba, headergen.solve.route.kernels; print(numba.config.CACHE_DIR)"


def folder_with(tmp_path: Path, home: Path, code: str = WHERE) -> list[str]:
    shared = tmp_path / "shared"
    shared.mkdir(exist_ok=True)
    inherited = {key: value for key, value in os.environ.items() if key != "NUMBA_CACHE_DIR"}
    env = inherited | {"XDG_CACHE_HOME": str(home), "LOCALAPPDATA": str(home), "TMPDIR": str(shared)}
    run = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    return run.stdout.split("\n")


@pytest.mark.skipif(sys.platform != "linux", reason="the cache folder is set by XDG_CACHE_HOME here")
@pytest.mark.slow
def test_kernels_are_kept_in_the_users_cache(tmp_path: Path) -> None:
    first, again = (folder_with(tmp_path, tmp_path / "home")[0] for _ in range(2))
    assert first == again and Path(first).is_relative_to(tmp_path / "home" / "headergen")


@pytest.mark.skipif(sys.platform != "linux", reason="the cache folder is set by XDG_CACHE_HOME here")
@pytest.mark.slow
def test_without_a_cache_of_their_own_they_get_a_fresh_private_folder(tmp_path: Path) -> None:
    in_the_way = tmp_path / "plain file"
    in_the_way.write_text("")
    code = f"{WHERE}; import os; print(os.stat(numba.config.CACHE_DIR).st_mode)"
    made = [folder_with(tmp_path, in_the_way, code) for _ in range(2)]
    folders = [Path(lines[0]) for lines in made]
    assert folders[0] != folders[1] and all(folder.parent == tmp_path / "shared" for folder in folders)
    assert all(stat.S_IMODE(int(lines[1])) == 0o700 for lines in made)
    assert not any(folder.exists() for folder in folders), "they go with the run"
