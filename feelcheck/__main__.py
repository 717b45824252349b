"""Entry point of the command line."""

from __future__ import annotations

import atexit
import gc
import io
import math
import os
import signal
import sys
import time

__all__ = ["main"]

OBJECTS_BEFORE_COLLECTION = 100_000
ONE_PRESS_S = 0.5
"""Signals closer together are one: a key that was hit twice must not cut short what the first one began."""
_ENDING = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


def main() -> None:
    """Run the command line.

    Notes
    -----
    The matrices are small, so a second thread of the linear algebra only spins; importing makes many objects and no
    garbage, so collecting begins later. Both save processor time alone; a number of threads that is set stands.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(OBJECTS_BEFORE_COLLECTION)
    sys.stdout, sys.stderr = sys.stdout or io.StringIO(), sys.stderr or io.StringIO()  # None where they are closed
    try:
        _end_in_order()
        from feelcheck.cli import run

        run()
    except KeyboardInterrupt as stop:
        sys.exit(getattr(stop, "exit_code", 130))
    finally:
        atexit.register(_end_undisturbed)  # the last to be registered is the first to run


def _end_undisturbed() -> None:
    """Let one more Ctrl-C change nothing while the interpreter closes: it takes its handlers away before it is gone."""
    for number in _ENDING:
        signal.signal(number, signal.SIG_IGN)


def _end_in_order() -> None:
    """Let a request to end, or a closed terminal, do what Ctrl-C does; one that is to be ignored stays so (nohup)."""
    last_s = -math.inf

    def interrupt(number: int, _: object) -> None:
        nonlocal last_s
        from feelcheck.errors import Interrupted

        before_s, last_s = last_s, time.monotonic()
        if last_s - before_s > ONE_PRESS_S:
            raise Interrupted(number)

    for number in _ENDING:
        if signal.getsignal(number) in (signal.SIG_DFL, signal.default_int_handler):
            signal.signal(number, interrupt)


if __name__ == "__main__":
    main()
