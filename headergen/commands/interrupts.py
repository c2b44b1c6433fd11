"""Ctrl-C is never lost, not even in a library that catches everything."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any


@contextmanager
def interrupts_noted() -> Iterator[Callable[[], None]]:
    """Ctrl-C interrupts as usual, and is noted: the yielded function raises KeyboardInterrupt if it was pressed.

    Otherwise a library that catches every exception, as some do while they load, would let the command go on. Any
    error after Ctrl-C is taken for one: some libraries raise their own in its place.
    """
    heard: list[int] = []

    def note(number: int, frame: Any) -> None:
        heard.append(number)
        signal.default_int_handler(number, frame)

    def raise_if_pressed() -> None:
        if heard:
            raise KeyboardInterrupt

    is_main = threading.current_thread() is threading.main_thread()
    before = signal.getsignal(signal.SIGINT) if is_main else None
    if before is not signal.default_int_handler:  # somebody else's handler, or none at all
        yield raise_if_pressed
        return
    signal.signal(signal.SIGINT, note)
    try:
        yield raise_if_pressed
    except Exception as wrong:
        if heard:
            raise KeyboardInterrupt from wrong
        raise
    finally:
        signal.signal(signal.SIGINT, before)
