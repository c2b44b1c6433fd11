"""`watch`: a real server and edits of a file."""

from __future__ import annotations

import os
import signal
import socket
import urllib.error
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from headergen.commands.watch import look
from tests.cli.calls import called
from tests.cli.watching import HANGS, SPEC, Watch, save, watching

SHORTER = SPEC.replace("1: [{straight: 420}]", "1: [{straight: 410}]")


@pytest.fixture(scope="module")
def spec(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("watch") / "ten.yaml"
    path.write_text(SPEC, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def watch(spec: Path) -> Iterator[Watch]:
    with watching(spec) as found:
        found.until(lambda state: state["number"] == 1)
        yield found


def test_a_save_is_checked_and_what_changed_is_said(watch: Watch, spec: Path) -> None:
    number = watch.state()["number"]
    save(spec, SHORTER)
    state = watch.until(lambda state: state["number"] == number + 1)
    assert state["complaint"] == ""
    assert "Primary 1 is 10.0 mm shorter: 410.0 mm." in state["figures"]
    assert any(line.startswith("New: Primary 1 misses bore 1") for line in state["figures"])
    assert any("13 errors" in line for line in state["figures"] if line.startswith("The verdict was"))
    page, before = watch.get(""), watch.get("before")
    assert "10.0 mm shorter" in page and f'data-number="{number + 1}"' in page
    assert f'data-number="{number}"' in before and "misses bore 1" not in before
    save(spec, SPEC)
    state = watch.until(lambda state: state["number"] == number + 2)
    assert "Primary 1 is 10.0 mm longer: 420.0 mm." in state["figures"]


def test_half_a_save_is_complained_of_and_leaves_the_last_good_state(watch: Watch, spec: Path) -> None:
    number = watch.state()["number"]
    save(spec, SPEC[: SPEC.index("collectors:")])
    state = watch.until(lambda state: bool(state["complaint"]))
    assert "collectors is missing" in state["complaint"] and state["number"] == number
    assert f'data-number="{number}"' in watch.get("")
    save(spec, SPEC)
    watch.until(lambda state: state["number"] == number + 1 and not state["complaint"])


def test_it_answers_this_machine_alone(watch: Watch) -> None:
    with pytest.raises(urllib.error.HTTPError, match="403"):
        watch.get("state", Host="somewhere.example")
    with pytest.raises(urllib.error.HTTPError, match="404"):
        watch.get("../../etc/passwd")
    port = urlsplit(watch.url).port
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), port)} - {"127.0.0.1", "::1"}
    for address in (each for each in others if not str(each).startswith("127.")):
        with pytest.raises(OSError), socket.create_connection((str(address), port or 0), timeout=2):
            pass


@pytest.mark.skipif(os.name != "posix", reason="sends the signal of Ctrl-C")
def test_an_interrupt_ends_it(tmp_path: Path) -> None:
    path = tmp_path / "ten.yaml"
    path.write_text(SPEC, encoding="utf-8")
    with watching(path) as found:
        found.process.send_signal(signal.SIGINT)  # in the middle of loading or of the first check
        assert found.process.wait(timeout=HANGS) == 130
        assert found.process.stdout is not None
        assert "Traceback" not in found.process.stdout.read()
    assert [each.name for each in tmp_path.iterdir()] == ["ten.yaml"]


@pytest.mark.slow
def test_a_file_is_told_by_its_content(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("one", encoding="utf-8")
    first, when = look([path]), path.stat()
    path.write_text("two", encoding="utf-8")
    os.utime(path, ns=(when.st_atime_ns, when.st_mtime_ns))
    assert look([path]) != first, "of the same size and time, as some disks have it"
    path.write_text("one", encoding="utf-8")
    assert look([path]) == first, "saved anew, and the same"
    path.unlink()
    assert look([path]) != first


@pytest.mark.slow
def test_a_spec_that_is_not_there_is_said_at_once(tmp_path: Path) -> None:
    done = called("watch", tmp_path / "none.yaml")
    assert done.returncode == 2 and "there is no such file" in done.stderr
