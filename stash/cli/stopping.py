"""Ctrl-C as a wish to stop thinking: the best so far is still said; a second one ends the program."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stoppable() -> Iterator[Callable[[], bool]]:
    """Yield a question: did somebody press Ctrl-C?

    Outside the main thread nobody can; the answer stays no.
    """
    asked = threading.Event()

    def told(_signal: int, _frame: FrameType | None) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()

    if threading.current_thread() is not threading.main_thread():
        yield asked.is_set
        return
    before = signal.signal(signal.SIGINT, told)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)
