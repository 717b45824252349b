"""A firmware filter that moves by 1 / 2^k of the distance each report gives itself away by its time constant."""

from __future__ import annotations

import math
from collections.abc import Sequence

from feelcheck.hand.gate_stop.numbers import STEPS_CLOSE, STEPS_KNOWN
from feelcheck.model import Caveat

__all__ = ["recursive_caveat", "recursive_delay_s", "recursive_order", "undecided_u_s"]

ORDERS = range(1, 7)
"""k of y += (x - y) / 2^k; longer ones are not meant for play (common practice, no source)."""


def _tau_reports(k: int) -> float:
    return -1.0 / math.log(1.0 - 2.0**-k)


def recursive_order(taus: Sequence[float], relative_us: Sequence[float]) -> int | None:
    """Return k where all time constants match one filter y += (x - y) / 2^k, else None.

    Parameters
    ----------
    taus : sequence of float, reports
        Time constants of the axes and directions that were measured.
    relative_us : sequence of float
        Their relative standard uncertainties.

    Notes
    -----
    Each report takes 2^-k of what is left, so that exp(-1 / tau) = 1 - 2^-k.

    Examples
    --------
    >>> recursive_order([7.5, 7.46, 7.52, 7.49], [0.01, 0.01, 0.01, 0.01])
    3
    >>> recursive_order([7.5, 9.1, 7.52, 7.49], [0.01, 0.01, 0.01, 0.01]) is None
    True
    """
    if len(taus) < 2 or max(relative_us) > STEPS_KNOWN:
        return None
    return next((k for k in ORDERS if _matches(k, taus, relative_us)), None)


def undecided_u_s(taus: Sequence[float], relative_us: Sequence[float], interval_s: float) -> float:
    """Return the standard uncertainty of a delay where such a filter is not named but not excluded either, s.

    Parameters
    ----------
    taus, relative_us : sequence of float
        As for `recursive_order`.
    interval_s : float, s
        Report interval.

    Examples
    --------
    >>> round(1e3 * undecided_u_s([3.4, 3.5], [0.06, 0.06], 0.001), 3), undecided_u_s([5.0, 5.1], [0.06, 0.06], 0.001)
    (0.238, 0.0)
    """
    return max((recursive_delay_s(k, interval_s)[0] for k in ORDERS if _matches(k, taus, relative_us)), default=0.0)


def _matches(k: int, taus: Sequence[float], relative_us: Sequence[float]) -> bool:
    off = [abs(math.log(tau / _tau_reports(k))) for tau in taus]
    return all(one <= max(STEPS_CLOSE, 2.0 * u) for one, u in zip(off, relative_us, strict=True))


def recursive_delay_s(k: int, interval_s: float) -> tuple[float, float]:
    """Return by how much a match's delay is less than its time constant, and the standard uncertainty of that, s.

    Parameters
    ----------
    k : int
        From `recursive_order`.
    interval_s : float, s
        Report interval.

    Notes
    -----
    The filter delays by 2^k - 1 reports, a sensor's own pole of the same decay by about half a report more. Which of
    them it is cannot be told for sure, so the middle is given and both ends lie within two standard uncertainties.

    Examples
    --------
    >>> less_s, u_s = recursive_delay_s(3, 0.001)
    >>> round(1e3 * less_s, 3), round(1e3 * u_s, 3)
    (0.244, 0.122)
    """
    half_s = 0.5 * (_tau_reports(k) - (2.0**k - 1.0)) * interval_s
    return half_s, 0.5 * half_s


def recursive_caveat(k: int, *, behind_pole: bool = False) -> Caveat:
    """Return the remark that names the filter.

    Parameters
    ----------
    k : int
        How many bits the filter shifts by.
    behind_pole : bool
        Whether a pole lies before the filter.
    """
    matches = "One of two poles in all directions matches" if behind_pole else "All directions match"
    return Caveat(
        code="recursive_filter",
        text=f"{matches} a firmware filter that moves by 1/{2**k} of the distance each report; it delays by "
        f"{2**k - 1} reports, a sensor's own pole of that decay by {_tau_reports(k):.2f}: the value lies between.",
        advice="A bench capture of the sensor tells which of the two it is.",
    )
