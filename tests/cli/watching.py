"""A `headergen watch` of its own process, and what it serves."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.cli.calls import HEARING, MAIN, ROOT

HANGS = 600  # seconds until a test that waits gives up, however busy the machine is
SPEC = (ROOT / "tests" / "bad_demo" / "ten_troubles.yaml").read_text(encoding="utf-8").replace("../..", ROOT.as_posix())


def save(path: Path, text: str) -> None:
    """At once, as some editors do: what is half written would be looked at on a busy machine."""
    path.with_suffix(".new").write_text(text, encoding="utf-8")
    path.with_suffix(".new").replace(path)


@dataclass(frozen=True, eq=False)
class Watch:
    process: subprocess.Popen[str]
    url: str

    def state(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.get("state"))
        return found

    def get(self, path: str, **headers: str) -> str:
        asked = urllib.request.Request(self.url + path, headers=headers)
        with urllib.request.urlopen(asked, timeout=HANGS) as answer:
            content: bytes = answer.read()
        return content.decode("utf-8")

    def until(self, holds: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        end = time.monotonic() + HANGS
        while not holds(state := self.state()):
            if time.monotonic() > end:
                raise TimeoutError(str(state))
            time.sleep(0.02)
        return state


@contextmanager
def watching(spec: Path) -> Iterator[Watch]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-c", HEARING + MAIN, "watch", str(spec)]
    with subprocess.Popen(
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8"
    ) as process:
        assert process.stdout is not None
        url = process.stdout.readline().split()[2]
        try:
            yield Watch(process, url)
        finally:
            process.kill()
