"""Ctrl-C is never lost, not even where a library catches everything."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any


@contextmanager
def interrupts_noted() -> Iterator[Callable[[], None]]:
    """Ctrl-C interrupts as ever, and is noted: what is handed out raises KeyboardInterrupt where one was pressed.

    A library that catches every exception, as some do while they load, would else have the command go on.
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
    if before is not signal.default_int_handler:  # somebody else's, or not heard at all
        yield raise_if_pressed
        return
    signal.signal(signal.SIGINT, note)
    try:
        yield raise_if_pressed
    finally:
        signal.signal(signal.SIGINT, before)
