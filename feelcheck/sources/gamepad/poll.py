"""The polling loop: both ends of every instant's bracket, and the calm that it needs."""

from __future__ import annotations

import ctypes
import gc
import sys
import time
from collections.abc import Callable, Iterator
from typing import TypeVar

__all__ = ["LOOPS", "LOW_POWER_SLEEP_S", "brackets", "quieten"]

T = TypeVar("T")
LOW_POWER_SLEEP_S = 50e-6
_QUICK_NS = 400_000
"""News that come closer together than this are not slept over: a report of a faster pad would be gone."""

LOOPS = {False: "busy", True: "low power"}
"""What a session says of the loop, by whether it rests."""
_PR_SET_TIMERSLACK = 29


def brackets(poll: Callable[[], T], *, low_power: bool, since_ns: int | None = None) -> Iterator[tuple[int, int, T]]:
    """Poll for ever; yield ``(t_lo_ns, t_hi_ns, what the poll found)``.

    Parameters
    ----------
    poll : callable
        Looks once.
    low_power : bool
        Whether to rest between polls.
    since_ns : int or None, optional
        Start of the first bracket, ns; now if None.

    Notes
    -----
    What a poll finds happened after the start of the poll before (``t_lo_ns``) and before the end of this one
    (``t_hi_ns``): an error bar that holds on any machine. What the first poll finds happened after `since_ns`, the
    call if it is not given. The busy loop polls as often as it can; the low-power loop sleeps 50 us between polls
    unless news came within 0.4 ms of the news before.
    Stamps are `time.perf_counter_ns`, one clock for all processes of the machine.
    """
    now = time.perf_counter_ns
    before_ns = now() if since_ns is None else since_ns
    heard_ns, rests = before_ns - _QUICK_NS, low_power
    while True:
        start_ns = now()
        found = poll()
        yield before_ns, now(), found
        # What comes while a poll runs may be found by the next one, so that bracket begins where this poll began.
        before_ns = start_ns
        if low_power:
            if found or not rests:
                rests = start_ns - heard_ns >= _QUICK_NS
            if found:
                heard_ns = start_ns
            if rests:
                time.sleep(LOW_POWER_SLEEP_S)


def quieten(*, low_power: bool) -> None:
    """Keep this process from pausing by itself: no garbage collection, and exact short sleeps where the system can.

    Parameters
    ----------
    low_power : bool
        Whether polls are apart by short sleeps.
    """
    gc.collect()
    gc.freeze()
    gc.disable()
    if low_power and sys.platform.startswith("linux"):
        ctypes.CDLL(None).prctl(_PR_SET_TIMERSLACK, 1, 0, 0, 0)
