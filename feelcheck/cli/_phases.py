"""The name of every phase that takes longer than a moment, on a terminal."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from feelcheck.phases import told_to

__all__ = ["SlowPhases", "slow_phases_named"]

PATIENCE_S = 1.0


class SlowPhases:
    """Says the name of a phase once it has lasted for a while; a quick one passes without a word.

    Parameters
    ----------
    say : callable
        Takes one line, from another thread.
    patience_s : float, s
        How long a phase may last unnamed.
    """

    def __init__(self, say: Callable[[str], None], patience_s: float = PATIENCE_S) -> None:
        self._say, self._patience_s = say, patience_s
        self._timer: threading.Timer | None = None

    def __call__(self, words: str) -> None:
        """Take the next phase; the one before is over."""
        self.over()
        self._timer = threading.Timer(self._patience_s, self._say, [f"{words} ..."])
        self._timer.daemon = True
        self._timer.start()

    def over(self) -> None:
        """Nothing runs any more that needs a name."""
        if self._timer is not None:
            self._timer.cancel()


@contextmanager
def slow_phases_named(say: Callable[[str], None]) -> Iterator[None]:
    """Name slow phases inside the block where somebody watches: where stderr is a terminal.

    Parameters
    ----------
    say : callable
        Takes one line.
    """
    if not sys.stderr.isatty():
        yield
        return
    phases = SlowPhases(say)
    try:
        with told_to(phases):
            yield
    finally:
        phases.over()
