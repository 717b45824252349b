"""Code of other packages while it runs: what takes long is told, and what it prints stays away from the result."""

from __future__ import annotations

import contextlib
import io
import os
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["WAIT_S", "off_the_output", "told_while_running"]

WAIT_S = 2.0
STDOUT = 1
MOST_KEPT = 1000


@contextmanager
def off_the_output() -> Iterator[io.StringIO]:
    """Take what is printed inside the block, by Python or by what a C library or a started program writes past it.

    Yields
    ------
    io.StringIO
        Holds the begin of it after the block.
    """
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        try:
            output = os.dup(STDOUT)
        except OSError:  # a program without an output
            yield printed
            return
        with tempfile.TemporaryFile() as kept:
            (sys.__stdout__ or printed).flush()
            os.dup2(kept.fileno(), STDOUT)
            try:
                yield printed
            finally:
                os.dup2(output, STDOUT)
                os.close(output)
                kept.seek(0)
                printed.write(kept.read(MOST_KEPT).decode(errors="replace"))


@contextmanager
def told_while_running(text: str, tell: Callable[[str], None] | None = None) -> Iterator[None]:
    """Tell one line where the block takes longer than two seconds.

    Parameters
    ----------
    text : str
        The line.
    tell : callable, optional
        Takes it; stderr if not given.
    """
    timer = threading.Timer(WAIT_S, tell or _to_stderr, (text,))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _to_stderr(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
