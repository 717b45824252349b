"""Which part of a long piece of work runs now, told to whoever listens.

Analyses say `phase(...)` where a part begins; a host that shows progress listens with `told_to`. Nobody needs to pass
anything on in between, and without a listener nothing happens.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["phase", "told_to"]

_listener: ContextVar[Callable[[str], None] | None] = ContextVar("feelcheck_phase_listener", default=None)


def phase(words: str) -> None:
    """Say what begins now, such as ``"reading alder"``.

    Parameters
    ----------
    words : str
        What begins, lower case, without a stop; empty where what runs now shows itself.
    """
    listener = _listener.get()
    if listener is not None:
        listener(words)


@contextmanager
def told_to(listener: Callable[[str], None]) -> Iterator[None]:
    """Have a listener told of every phase that begins inside the block, in this thread.

    Parameters
    ----------
    listener : callable
        Takes the words of each phase.

    Examples
    --------
    >>> heard = []
    >>> with told_to(heard.append):
    ...     phase("reading alder")
    >>> heard
    ['reading alder']
    """
    token = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(token)
