"""Work in spawned child processes: only the parent hears Ctrl-C; children are heard until they answer, then killed.

A child gets plain data, and sends back progress and an answer, or why there is none.
"""

from __future__ import annotations

import ctypes
import errno
import gc
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import Any

Work = tuple[Callable[..., Any], tuple[Any, ...]]  # a function and its arguments, without the last, a report
NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO})  # faults of the disk
KILLED = -9
M_TRIM_THRESHOLD, M_MMAP_MAX = -1, -4  # of malloc.h
A_GIGABYTE = 1 << 30


@dataclass(frozen=True)
class Failure:
    """Why there is no answer. `ended`: the process ended silently; `lacks_library`: it could not load a library."""

    why: str
    ended: bool = False
    lacks_library: bool = False
    error: OSError | None = None  # if a file could not be written or read


@dataclass(eq=False)
class Child:
    """A process that does one work after the other."""

    process: Any
    connection: Connection


def run(work: Work, report: Callable[..., None]) -> Any:
    """The result of some work in its own process, or a Failure. Raises OSError if a file was refused."""
    with closing(talk(work)) as heard:
        for kind, content in heard:
            if kind == "progress":
                report(*content)
            else:
                return answered(content)
    raise AssertionError("the last that is heard is an answer")


def answered(content: Any) -> Any:
    """An answer, or a Failure. Raises OSError if a file was refused."""
    if isinstance(content, Failure) and content.error is not None:
        raise content.error
    return content


def talk(work: Work) -> Generator[tuple[str, Any]]:
    """The messages of a child while it works: any number of ("progress", arguments), then ("answer", the result).

    The child ends with the iteration: close it.
    """
    child = started()
    try:
        failed = give(child, work)
        kind, content = ("progress", None) if failed is None else ("answer", failed)
        while kind == "progress":
            _, kind, content = hear([child])
            yield kind, content
        if failed is not None:
            yield kind, content
    finally:
        end(child)


def started(begins: Callable[[], Any] | None = None) -> Child:
    """A child that waits for work.

    `begins`, a function of a module, is called first. Its result, unless None, is passed to each work as its last
    argument before the report.
    """
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    child = Child(context.Process(target=_child, args=(theirs, begins), daemon=True), ours)
    try:
        _start(child.process)
    except BaseException:
        end(child)
        raise
    theirs.close()
    return child


def give(child: Child, work: Work) -> Failure | None:
    """Give work to an idle child; a Failure if the child has ended."""
    try:
        child.connection.send(work)
    except ConnectionError:
        return _gone(child)
    return None


def hear(children: Sequence[Child]) -> tuple[Child, str, Any]:
    """The next message of any of them, with its kind as in talk; a child that has ended answers with a Failure."""
    ready = wait([handle for child in children for handle in (child.connection, child.process.sentinel)])
    speaking = [child for child in children if child.connection in ready]
    child = [*speaking, *(each for each in children if each.process.sentinel in ready)][0]
    try:
        # on Windows a pipe may stay open when the process at its other end has ended
        if child.connection not in ready and not child.connection.poll():
            raise EOFError
        kind, content = child.connection.recv()
    except (EOFError, ConnectionError):
        return child, "answer", _gone(child)
    return child, kind, content


def end(child: Child) -> None:
    if child.process.pid is not None:
        child.process.kill()
        child.process.join()


def _gone(child: Child) -> Failure:
    child.process.join()
    return Failure(f"its process ended early ({_ending(child.process.exitcode)})", ended=True)


def _ending(code: int | None) -> str:
    return f"exit code {code}{'; it was killed, most often for lack of memory' if code == KILLED else ''}"


def _start(process: Any) -> None:
    """Start a child while Ctrl-C is held back, and with Ctrl-C blocked in the child from its first moment.

    If the start were cut off half way, the child would find nothing and print a traceback.
    """
    if os.name == "posix":
        from multiprocessing import resource_tracker

        resource_tracker.ensure_running()  # if it started later, it would unblock the signal
    with _interrupts_held():
        process.start()


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Ctrl-C is held back until the end of the block; processes started in it never hear it."""
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
    if heard and callable(before):
        before(heard[0], None)  # normally raises KeyboardInterrupt


@contextmanager
def _blocked_for_children() -> Iterator[None]:
    """Processes started in the block start with Ctrl-C blocked (POSIX) or ignored (Windows).

    On Windows the console sends Ctrl-C to every process, and one that is pressed in the block is lost.
    """
    if sys.platform == "win32":
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


def _child(connection: Connection, begins: Callable[[], Any] | None) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears Ctrl-C and kills

    def report(*progress: Any) -> None:
        connection.send(("progress", progress))

    begun: Any = None
    if begins is not None:
        gc.disable()  # what is loaded stays; looking through it again and again takes a seventh of the time
        try:
            begun = begins()
        except Exception as error:  # whatever it is, the parent must get it in one line
            begun = _failure(error)
        gc.freeze()
        gc.enable()
    while True:
        try:
            function, arguments = connection.recv()
        except (EOFError, ConnectionError):  # the parent has no more work, or was stopped before it sent any
            return
        answer = begun
        if not isinstance(begun, Failure):
            try:
                answer = function(*arguments, *(() if begun is None else (begun,)), report)
            except Exception as error:
                answer = _failure(error)
        connection.send(("answer", answer))


def reuse_freed_memory() -> None:
    """From here on this process uses freed memory again, where its C library can be told so (glibc).

    By default large arrays come from the system and go back to it, which clears each page anew: a tenth of the time of
    a picture.
    """
    mallopt = None if os.name == "nt" else getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is not None:
        mallopt(M_MMAP_MAX, 0)
        mallopt(M_TRIM_THRESHOLD, A_GIGABYTE)


def _failure(error: Exception) -> Failure:
    if isinstance(error, OSError) and (error.errno in NO_ROOM or error.filename is not None):
        return Failure(words_of(error), error=OSError(error.errno, error.strerror, error.filename))
    return Failure(words_of(error), lacks_library=isinstance(error, ImportError))


def words_of(error: Exception) -> str:
    """An exception in one line: our own are a sentence already; others are named too."""
    said = " ".join(f"{error}".split())
    is_ours = isinstance(error, RuntimeError) or type(error).__module__.startswith("headergen.")
    return said if is_ours and said else f"{type(error).__name__}: {said}"
