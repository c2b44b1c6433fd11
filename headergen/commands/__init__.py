"""The commands, one in each file. Only this room prints and chooses exit codes; slow imports come late."""

from __future__ import annotations

import gc
import sys
from typing import Any, NoReturn

from headergen.commands.codes import BROKEN, INTERRUPTED, NOT_LOADED, STOPPED


def main() -> None:
    """The command line as a process, which answers Ctrl-C while its commands are still being imported too."""
    sys.unraisablehook = _hear_again
    gc.set_threshold(100_000)  # a command lives for seconds; collection during imports would cost a tenth of that
    try:
        from headergen.commands.line import run
    except KeyboardInterrupt:
        _end(INTERRUPTED, STOPPED)
    except ImportError as wrong:
        _end(BROKEN, NOT_LOADED.format(wrong))
    run()


def _end(code: int, message: str) -> NoReturn:
    print(message, file=sys.stderr)
    sys.exit(code)


def _hear_again(lost: Any) -> None:
    """A Ctrl-C in a callback of the interpreter itself, as in imports, is printed and lost there."""
    if lost.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(lost)
        return
    import signal
    import threading

    main_thread = threading.main_thread().ident
    again = signal.pthread_kill if hasattr(signal, "pthread_kill") else lambda _, number: signal.raise_signal(number)
    threading.Timer(0.02, again, (main_thread, signal.SIGINT)).start()  # by then the callback is over
