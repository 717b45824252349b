"""Closing a recording is not cut short: what would end the program waits until the header is on the disk."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["held"]

_ENDING = ("SIGINT", "SIGTERM", "SIGHUP")


@contextmanager
def held() -> Iterator[None]:
    """Let no signal cut short what the block does: a recording that is being closed ends anyway.

    Notes
    -----
    Only the main thread of a program is interrupted by signals; elsewhere nothing is done.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    numbers = [getattr(signal, name) for name in _ENDING if hasattr(signal, name)]
    before = {number: signal.signal(number, signal.SIG_IGN) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)
