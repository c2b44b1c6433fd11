"""Work in spawned child processes: started so that Ctrl-C is the parent's alone, heard until they answer, and killed.

A child gets plain data and sends back progress and an answer, or why there is none.
"""

from __future__ import annotations

import errno
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Generator, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import Any

Work = tuple[Callable[..., Any], tuple[Any, ...]]  # a function, and its arguments but the last, which reports progress
NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO})  # the disk's, not the work's
KILLED = -9


@dataclass(frozen=True)
class Failure:
    """Why there is no answer. `ended`: the process went without a word; `lacks_library`: it could not load one."""

    why: str
    ended: bool = False
    lacks_library: bool = False
    error: OSError | None = None  # where a file could not be written or read


def run(work: Work, report: Callable[..., None]) -> Any:
    """The result of some work in a process of its own, or a Failure. Raises OSError where a file was refused."""
    with closing(talk(work)) as heard:
        for kind, content in heard:
            if kind == "progress":
                report(*content)
            elif isinstance(content, Failure) and content.error is not None:
                raise content.error
            else:
                return content
    raise AssertionError("the last that is heard is an answer")


def talk(work: Work) -> Generator[tuple[str, Any]]:
    """What a child says while it works: any number of ("progress", arguments), then ("answer", what came of it).

    The child ends with the iteration: close it.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_child, args=(theirs,), daemon=True)
    try:
        _start(process)
        theirs.close()
        ours.send(work)  # after the start, since it may be large
        kind = "progress"
        while kind == "progress":
            if ours not in wait([ours, process.sentinel]) and not ours.poll():
                raise EOFError  # on Windows a pipe may stay open when the process at its other end is gone
            kind, content = ours.recv()
            yield kind, content
    except (EOFError, ConnectionError):
        process.join()
        yield "answer", Failure(f"its process ended early ({_ending(process.exitcode)})", ended=True)
    finally:
        if process.pid is not None:
            process.kill()
            process.join()


def _ending(code: int | None) -> str:
    return f"exit code {code}{'; it was killed, most often for lack of memory' if code == KILLED else ''}"


def _start(process: Any) -> None:
    """Start a child. Ctrl-C waits for that alone: cut off half way, the child would find nothing and say so in a
    traceback. It never hears it itself, from its first moment on."""
    if os.name == "posix":
        from multiprocessing import resource_tracker

        resource_tracker.ensure_running()  # started later, it would let the signal in again
    with _interrupts_held():
        process.start()


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Ctrl-C is heard after what stands within; processes started there never hear it."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.getsignal(signal.SIGINT)
    if before in (signal.SIG_IGN, None):  # it is not heard at all, as under nohup
        yield
        return
    heard: list[int] = []
    signal.signal(signal.SIGINT, lambda number, _: heard.append(number))
    try:
        with _blocked_for_children():
            yield
    finally:
        signal.signal(signal.SIGINT, before)
    if heard:
        raise KeyboardInterrupt


@contextmanager
def _blocked_for_children() -> Iterator[None]:
    """A process started within starts with Ctrl-C blocked (POSIX) or ignored (Windows: there the console sends it to
    every process, and one that is pressed within is not heard at all)."""
    if sys.platform == "win32":
        import ctypes

        ctypes.windll.kernel32.SetConsoleCtrlHandler(None, True)
        try:
            yield
        finally:
            ctypes.windll.kernel32.SetConsoleCtrlHandler(None, False)
    else:
        mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            yield
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, mask)


def _child(connection: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears Ctrl-C and kills
    try:
        function, arguments = connection.recv()
    except (EOFError, ConnectionError):  # the parent was stopped before it had sent the work
        return

    def report(*progress: Any) -> None:
        connection.send(("progress", progress))

    try:
        answer = function(*arguments, report)
    except Exception as error:  # whatever it is, the parent must hear of it in one line
        answer = _failure(error)
    connection.send(("answer", answer))
    connection.close()


def _failure(error: Exception) -> Failure:
    if isinstance(error, OSError) and (error.errno in NO_ROOM or error.filename is not None):
        return Failure(words_of(error), error=OSError(error.errno, error.strerror, error.filename))
    return Failure(words_of(error), lacks_library=isinstance(error, ImportError))


def words_of(error: Exception) -> str:
    """An exception in one line: our own have a sentence, others are named too."""
    said = " ".join(f"{error}".split())
    is_ours = isinstance(error, RuntimeError) or type(error).__module__.startswith("headergen.")
    return said if is_ours and said else f"{type(error).__name__}: {said}"
