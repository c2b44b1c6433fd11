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
from collections.abc import Callable, Generator, Iterator, Sequence
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


@dataclass(eq=False)
class Child:
    """A process that does one work after another."""

    process: Any
    connection: Connection


def run(work: Work, report: Callable[..., None]) -> Any:
    """What came of some work in a process of its own, or a Failure. Raises OSError where a file was refused."""
    with closing(talk(work)) as heard:
        for kind, content in heard:
            if kind == "progress":
                report(*content)
            else:
                return answered(content)
    raise AssertionError("the last that is heard is an answer")


def answered(content: Any) -> Any:
    """An answer, or a Failure. Raises OSError where a file was refused."""
    if isinstance(content, Failure) and content.error is not None:
        raise content.error
    return content


def talk(work: Work) -> Generator[tuple[str, Any]]:
    """What a child says while it works: any number of ("progress", arguments), then ("answer", what came of it).

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
    """A child that waits for work. `begins`, a function of a module, is what it does before: what comes of that, if it
    is something, is given to each work as its last argument but the report."""
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
    """Hand a work to a child that has none; a Failure where the child has gone."""
    try:
        child.connection.send(work)
    except ConnectionError:
        return _gone(child)
    return None


def hear(children: Sequence[Child]) -> tuple[Child, str, Any]:
    """The next that any of them says, with its kind as talk has it; one that has gone answers with a Failure."""
    ready = wait([handle for child in children for handle in (child.connection, child.process.sentinel)])
    speaking = [child for child in children if child.connection in ready]
    child = [*speaking, *(each for each in children if each.process.sentinel in ready)][0]
    try:
        # on Windows a pipe may stay open when the process at its other end is gone
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
    if heard and callable(before):
        before(heard[0], None)  # which raises KeyboardInterrupt, as a rule


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


def _child(connection: Connection, begins: Callable[[], Any] | None) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears Ctrl-C and kills

    def report(*progress: Any) -> None:
        connection.send(("progress", progress))

    begun: Any = None
    if begins is not None:
        try:
            begun = begins()
        except Exception as error:  # whatever it is, the parent must hear of it in one line
            begun = _failure(error)
    while True:
        try:
            function, arguments = connection.recv()
        except (EOFError, ConnectionError):  # the parent has no more work, or was stopped before it had sent any
            return
        answer = begun
        if not isinstance(begun, Failure):
            try:
                answer = function(*arguments, *(() if begun is None else (begun,)), report)
            except Exception as error:
                answer = _failure(error)
        connection.send(("answer", answer))


def _failure(error: Exception) -> Failure:
    if isinstance(error, OSError) and (error.errno in NO_ROOM or error.filename is not None):
        return Failure(words_of(error), error=OSError(error.errno, error.strerror, error.filename))
    return Failure(words_of(error), lacks_library=isinstance(error, ImportError))


def words_of(error: Exception) -> str:
    """An exception in one line: our own have a sentence, others are named too."""
    said = " ".join(f"{error}".split())
    is_ours = isinstance(error, RuntimeError) or type(error).__module__.startswith("headergen.")
    return said if is_ours and said else f"{type(error).__name__}: {said}"
