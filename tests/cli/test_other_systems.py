"""What differs on Windows and can be tried anywhere: names, consoles, how processes are asked for and started."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from headergen.commands.line import commands
from headergen.spec.files import unfit_name
from tests.lots import together

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "headergen"
FILES = sorted(PACKAGE.rglob("*.py"))


def invoke(*arguments: str | Path) -> Result:
    return CliRunner().invoke(commands, [str(argument) for argument in arguments])


def run(*arguments: str | bytes | Path, cwd: Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    code = "from headergen.commands import main; main()"
    return subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
    )


@pytest.mark.parametrize("name", ["con", "AUX", "nul.v2", "com1", "LPT9", "prn ", "Lauf: 2", 'the "second"', "end."])
def test_a_job_gets_a_name_that_every_system_can_have(name: str, tmp_path: Path) -> None:
    assert unfit_name(name)
    done = invoke("init", tmp_path / name)
    assert done.exit_code == 2 and "Windows" in done.stderr and "choose another name" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["conrod", "auxiliary", "my job", "Glaßwort-2", "com10", "v1.2", "nullarbor"])
def test_other_names_are_taken(name: str, tmp_path: Path) -> None:
    assert unfit_name(name) == ""
    assert invoke("init", tmp_path / name).exit_code == 0
    assert (tmp_path / f"{name}.yaml").is_file() or (tmp_path / name).is_file()


def test_names_of_devices_are_refused_wherever_a_file_is_made(tmp_path: Path) -> None:
    text = (ROOT / "specs" / "glasswort_left.yaml").read_text(encoding="utf-8")
    (tmp_path / "aux.yaml").write_text(text, encoding="utf-8")
    for arguments in (
        ("build", tmp_path / "aux.yaml", "--out", tmp_path / "out"),
        ("resolve", ROOT / "specs" / "glasswort_left.yaml", "--to", tmp_path / "con.yaml"),
        ("mesh", ROOT / "shared" / "chassis" / "glasswort_scan.stl", "--picture", tmp_path / "nul.png"),
    ):
        done = invoke(*arguments)
        assert done.exit_code == 2 and "Windows keeps the name" in done.stderr, done.output
    assert [path.name for path in tmp_path.iterdir()] == ["aux.yaml"]


@pytest.mark.slow
def test_a_console_of_another_encoding_gets_utf_8(tmp_path: Path) -> None:
    """Windows starts programs with its own code page on pipes; names and ° must come through whole all the same."""
    text = (ROOT / "specs" / "glasswort_left.yaml").read_text(encoding="utf-8")
    spec = tmp_path / "Ωhm → Łódź.yaml"
    spec.write_text(text.replace("../shared", f"{(ROOT / 'shared').as_posix()}"), encoding="utf-8")
    for encoding in ("cp1252", "cp437", "ascii"):
        done = run("resolve", spec.name, cwd=tmp_path, PYTHONIOENCODING=encoding, PYTHONUTF8="0", LC_ALL="C")
        assert done.returncode == 0, done.stderr.decode()
        assert done.stdout.decode("utf-8").startswith("# yaml-language-server")
        missing = run("check", "Łódź → nowhere.yaml", cwd=tmp_path, PYTHONIOENCODING=encoding, PYTHONUTF8="0")
        assert missing.returncode == 3 and "Łódź → nowhere.yaml" in missing.stderr.decode("utf-8")


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="only there a name may be any bytes")
def test_a_name_that_is_no_text_is_said_as_well_as_can_be(tmp_path: Path) -> None:
    done = run("check", b"caf\xe9.yaml", cwd=tmp_path)
    assert done.returncode == 3 and b"caf" in done.stderr and b"at fault" not in done.stderr


def test_a_routed_file_that_is_no_text_is_not_ours(tmp_path: Path) -> None:
    from headergen.spec.stamp import is_unchanged

    (tmp_path / "a.yaml").write_bytes(b"# routed: \xff\xfe")
    assert not is_unchanged(tmp_path / "a.yaml")


def test_a_file_that_is_held_open_is_named_and_nothing_is_left_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from headergen.commands import say

    def held(self: Path, target: Path) -> None:
        raise PermissionError(13, "The process cannot access the file", str(self), None, str(target))

    monkeypatch.setattr(Path, "replace", held)
    with pytest.raises(PermissionError):
        say.write_whole(tmp_path / "job_routed.yaml", "text")
    assert list(tmp_path.iterdir()) == []


GUARDED = {"pthread_kill": "commands", "pthread_sigmask": "jobs"}  # each beside what is done elsewhere
POSIX_ONLY = {"kill", "killpg", "fork", "forkpty", "getuid", "geteuid", "setsid", "uname", "wait3", "chown"}
POSIX_SIGNALS = {"SIGKILL", "SIGHUP", "SIGALRM", "SIGUSR1", "SIGUSR2", "SIGCHLD", "SIGPIPE", "alarm", "setitimer"}
POSIX_MODULES = {"fcntl", "resource", "pwd", "grp", "termios", "pty"}
# a file without any of these words has nothing to look for, and is not parsed
TOLD_BY = re.compile(rf"\b(os|signal|multiprocessing|open|(read|write)_text|{'|'.join(POSIX_MODULES)})\b")


@together("path", FILES)
def test_nothing_is_used_that_one_system_lacks(path: Path) -> None:
    """`os.kill(pid, 0)`, a look elsewhere, ends the process on Windows; files are read and written as UTF-8."""
    text = path.read_text(encoding="utf-8")
    if not TOLD_BY.search(text):
        return
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = {each.name for each in node.names} | {getattr(node, "module", None)}
            assert not names & POSIX_MODULES, node.lineno
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            foreign = {"os": POSIX_ONLY, "signal": POSIX_SIGNALS}.get(node.value.id, set())
            assert node.attr not in foreign, f"{node.value.id}.{node.attr} in line {node.lineno}"
            if node.value.id == "signal" and node.attr.startswith("pthread"):
                assert GUARDED.get(node.attr) == path.parent.name, node.lineno
            assert (node.value.id, node.attr) != ("multiprocessing", "Process"), (
                "get_context('spawn') is the same everywhere"
            )
        if isinstance(node, ast.Call) and is_text_file(node):
            assert any(keyword.arg == "encoding" for keyword in node.keywords), (
                f"which encoding, in line {node.lineno}?"
            )


def is_text_file(call: ast.Call) -> bool:
    """Path.read_text and its like, Path.open and open; what opens a member of an archive gives bytes."""
    if isinstance(call.func, ast.Attribute) and call.func.attr in ("read_text", "write_text"):
        return True
    first = 0 if isinstance(call.func, ast.Attribute) and call.func.attr == "open" else 1
    if first and not (isinstance(call.func, ast.Name) and call.func.id == "open"):
        return False
    mode = call.args[first] if len(call.args) > first else ast.Constant("r")
    return isinstance(mode, ast.Constant) and "b" not in str(mode.value)


def test_work_is_done_in_processes_that_start_afresh() -> None:
    """The only way that all systems have; a forked child would share what the parent holds."""
    from headergen.jobs.process import run

    sys.modules[__name__].__dict__["here_only"] = True
    found = run((loaded, ("headergen.commands",)), print)
    assert found is False, "the parent has it loaded, a child that starts afresh has not"


def loaded(module: str, _report: object) -> bool:
    return module in sys.modules and "here_only" in globals()
